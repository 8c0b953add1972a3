"""Every page under AppTest: what it shows, what its buttons put into the catalogue."""

from __future__ import annotations

import shutil
import tempfile
from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue
from motifs.workflows.table import lay_out_table
from tests.ui.conftest import LOT, OTHER, OTHER_SITE, SITE, press, propose, shown, tray_png, type_new

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from streamlit.testing.v1 import AppTest

    Opener = Callable[..., AppTest]

TRAY_PNG = tray_png()
PAGES = ("lots", "photographs", "sorting_table", "comparanda")
A, B, C = (f"{LOT}-00{number}" for number in (1, 2, 3))


@pytest.mark.parametrize("name", PAGES)
def test_a_page_opens_without_a_collection_and_says_what_to_do(
    name: str, page: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MOTIFS_COLLECTION", str(tmp_path / "none"))
    at = page(name, by=None)
    assert not at.exception
    assert "m-empty" in shown(at)
    assert "m-wrong" not in shown(at)
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize("name", PAGES)
def test_a_page_opens_with_a_collection(name: str, page: Opener, collection: Path) -> None:
    at = page(name)
    assert not at.exception
    assert "m-wrong" not in shown(at)


def test_a_folder_that_is_no_collection_is_told_in_one_line(
    page: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "bad" / "photos").mkdir(parents=True)
    (tmp_path / "bad" / "photos" / "x.jpg").write_bytes(b"x")
    monkeypatch.setenv("MOTIFS_COLLECTION", str(tmp_path / "bad"))
    at = page("lots")
    assert not at.exception
    assert "restore that from a backup" in shown(at)


def test_photographs_come_in(page: Opener, collection: Path, cat: Catalogue, tray: Path) -> None:
    at = page("photographs")
    at.file_uploader[0].set_value([("IMG_0001.jpg", tray.read_bytes(), "image/jpeg")])
    type_new(at, "new_lot", "N-1")
    type_new(at, "new_site", "Ash Ferry")
    at = press(at, "Find the sherds")
    assert not at.exception
    assert "1 photograph in lot N-1: 4 sherds outlined and numbered." in shown(at)
    assert [(lot.name, lot.site, lot.sherds) for lot in cat.lots()][-1] == ("N-1", "Ash Ferry", 4)
    assert cat.history("N-1")[-1].by == "M. Oduya"
    assert "px/mm" in shown(at)


def test_the_same_photograph_twice_says_so(page: Opener, cat: Catalogue, made_once: Path) -> None:
    at = page("photographs")
    before = len(cat.sherds())
    at.file_uploader[0].set_value([("again.jpg", (made_once / "tray_1.jpg").read_bytes(), "image/jpeg")])
    type_new(at, "new_lot", "N-1")
    at = press(at, "Find the sherds")
    assert "already catalogued in lot" in shown(at)
    assert len(cat.sherds()) == before
    assert "N-1" not in [lot.name for lot in cat.lots()]


def test_a_collection_is_made_by_the_first_upload(
    page: Opener, tray: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MOTIFS_COLLECTION", str(tmp_path / "fresh"))
    at = page("photographs")
    at.file_uploader[0].set_value([("a.jpg", tray.read_bytes(), "image/jpeg")])
    type_new(at, "new_lot", "L")
    at = press(at, "Find the sherds")
    assert "4 sherds outlined" in shown(at)
    with Catalogue.open(tmp_path / "fresh") as cat:
        assert len(cat.sherds("L")) == 4


@pytest.mark.parametrize(
    ("files", "lot", "told"),
    [
        ([("a.jpg", b"", "image/jpeg")], "N-1", "a.jpg is empty"),
        ([("a.jpg", b"no image at all", "image/jpeg")], "N-1", "a.jpg"),
        ([], "N-1", "no photograph chosen"),
        ([("a.jpg", b"x", "image/jpeg")], "../up", "holds"),
        ([("a.jpg", b"x", "image/jpeg")], None, "a.jpg"),
        ([("a.png", TRAY_PNG, "image/png")], None, "the lot is missing"),
    ],
)
def test_what_cannot_come_in_is_told_and_changes_nothing(
    files: list[tuple[str, bytes, str]], lot: str | None, told: str, page: Opener, cat: Catalogue
) -> None:
    at = page("photographs")
    before = cat.version()
    at.file_uploader[0].set_value(files)
    if lot is not None:
        type_new(at, "new_lot", lot)
    at = press(at, "Find the sherds")
    assert "m-wrong" in shown(at)
    assert told in shown(at)
    assert tempfile.gettempdir() not in shown(at)
    assert cat.version() == before


def test_without_a_name_nothing_is_put_on_record(page: Opener, cat: Catalogue) -> None:
    at = page("photographs", by=None, lot=LOT)
    before = cat.version()
    at.multiselect(key="outline_choice").set_value([A])
    at = press(at, "Drop")
    assert "your name is missing" in shown(at)
    assert cat.version() == before


def test_an_outline_is_dropped_and_comes_back(page: Opener, cat: Catalogue) -> None:
    at = page("photographs", lot=LOT)
    at.multiselect(key="outline_choice").set_value([A])
    at = press(at, "Drop")
    assert f"Dropped {A}" in shown(at)
    assert A not in [sherd.number for sherd in cat.sherds(LOT)]
    at = press(at, "Undo")
    assert "Taken back" in shown(at)
    assert A in [sherd.number for sherd in cat.sherds(LOT)]


def test_two_outlines_become_one(page: Opener, cat: Catalogue) -> None:
    at = page("photographs", lot=LOT)
    at.multiselect(key="outline_choice").set_value([A, B])
    at = press(at, "Merge")
    assert f"{A} and {B} are one sherd now: {LOT}-009" in shown(at)
    assert cat.sherd(A).merged_into == f"{LOT}-009"
    at = press(at, "Merge")
    assert "at least two" in shown(at)


def test_the_scale_is_set_and_sizes_follow(page: Opener, cat: Catalogue) -> None:
    before = cat.sherd(A).area_mm2 or 0.0
    scale = cat.photo(cat.sherd(A).photo_id).scale
    assert scale is not None
    at = page("photographs", lot=LOT)
    at.number_input(key="typed_px_per_mm").set_value(scale.px_per_mm / 2)
    at = press(at, "Set the scale")
    assert "4 sherds measured again" in shown(at)
    assert cat.sherd(A).area_mm2 == pytest.approx(4 * before, rel=1e-3)


def test_a_photograph_goes_to_another_lot_and_the_lot_to_a_site(page: Opener, cat: Catalogue) -> None:
    at = page("photographs", lot=LOT)
    type_new(at, "other_lot", OTHER)
    at = press(at, "Move the photograph")
    assert f"is in lot {OTHER} now" in shown(at)
    assert len(cat.sherds(OTHER)) == 8
    type_new(at, "lot_site", "Ash Ferry")
    press(at, "Set the site")
    assert cat.lot(OTHER).site == "Ash Ferry"


def test_a_lot_is_sorted_with_a_number_given(page: Opener, cat: Catalogue) -> None:
    at = page("sorting_table", lot=LOT)
    assert "8 sherds, not sorted yet." in shown(at)
    at.selectbox(key="vessels_known").set_value("given").run()
    at.number_input(key="vessels_given").set_value(2)
    at = press(at, "Sort")
    assert f"Lot {LOT} is sorted." in shown(at)
    kept = cat.latest_proposal(LOT, "vessels")
    assert kept is not None
    assert kept.parameters["vessels"] == 2
    assert kept.by == "M. Oduya"


def test_a_sherd_moves_and_a_new_sort_leaves_it(page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4)
    at = page("sorting_table", lot=LOT, sherd=A)
    at.selectbox(key="move_to").set_value("vessel:2")
    at.text_input(key="move_note").set_value("same slip:red on the rim")
    at = press(at, "Move")
    assert f"{A} → Vessel 2. Kept as: same vessel as {B}" in shown(at)
    judged = cat.attributions(LOT)[A]
    assert (judged.vessel, judged.by, judged.note) == ("2", "M. Oduya", "same slip:red on the rim")
    assert [(link.a, link.b, link.relation) for link in cat.links(LOT)] == [(A, B, "same")]
    at = press(at, "Sort")
    assert "is sorted" in shown(at)
    assert cat.attributions(LOT)[A].vessel == "2"
    assert "on the word of M. Oduya" in shown(at)


def test_a_sherd_is_set_aside_and_left_to_the_proposals_again(page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4)
    at = page("sorting_table", lot=LOT, sherd=A)
    at.selectbox(key="move_to").set_value("unassigned")
    at = press(at, "Move")
    assert cat.attributions(LOT)[A].vessel is None
    at = press(at, "Leave to the proposals")
    assert cat.attributions(LOT) == {}
    assert f"{A} is left to the proposals again: Vessel 1" in shown(at)


def test_a_new_vessel_takes_a_name_as_typed(page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4)
    at = page("sorting_table", lot=LOT, sherd=A)
    at.selectbox(key="move_to").set_value("new").run()
    at.text_input(key="new_vessel_name").set_value("jar <1>")
    at = press(at, "Move")
    assert cat.attributions(LOT)[A].vessel == "jar <1>"
    assert "Vessel jar &lt;1&gt;" in shown(at)


@pytest.mark.parametrize(("label", "relation"), [("Same vessel", "same"), ("Different vessels", "different")])
def test_the_question_is_answered(label: str, relation: str, page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4, asked=(0, 2))
    at = page("sorting_table", lot=LOT)
    assert f"Are {A} and {C} of one vessel?" in shown(at)
    at = press(at, label)
    assert [(link.a, link.b, link.relation) for link in cat.links(LOT)] == [(A, C, relation)]
    assert f"Are {A} and {C}" not in shown(at)
    assert "Sort again to use it" in shown(at)
    press(at, "Undo")
    assert cat.links(LOT) == ()


def test_cannot_tell_is_kept_not_asked_again_and_undone(page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4, asked=(0, 2))
    at = press(page("sorting_table", lot=LOT), "Can't tell")
    assert f"Left open: {A} and {C}" in shown(at)
    assert f"Are {A} and {C}" not in shown(at)
    assert [(pair.a, pair.b, pair.by) for pair in cat.open_pairs(LOT)] == [(A, C, "M. Oduya")]
    at = page("sorting_table", lot=LOT)
    assert f"Are {A} and {C}" not in shown(at)
    at = press(at, "Undo")
    assert cat.open_pairs(LOT) == ()
    assert f"Are {A} and {C}" in shown(at)


def test_questions_for_one_walk(page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4, asked=(0, 2))
    at = page("sorting_table", lot=LOT)
    at.radio(key="view").set_value("Questions").run()
    assert "1 question for one walk round the table" in shown(at)
    at = press(at, "Can't tell")
    assert "No question is open." in shown(at)
    at = press(at, "Ask again")
    assert cat.open_pairs(LOT) == ()
    assert "1 question for one walk" in shown(at)


def test_the_map_and_the_counts(page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4)
    at = page("sorting_table", lot=LOT)
    at.radio(key="view").set_value("Map").run()
    assert not at.exception
    assert "m-wrong" not in shown(at)
    at.multiselect(key="map_picked").set_value([A, C]).run()
    assert "2 sherds picked" in shown(at)
    at.selectbox(key="move_to_map").set_value("vessel:2")
    at.text_input(key="move_note_map").set_value("two pastes")
    at = next(button for button in at.button if button.key == "move_button_map").click().run()
    assert {row.vessel for row in cat.attributions(LOT).values()} == {"2"}
    assert sorted(cat.attributions(LOT)) == [A, C]
    at.radio(key="view").set_value("Counts").run()
    assert "sherd families by the evidence, with its range" in shown(at)
    assert "EVE over vessels represented" in shown(at)


def test_two_picked_sherds_are_told_different_and_taken_back(page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4)
    at = page("sorting_table", lot=LOT, sherd=A, beside=B)
    at = press(at, "Different vessels")
    assert [link.relation for link in cat.links(LOT)] == ["different"]
    at = press(at, "Take it back")
    assert cat.links(LOT) == ()
    assert "Taken back: what was said" in shown(at)


def test_what_cannot_hold_together_is_told_in_one_line(page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4)
    with cat.transaction(by="test"):
        cat.attribute(A, "1")
        cat.attribute(B, "1")
    before = cat.version()
    at = press(page("sorting_table", lot=LOT, sherd=A, beside=B), "Different vessels")
    assert "m-wrong" in shown(at)
    assert cat.links(LOT) == ()
    assert [event for event in cat.history(LOT) if event.event_id > before and event.is_undoable] == []


def test_a_vessel_is_accepted(page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4)
    at = press(page("sorting_table", lot=LOT), "Accept this vessel")
    assert "Vessel 1 accepted: 4 sherds put there on your word" in shown(at)
    assert {row.vessel for row in cat.attributions(LOT).values()} == {"1"}
    assert len(cat.attributions(LOT)) == 4
    assert "accepted by M. Oduya on " in shown(at)


def test_a_vessel_is_locked_left_alone_and_unlocked(page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1, 1, 0, 0, 1, 0, 1])
    at = press(page("sorting_table", lot=LOT), "Lock this vessel")
    assert "Vessel 1 locked with 4 sherds" in shown(at)
    held = set(cat.locks(LOT)[0].sherds)
    at = press(at, "Sort")
    assert {sherd.number for sherd in lay_out_table(cat, LOT).vessel("1").sherds} == held
    at = press(at, "Unlock this vessel")
    assert cat.locks(LOT) == ()
    at = press(press(at, "Undo"), "Redo")
    assert "Done again" in shown(at)
    assert cat.locks(LOT) == ()


def test_two_vessels_are_merged(page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4)
    at = press(page("sorting_table", lot=LOT), "Merge")
    assert "→ Vessel 2." in shown(at)
    assert {row.vessel for row in cat.attributions(LOT).values()} == {"2"}
    press(at, "Undo")
    assert cat.attributions(LOT) == {}


def test_an_address_to_what_is_not_there_opens_the_page_anyway(page: Opener, collection: Path) -> None:
    for name in ("photographs", "sorting_table", "comparanda"):
        at = page(name, lot="never", sherd="never-001", beside="x", photo="y")
        assert not at.exception
        assert "m-wrong" not in shown(at)


def test_comparanda_at_other_sites(page: Opener, cat: Catalogue) -> None:
    at = page("comparanda", lot=LOT, sherd=A)
    at.checkbox(key="only_other_sites").check()
    at.number_input(key="at_most").set_value(3)
    at = press(at, "Find comparanda")
    assert "3 of 4 sherds compared" in component_texts(at)
    assert OTHER_SITE in component_texts(at)
    assert SITE not in component_texts(at)


def test_nothing_comparable_is_an_answer(page: Opener, collection: Path) -> None:
    at = page("comparanda", lot=LOT, sherd=A)
    at.slider(key="least_similarity").set_value(1.0)
    at = press(at, "Find comparanda")
    assert f"Nothing comparable to {A}: of 11 sherds compared, none fits" in shown(at)


def test_a_part_of_a_sherd_is_compared(page: Opener, collection: Path) -> None:
    at = page("comparanda", lot=LOT, sherd=A)
    for key, value in (("box_x_px", 80), ("box_y_px", 80), ("box_width_px", 100), ("box_height_px", 90)):
        at.number_input(key=key).set_value(value)
    at = press(at, "Find comparanda")
    assert "(80, 80), 100 × 90 px" in shown(at)
    assert "compared" in component_texts(at)
    at = press(at, "Take the whole sherd")
    assert "The whole sherd is compared." in shown(at)


def test_a_lost_original_is_told_in_one_line(page: Opener, collection: Path) -> None:
    shutil.rmtree(collection / "photos")
    shutil.rmtree(collection / "derived")
    at = page("sorting_table", lot=LOT)
    assert not at.exception
    assert "restore it from a backup" in shown(at)


def component_texts(at: AppTest) -> str:
    """What the components on the page were given, as JSON text."""
    return "\n".join(str(element.proto) for element in at.get("bidi_component"))


def test_what_is_picked_on_the_map_is_tagged_in_one_change(page: Opener, cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4)
    at = page("sorting_table", lot=LOT)
    at.radio(key="view").set_value("Map").run()
    numbers = [sherd.number for sherd in cat.sherds(LOT)][:3]
    at.multiselect(key="map_picked").set_value(numbers).run()
    press(at, "Put on the picked sherds")
    assert "no term is chosen" in shown(at)
    at.selectbox(key="map_tag_term").select_index(0).run()
    press(at, "Put on the picked sherds")
    assert all(len(cat.tags(number)) == 1 for number in numbers)
    press(at, "Undo")
    assert not any(cat.tags(number) for number in numbers)
