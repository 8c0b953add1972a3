"""What pages show, without Streamlit: escaping, words, the wall."""

from __future__ import annotations

import ast
import html
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motifs.catalogue import EventRow, PhotoRow, SherdRow
from motifs.records import CueVote, LightField, Scale
from motifs.ui.presenters import comparanda, figures, photographs, progress, sorting, text, wall
from motifs.workflows.comparanda import Comparanda, Neighbour
from motifs.workflows.intake import TakenPhoto
from motifs.workflows.moves import Moved
from motifs.workflows.pairs import PairReason
from motifs.workflows.sorting import PairQuestion
from motifs.workflows.table import LotTable, TableSherd, TableVessel

UI = Path(__file__).resolve().parents[2] / "motifs" / "ui"
HOSTILE = [
    "slip:red",
    "5*3*2 cm",
    "<b>",
    "$x$",
    "_a_",
    "<script>alert(1)</script>",
    '" onload="x',
    "a & b",
    "[x](y)",
    "# head",
    "`c`",
]


class Reader(HTMLParser):
    """Text and tags as a browser reads them."""

    def __init__(self) -> None:
        super().__init__()
        self.text, self.tags = "", []

    def handle_data(self, data: str) -> None:
        self.text += data

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.tags.append(tag)


def read(markup: str) -> Reader:
    reader = Reader()
    reader.feed(markup)
    reader.close()
    return reader


@given(st.text())
def test_a_text_comes_out_as_it_went_in_and_makes_no_tag(words: str) -> None:
    """Against the standard library's reader of HTML."""
    shown = text.safe(words.replace("\n", " "))
    assert html.unescape(shown) == words.replace("\n", " ")
    assert "<" not in shown


@pytest.mark.parametrize("words", HOSTILE)
def test_every_helper_escapes(words: str) -> None:
    for markup, tags in (
        (text.lines([words]), {"ul", "li"}),
        (text.facts([("name", words)]), {"dl", "dt", "dd"}),
        (text.table(["h"], [[words]], caption="c"), {"div", "table", "caption", "thead", "tbody", "tr", "th", "td"}),
        (text.notice("wrong", words), {"div", "strong"}),
    ):
        reader = read(markup)
        assert words in reader.text
        assert set(reader.tags) <= tags


def test_nothing_is_nothing() -> None:
    assert text.lines([]) == ""
    assert text.facts([("a", None), ("b", "")]) == ""


def test_numbers_with_nouns() -> None:
    assert [text.counted(n, "sherd") for n in (0, 1, 2)] == ["0 sherds", "1 sherd", "2 sherds"]
    assert text.listed(["a"]) == "a"
    assert text.listed(["a", "b", "c"]) == "a, b and c"
    assert text.listed([]) == ""
    assert text.listed(list("abcdefgh"), most=3) == "a, b, c and 5 more"


def test_presenters_know_nothing_of_streamlit() -> None:
    for path in (UI / "presenters").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            module = node.module or "" if isinstance(node, ast.ImportFrom) else ""
            assert not any(name.split(".")[0] == "streamlit" for name in [*names, module]), path.name


