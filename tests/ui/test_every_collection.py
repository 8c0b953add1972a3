"""Comparanda, sites, catalogue, records, vocabulary, second look and practice: in an empty, a full and a restricted collection."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue
from motifs.workflows.agreement import begin_second_look
from motifs.workflows.comparanda_lists import keep_comparandum
from motifs.workflows.restricting import restrict
from motifs.workflows.tagging import tag_sherds
from tests.ui.conftest import LOT, OTHER, press, shown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from streamlit.testing.v1 import AppTest

    Opener = Callable[..., AppTest]

A, B, C = f"{LOT}-001", f"{LOT}-002", f"{OTHER}-001"
VIEWS: dict[str, tuple[str, dict[str, str]]] = {
    "comparanda": ("", {"": "hooks: 2 of 2 comparanda"}),
    "sites": (
        "sites_view",
        {
            "Motifs": "Unique and shared motifs",
            "Similarity": "Similarity of sites",
            "Order": "Share of each motif at each site",
            "Diversity": "Diversity (vessels",
            "Axes": "Correspondence analysis",
            "Ties": "Ties between sites",
            "Without tags": "Without tags, by",
            "One site": "Motifs at",
        },
    ),
    "tagging": ("sheet_view", {"Pictures": "motif: meander", "Table": "stepped fret", "Plates": "Plate of 8 sherd"}),
    "records": (
        "records_task",
        {
            "One find": "bowl of the hooked kind",
            "Many finds": "finds would change",
            "Take in a table": "Nothing is converted",
            "Write out": "in open formats",
            "Restricted": "0 restrictions in force",
        },
    ),
    "vocabulary": ("", {"": "row of V shapes"}),
    "second_look": ("", {"": "0 of 3 sherds looked at again"}),
    "practice": (
        "practice_view",
        {
            "Sort an exercise": "no exercise in this collection yet",
            "Make an exercise": "",
            "Quiz": "Which motif is on this sherd?",
            "The class": "Nobody practised here yet",
        },
    ),
}
"""What each page can show: the key of the address that says which, and words that a full collection has there."""


@pytest.fixture
def full(cat: Catalogue) -> Catalogue:
    """Tagged, compared, written of, and begun to be looked at again."""
    for number, term in ((A, "meander"), (B, "stepped fret"), (C, "meander")):
        tag_sherds(cat, [number], "motif", term, by="T. Hale")
    keep_comparandum(cat, "hooks", A, C, "the same hook", by="T. Hale")
    keep_comparandum(cat, "hooks", B, C, "the same band", by="T. Hale")
    begin_second_look(cat, "May", "motif", size=3, by="T. Hale")
    with cat.transaction(by="T. Hale"):
        cat.save_record(A, LOT, {"form": "bowl of the hooked kind", "period": "late"})
    return cat


def views(page: Opener, name: str, **address: str) -> Iterator[tuple[str, AppTest]]:
    """A page in each of its views: the first by its address, the others by a click."""
    key, names = VIEWS[name]
    first, *others = names
    at = page(name, **({key: first} if key else {}), **address)
    for view in (first, *others):
        if view != first:
            at.session_state[key] = view
            at.run()
        assert not at.exception, view
        assert "m-wrong" not in shown(at), view
        yield view, at


def everything(at: AppTest) -> str:
    """Whatever a browser is sent: HTML, what components are given, options of lists, texts of fields."""
    listed = [str(option) for box in (*at.selectbox, *at.multiselect) for option in box.options]
    typed = [str(field.value) for field in (*at.text_input, *at.text_area)]
    sent = [str(element.proto) for element in at.get("bidi_component")]
    tables = [frame.value.to_csv() for frame in at.dataframe]
    return "\n".join((shown(at), *listed, *typed, *sent, *tables))


@pytest.mark.parametrize("name", list(VIEWS))
def test_without_any_collection_a_page_says_what_to_do(
    name: str, page: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MOTIFS_COLLECTION", str(tmp_path / "none"))
    at = page(name)
    assert not at.exception
    assert "m-empty" in shown(at)
    assert "m-wrong" not in shown(at)
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize("name", list(VIEWS))
def test_a_collection_without_a_sherd_is_no_dead_end(
    name: str, page: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MOTIFS_COLLECTION", str(tmp_path / "new"))
    Catalogue.open(tmp_path / "new", create=True).close()
    at = page(name)
    assert not at.exception
    assert "m-wrong" not in shown(at)
    assert "m-empty" in shown(at) or name == "vocabulary"


@pytest.mark.parametrize("name", list(VIEWS))
def test_every_view_of_a_full_collection_is_drawn(name: str, page: Opener, full: Catalogue) -> None:
    for view, at in views(page, name, lot=LOT):
        assert VIEWS[name][1][view] in everything(at), view


@pytest.mark.parametrize("name", list(VIEWS))
def test_what_is_restricted_is_on_no_page(name: str, page: Opener, full: Catalogue) -> None:
    restrict(full, "sherd", A, "sacred", note="asked for", by="T. Hale")
    for view, at in views(page, name, lot=LOT):
        sent = everything(at)
        for kept_back in (A, "bowl of the hooked kind", "the same hook"):
            assert kept_back not in sent, view


@pytest.mark.parametrize("name", ["comparanda", "tagging", "records"])
def test_an_address_that_names_a_restricted_sherd_opens_nothing_of_it(name: str, page: Opener, full: Catalogue) -> None:
    restrict(full, "sherd", A, "sacred", by="T. Hale")
    at = page(name, lot=LOT, sherd=A)
    assert not at.exception
    assert "m-figures" not in shown(at) or f"<figcaption>{A}" not in shown(at)
    assert "bowl of the hooked kind" not in everything(at)


def test_a_second_look_goes_past_what_is_restricted(page: Opener, full: Catalogue) -> None:
    restrict(full, "sherd", full.second_look("May").sherds[0], "sacred", by="T. Hale")
    at = page("second_look", by="I. Sato")
    for _ in range(2):
        at = press(at, "Cannot be told")
    assert len([one for one in full.second_answers("May") if one.by == "I. Sato"]) == 2
    assert "Krippendorff" in shown(at)
