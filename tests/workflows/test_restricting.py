"""What is restricted is shown nowhere until it is unlocked with a reason, which goes on record."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image

from motifs.catalogue import Catalogue, SherdFilter
from motifs.errors import InputError, Restricted, UnknownName
from motifs.records import Term
from motifs.workflows import restricting
from motifs.workflows.comparanda import find_comparanda
from motifs.workflows.covered import COVER, photo_to_show
from motifs.workflows.listing import list_sherds
from motifs.workflows.overview import lots_at_a_glance
from motifs.workflows.pictures import crop_jpeg, photo_copies, photo_jpeg
from motifs.workflows.sort import sort_lot
from motifs.workflows.table import lay_out_table

if TYPE_CHECKING:
    from pathlib import Path

PERSON = "M. Oduya"
FIRST, SECOND = "B-03-001", "B-03-002"


def numbers_everywhere(cat: Catalogue) -> dict[str, set[str]]:
    """The sherds that each way of looking at a collection shows."""
    found = find_comparanda(cat, SECOND, top=50, by=PERSON)
    return {
        "sherds": {row.number for row in cat.sherds()},
        "listing": {row.sherd for row in list_sherds(cat)},
        "contact sheet": {line.number for line in cat.sherd_lines(SherdFilter()).lines},
        "neighbours": {SECOND, *(near.sherd for near in found.neighbours)},
        "table": {sherd.number for lot in cat.lots() for sherd in lay_out_table(cat, lot.name).sherds},
        "numbers": {number for lot in cat.lots() for number in cat.sherd_numbers(lot.name)},
        "rims": set(cat.rims()) | {row.number for row in cat.sherds()},
    }


def hide(cat: Catalogue, kind: str, name: str, ground: str = "burial") -> None:
    restricting.restrict(cat, kind, name, ground, by=PERSON)


def test_nothing_restricted_is_the_usual_case(cat: Catalogue) -> None:
    now = restricting.restricted_now(cat)
    assert (now.restrictions, now.withheld) == ((), 0)
    assert len(cat.sherds()) == 12


@pytest.mark.parametrize(
    ("kind", "name", "hidden"),
    [
        ("sherd", FIRST, {FIRST}),
        ("lot", "C-1", {f"C-1-00{n}" for n in range(1, 5)}),
        ("site", "Marl Hill", {f"C-1-00{n}" for n in range(1, 5)}),
        ("motif", "owl", {FIRST, "C-1-002"}),
    ],
)
def test_a_restricted_thing_is_shown_nowhere(cat: Catalogue, kind: str, name: str, hidden: set[str]) -> None:
    with cat.transaction(by=PERSON):
        cat.add_tag(FIRST, "Owl", "motif")
        cat.add_tag("C-1-002", "owl", "motif")
    everybody = {row.number for row in cat.sherds()}
    hide(cat, kind, name)
    assert cat.withheld() == len(hidden)
    for where, shown in numbers_everywhere(cat).items():
        assert shown == everybody - hidden, where
    for number in hidden:
        for look in (cat.sherd, cat.crop, cat.crop_file):
            with pytest.raises(Restricted, match="unlock"):
                look(number)
    assert sum(lot.sherds for lot in lots_at_a_glance(cat)) == len(everybody - hidden)


def test_narrower_motifs_and_synonyms_are_kept_back_too(cat: Catalogue) -> None:
    with cat.transaction(by=PERSON):
        cat.add_terms(
            [Term("motif", "bird", synonyms=("fowl",)), Term("motif", "owl", broader=("bird",), drawing="M0 0L1 1")]
        )
        cat.add_tag(FIRST, "owl", "motif")
        cat.add_tag("B-03-003", "Fowl", "motif")
        cat.add_tag("B-03-004", "scroll", "motif")
    hide(cat, "motif", "bird", "sacred")
    assert {FIRST, "B-03-003"}.isdisjoint(row.number for row in cat.sherds())
    assert "B-03-004" in {row.number for row in cat.sherds()}
    assert cat.terms("motif") == ()
    assert ("motif", "owl") not in cat.tag_counts()


def test_a_lot_that_is_kept_back_is_not_even_named(cat: Catalogue) -> None:
    hide(cat, "site", "Marl Hill")
    assert [lot.name for lot in cat.lots()] == ["B-03"]
    assert [site.name for site in cat.sites()] == ["Kestrel Ford"]
    assert {photo.lot for photo in cat.photos()} == {"B-03"}
    with pytest.raises(Restricted):
        cat.lot("C-1")
    with pytest.raises(Restricted), cat.transaction(by=PERSON):
        cat.ensure_site("Marl Hill")


def test_a_photograph_is_shown_with_the_sherd_covered(cat: Catalogue) -> None:
    sherd = cat.sherd(FIRST)
    photo = cat.photo(sherd.photo_id)
    plain = photo_copies(cat, photo)
    hide(cat, "sherd", FIRST)
    shown = photo_to_show(cat, photo).rgb
    x, y = sherd.outline_px.mean(axis=0).round().astype(int)
    assert tuple(shown[y, x]) == COVER
    for corner_x, corner_y in sherd.outline_px.round().astype(int):
        assert tuple(shown[corner_y, corner_x]) == COVER
    for jpeg in (photo_jpeg(cat, photo), photo_copies(cat, photo).screen):
        picture = np.asarray(Image.open(io.BytesIO(jpeg)))
        assert np.abs(picture[y, x].astype(int) - COVER).max() < 12
    assert photo_copies(cat.seeing_all(), photo) == plain  # a covered copy never takes the place of a whole one
    # Nor does the backdrop of a neighbour's crop show it.
    crop = crop_jpeg(cat, cat.sherd(SECOND))[0]
    assert tuple(np.asarray(Image.open(io.BytesIO(crop)))[0, 0]) == pytest.approx(COVER, abs=6)


def test_a_sort_leaves_it_out_and_still_runs_with_links_to_it(cat: Catalogue) -> None:
    with cat.transaction(by=PERSON):
        cat.tell("B-03", FIRST, SECOND, "same")
    hide(cat, "sherd", FIRST)
    found = sort_lot(cat, "B-03", by=PERSON)
    assert {placed.sherd for placed in found.assignments} == {f"B-03-00{n}" for n in range(2, 9)}
    assert cat.links("B-03") == ()
    assert len(cat.seeing_all().links("B-03")) == 1


def test_unlocking_needs_a_reason_goes_on_record_and_ends_with_who_asked(cat: Catalogue) -> None:
    hide(cat, "sherd", FIRST)
    for reason in ("", "  ", "x"):
        with pytest.raises(InputError, match="reason"), cat.transaction(by="R. Vance"):
            cat.unlock(reason)
    with cat.transaction(by="R. Vance"):
        unlocked = cat.unlock("visit of the community's council")
    assert unlocked.sherd(FIRST).number == FIRST
    assert unlocked.withheld() == 0
    line = next(event for event in cat.history() if "unlocked" in event.verb)
    assert (line.by, line.subject) == ("R. Vance", "visit of the community's council")
    with pytest.raises(Restricted):
        cat.sherd(FIRST)


def test_lifting_needs_a_reason_and_undo_does_not_lift(cat: Catalogue) -> None:
    with cat.transaction(by=PERSON):
        cat.add_tag(SECOND, "scroll", "motif")
    hide(cat, "sherd", FIRST)
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert cat.withheld() == 1
    assert cat.tags(SECOND) == ()
    with pytest.raises(InputError, match="reason"):
        restricting.lift(cat, "sherd", FIRST, reason="", by=PERSON)
    with pytest.raises(UnknownName, match="not restricted"):
        restricting.lift(cat, "sherd", SECOND, reason="a mistake", by=PERSON)
    assert restricting.lift(cat, "sherd", FIRST, reason="asked for by the council", by=PERSON).withheld == 0
    assert cat.sherd(FIRST).number == FIRST


def test_what_cannot_be_restricted_is_refused(cat: Catalogue) -> None:
    hide(cat, "sherd", FIRST)
    for kind, name, ground, error in [
        ("sherd", FIRST, "burial", InputError),
        ("sherd", "nobody", "burial", UnknownName),
        ("site", "nowhere", "burial", UnknownName),
        ("photo", "1", "burial", InputError),
        ("sherd", SECOND, "boring", InputError),
    ]:
        with pytest.raises(error):
            hide(cat, kind, name, ground)
    assert len(cat.restrictions()) == 1


def test_a_photograph_with_a_covered_sherd_is_not_rescaled(cat: Catalogue) -> None:
    photo_id = cat.sherd(FIRST).photo_id
    hide(cat, "sherd", FIRST)
    with pytest.raises(Restricted, match="shows restricted sherds"), cat.transaction(by=PERSON):
        cat.move_photo(photo_id, "C-1")


def test_check_and_repair_still_see_everything(cat: Catalogue, tmp_path: Path) -> None:
    hide(cat, "lot", "B-03")
    key = cat.seeing_all().sherd(FIRST).content_key
    for crop in (cat.derived_folder).rglob(f"{key}*"):
        crop.unlink()
    with cat.transaction(by=PERSON):
        findings = cat.check()
    assert {finding.subject for finding in findings} == {FIRST}