def test_catalogue_text_meets_html_only() -> None:
    """No page hands a composed text to what Streamlit reads as Markdown."""
    markdown = {
        "write",
        "markdown",
        "caption",
        "title",
        "header",
        "subheader",
        "error",
        "warning",
        "info",
        "success",
        "metric",
        "toast",
    }
    for path in [*UI.rglob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in markdown:
                owner = node.func.value
                if isinstance(owner, ast.Name) and owner.id == "st":
                    plain = node.args and isinstance(node.args[0], ast.Constant)
                    assert plain or node.func.attr == "title", f"{path.name}:{node.lineno}"


def test_stages_are_words_and_shares() -> None:
    assert progress.stage_words("reading photographs", 0, 3) == "Finding sherds: photograph 1 of 3"
    assert progress.stage_words("reading photographs", 3, 3) == "Finding sherds: photograph 3 of 3"
    assert progress.stage_words("encoding (a_b.c*)", 4, 9) == "Looking at the decoration: 4 of 9 sherds"
    assert "_" not in progress.stage_words("new_stage", 1, 2)
    assert [progress.share_done(d, t) for d, t in ((0, 0), (1, 2), (5, 2), (-1, 2))] == [0.0, 0.5, 1.0, 0.0]


def sherd(number: str = "L-001", **values: object) -> TableSherd:
    plain = TableSherd(number, "0", 0.9, "1", (), (), None, "", False)
    return replace(plain, **values)  # type: ignore[arg-type]


def table(**values: object) -> LotTable:
    plain = LotTable(
        "L",
        (TableVessel("0", (sherd(), sherd("L-002", judged_by="M. O."))),),
        (sherd("L-003", vessel=None, support=0.3),),
        (1, 2),
        (),
        {},
        (),
        True,
    )
    return replace(plain, **values)  # type: ignore[arg-type]


def test_the_wall_has_a_row_a_vessel_and_the_pile_last() -> None:
    built = sorting.table_wall(table(), chosen="L-001")
    assert [row.title for row in built.rows] == ["Vessel 0", "Unassigned"]
    assert [[press.label for press in row.buttons] for row in built.rows] == [["Accept", "Lock"], []]
    assert built.rows[0].note == "2 sherds, 1 on a person's word"
    assert built.rows[0].tiles[1].marks == ("✓ M. O.",)
    assert built.rows[1].tiles[0].marks == ("nearest: Vessel 1",)


def test_an_empty_table_has_an_empty_pile() -> None:
    built = sorting.table_wall(table(vessels=(), unassigned=()))
    assert [len(row.tiles) for row in built.rows] == [0]
    assert built.rows[0].empty


def test_a_vessel_called_unassigned_is_not_the_pile() -> None:
    built = sorting.table_wall(table(vessels=(TableVessel("unassigned", (sherd(vessel="unassigned"),)),)))
    assert [sorting.vessel_of_row(row.key) for row in built.rows] == ["unassigned", None]


def test_the_asked_pair_is_set_apart() -> None:
    built = sorting.table_wall(table(), asked=PairQuestion("L-001", "L-003", "close"))
    assert built.dashed == ("L-001", "L-003")


def test_every_picture_stands_at_one_scale() -> None:
    """Width in mm of each tile is what the browser multiplies by one px/mm; the aspect is the picture's own."""
    pictures = {"L-001": wall.Picture("u", 40.0, 20.0, True), "L-002": wall.Picture("v", 10.0, 30.0, False)}
    drawn = wall.wall_json(sorting.table_wall(table()), pictures)
    tiles = [tile for row in drawn["rows"] for tile in row["tiles"]]
    assert [(tile["width_mm"], tile["height_mm"]) for tile in tiles[:2]] == [(40.0, 20.0), (10.0, 30.0)]
    assert "no scale: size not comparable" not in tiles[0]["marks"]
    assert "no scale: size not comparable" in tiles[1]["marks"]
    assert tiles[2]["url"] is None


def test_support_is_in_the_words_for_readers_of_the_screen() -> None:
    tile = wall.Tile("L-001", ("close",), 0.934, ("mark",))
    assert wall.described(tile) == "sherd L-001, support 0.93, close, mark"


def test_standing_words() -> None:
    assert (
        sorting.standing_words(table())
        == "1 vessel (the evidence allows 1 to 2); 1 of 3 sherds unassigned; 1 on a person's word."
    )
    assert "points to no other number" in sorting.standing_words(table(vessels_range=(1, 1)))
    assert sorting.standing_words(table(vessels_range=None)) == "3 sherds, not sorted yet."


def test_support_words_say_what_holds_it() -> None:
    assert "support 0.90: of 100 sherds with such evidence about 90 lie right" in sorting.support_words(sherd())
    assert "too thin" in sorting.support_words(sherd(vessel=None, support=0.4))
    assert "on the word of M. O." in sorting.support_words(sherd(judged_by="M. O."))
    assert "after the last sort" in sorting.support_words(sherd(vessel=None, support=None, is_new=True))


def test_reasons_are_escaped_and_drawn_by_strength() -> None:
    votes = (CueVote("paste", 8.0, "paste <b>1.2</b> apart: for"), CueVote("line", -1.0, "line: against"))
    markup = sorting.reasons_html(sherd(why=("given to slip:red", *(vote.why for vote in votes)), votes=votes))
    reader = read(markup)
    assert "paste <b>1.2</b> apart" in reader.text
    assert "apart: for" not in reader.text
    assert reader.text.index("Speaks for vessel") < reader.text.index("paste") < reader.text.rindex("Speaks for")
    assert "given to slip:red" in reader.text
    assert "b" not in reader.tags
    assert "width:100%" in markup
    assert "width:12%" in markup  # 1 nat beside 8: bars compare the cues of one list
    alone = sorting.reasons_html(sherd(why=("line: against",), votes=votes[1:]))
    assert "width:25%" in alone  # a weak cue alone stays weak: a full bar is 4 nats at least
    assert "m-against" in markup


def test_a_pair_is_told_by_what_its_cues_speak_for() -> None:
    reasons = (
        PairReason("paint", "paint 26.3 apart (CIEDE2000)", 1.4),
        PairReason("line", "line 1.1 mm against 1.5 mm", -2.0),
        PairReason("paste", "paste 2.4 apart (CIEDE2000)", 0.9),
        PairReason("texture", "grain of the ground alike", 0.1),
    )
    text = read(sorting.pair_html(reasons)).text
    places = [
        text.index(words)
        for words in (
            "Speaks for one vessel",
            "paint 26.3 apart (CIEDE2000), no more than the other cues explain",
            "paste 2.4 apart (CIEDE2000)",
            "Speaks for two vessels",
            "line 1.1 mm against 1.5 mm",
            "Does not tell",
            "grain of the ground alike",
        )
    ]
    assert places == sorted(places)
    assert "2.4 apart (CIEDE2000), no more" not in text
    assert "No cue" in sorting.pair_html(())


def test_a_move_is_told_in_full() -> None:
    moved = Moved(("L-001",), "1", "L-002", None, ("L-009",))
    assert sorting.moved_words(moved) == (
        "L-001 → Vessel 1. Kept as: same vessel as L-002, its surest sherd. Withdrawn: same vessel as L-009."
    )
    assert sorting.moved_words(Moved(("L-001",), None)) == "L-001 → Unassigned."


SHERD = SherdRow(
    "L-001",
    "L",
    "S",
    1,
    "t.jpg",
    np.array([[0, 0], [100, 0], [100, 50]], np.float32),
    1234.0,
    56.4,
    "touches the frame",
    "kept",
    None,
    "k",
    "2026",
)
PHOTO = PhotoRow(
    1,
    "a",
    "t.jpg",
    "L",
    2000,
    1000,
    Scale(8.0, "bar", 0.004),
    LightField(np.ones((1, 1, 3), np.float32), "bar", (60, 0, 0), 1.26),
    2,
    (),
    "2026",
)


def test_scale_light_and_size_in_words() -> None:
    assert photographs.scale_words(PHOTO) == "8.00 px/mm (0.1250 mm/px), from the scale bar, ± 0.4%"
    assert photographs.scale_words(replace(PHOTO, scale=None)).startswith("none: sizes are not known")
    assert (
        photographs.light_words(PHOTO) == "colours set by the whites of the scale bar; backdrop even to 1.3 (CIEDE2000)"
    )
    assert photographs.size_words(SHERD) == "56 mm, 12.3 cm²"
    assert photographs.size_words(replace(SHERD, area_mm2=None)) == "size not known"


def test_an_intake_is_told() -> None:
    fresh = TakenPhoto("a.jpg", 1, "L", 10, 10, 0.1, (), 0, ("no scale bar",), False)
    assert photographs.intake_words([fresh]) == (
        "1 photograph in lot L: 0 sherds outlined and numbered.",
        ["a.jpg: no scale bar"],
    )
    assert photographs.intake_words([replace(fresh, is_known=True)])[0].startswith("Nothing new")


FOUND = Comparanda("L-001", "enc", None, (Neighbour(1, "M-001", "M", None, 0.876),), 5, ())


def test_neighbours_stand_with_rank_site_lot_and_similarity() -> None:
    tile = comparanda.neighbours_wall(FOUND).rows[1].tiles[0]
    assert tile.captions == ("1. site not recorded", "lot M", "similarity 0.88")
    assert comparanda.neighbour_rows(FOUND) == [
        (1, "M-001", "not recorded", "M", "0.876", "not known", "not looked for")
    ]
    assert "none fits what was asked for" in comparanda.nothing_words(replace(FOUND, neighbours=()))
    assert "no other sherd" in comparanda.nothing_words(replace(FOUND, neighbours=(), compared=0))


def test_a_box_in_mm_uses_the_crops_scale() -> None:
    """Crops are at 10 px/mm, so 120 x 90 px are 12 x 9 mm."""
    assert "12 × 9 mm" in comparanda.box_words((5, 6, 120, 90))
    assert comparanda.box_words(None) == "The whole sherd is compared."


def test_pictures_side_by_side_share_one_scale() -> None:
    """Shares of the width go by mm, and the largest side is as asked: 60 mm at 240 px is 4 px/mm, so 30 mm is 120 px."""
    markup = figures.figures_html([figures.Figure("<b>", "u", 60.0, 20.0), figures.Figure("L-2", "v", 30.0, 40.0)], 240)
    assert "flex:60.00 1 0;max-width:240px" in markup
    assert "flex:30.00 1 0;max-width:120px" in markup
    assert "<b>" not in markup
    assert figures.figures_html([], 200) == ""


def event(number: int, change: int, verb: str, subject: str, *, undone: bool = False) -> EventRow:
    return EventRow(number, change, "2026-03-05T14:07:11+00:00", "M. O.", verb, "L", subject, [], [], True, undone)


def test_the_history_tells_a_step_once() -> None:
    events = [event(5, 3, "told same", "L-001, L-002"), *(event(n, 2, "sherd added", f"L-00{n}") for n in (4, 3, 2, 1))]
    assert sorting.history_rows(events, most=9) == [
        ("2026-03-05 14:07 UTC", "M. O.", "told same L-001, L-002", ""),
        ("2026-03-05 14:07 UTC", "M. O.", "sherd added L-001 to L-004 (4)", ""),
    ]
    assert len(sorting.history_rows(events, most=1)) == 1
    assert sorting.history_rows([], most=5) == []
    assert sorting.history_rows([event(1, 1, "attributed", "L-001", undone=True)], most=5)[0][3] == "taken back"
