"""The list as JSON text says what the list as rows says, whatever is kept of a sherd."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue, Measurement, RimReading
from motifs.errors import UnknownName
from motifs.records import Scale
from motifs.workflows.figures import FIGURES, Figure, pack_figures, shown_basis, unpack_figures
from motifs.workflows.listing import list_sherds
from motifs.workflows.listing_text import list_as_json
from tests.load.make import make_collection
from tests.load.shapes import SCALE

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SHERDS = 340


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("listing") / "collection"
    make_collection(folder, SHERDS, seed=3, with_files=False)
    return folder


@pytest.fixture
def cat(made: Path) -> Iterator[Catalogue]:
    with Catalogue.open(made) as opened:
        yield opened


def as_documents(cat: Catalogue, lot: str | None = None) -> list[dict[str, object]]:
    return [
        {
            "sherd": row.sherd,
            "lot": row.lot,
            "site": row.site,
            "photo": row.photo,
            "measurements": row.measurements,
            "tags": [{"term": tag.term, "kind": tag.kind, "by": tag.by} for tag in row.tags],
            "look": row.look,
            "flags": list(row.flags),
        }
        for row in list_sherds(cat, lot)
    ]


def as_texts(cat: Catalogue, lot: str | None = None) -> list[dict[str, object]]:
    return [json.loads(text) for text in list_as_json(cat, lot).documents]


def test_the_two_lists_agree(cat: Catalogue) -> None:
    assert len(as_texts(cat)) == SHERDS
    assert as_texts(cat) == as_documents(cat)
    for lot in cat.lots():
        assert as_texts(cat, lot.name) == as_documents(cat, lot.name)
    with pytest.raises(UnknownName):
        list_as_json(cat, "no such lot")


def test_they_agree_on_what_is_rare(cat: Catalogue) -> None:
    first, second, third, fourth, fifth = (sherd.number for sherd in cat.sherd_heads()[:5])
    photo = cat.sherd_heads()[40].photo_id  # not theirs
    flawed = {
        "blur": Figure(3.5, "px", 0.1),
        "burnt_share": Figure(0.25, "share"),
        "blocked_share": Figure(1e-05, "share"),
        "paste_munsell": Figure([{"chip": "é 5/4", "de": 1.0}], "CIEDE2000"),
    }
    plain = {name: flawed[name] for name in ("blur", "burnt_share", "blocked_share")}
    with cat.transaction(by="Zoë"):
        cat.add_tag(first, "Slipped", "technique")
        cat.add_tag(second, 'ßcroll "x"', "motif")
        cat.record_rim(second, RimReading("chart", diameter_mm=180.0, percent=12.0))
        basis = shown_basis(SCALE)
        older = {"basis": basis, "figures": {"area": [12.5, "mm2", None], "blur": [2.5, "px", 0.1]}}
        cat.save_measurements(
            {
                third: {FIGURES: Measurement(older), "weight_g": Measurement([1, "é"], 0.5)},
                fourth: {FIGURES: pack_figures(flawed, basis)},
                fifth: {FIGURES: pack_figures(plain, basis)},
            }
        )
        # Another scale: figures that rest on the one before are not listed any more.
        cat.set_scale(photo, Scale(9.0, "typed", 0.02), {one.number: (1.0, 2.0) for one in cat.sherds(photo_id=photo)})
    listed = {str(one["sherd"]): one for one in as_texts(cat)}
    assert list(listed.values()) == as_documents(cat)
    assert "slip_colour" in listed[first]["measurements"]
    assert listed[second]["measurements"]["rim_diameter"]["value"] == 180.0
    assert (third, listed[third]["measurements"]["weight_g"]) == (third, {"value": [1, "é"], "unit": None, "sd": 0.5})
    assert all(listed[number]["flags"] for number in (third, fourth, fifth))
    assert list_as_json(cat).unmeasured == len(cat.sherds(photo_id=photo))


def test_lengths_carry_the_uncertainty_of_the_scale(cat: Catalogue) -> None:
    """Independent inputs add in squares (JCGM 100:2008, 5.1.2): of a width w known to s at a scale known to r, s and r w."""
    last = as_texts(cat)[-1]["measurements"]
    width = last["line"]["value"][0]
    assert last["line"]["sd"][0] == pytest.approx(math.sqrt(0.3**2 + (SCALE.relative_sd * width) ** 2), rel=1e-12)
    assert last["paste"]["sd"] == [0.3]


def test_an_empty_collection_is_an_empty_list(tmp_path: Path) -> None:
    with Catalogue.open(tmp_path / "collection", create=True) as empty:
        assert list_as_json(empty).documents == ()
        assert empty.sherd_heads() == ()


def test_figures_come_back_as_they_were(cat: Catalogue) -> None:
    kept = {
        "area": Figure(12.5, "mm2", 0.5),
        "repeat": Figure(None, "mm"),
        "line_width": Figure([1.0, 2.0], "mm", [0.1, 0.2]),
    }
    basis = shown_basis(SCALE)
    assert unpack_figures(pack_figures(kept, basis), basis) == kept
    assert unpack_figures(pack_figures(kept, basis), shown_basis(None)) is None
