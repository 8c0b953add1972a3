"""Outlines corrected by hand in a real browser: what is drawn on the photograph, and the rows it becomes in the catalogue."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import expect
from shapely.geometry import Point, Polygon

from motifs.catalogue import Catalogue
from motifs.imaging import outline_measures
from motifs.workflows.intake import catalogue_photos, read_photos
from tests.browser.board import Board
from tests.browser.lab import ROOT, eventually, go, press, said, settle, type_name
from tests.workflows.tray import tray_image

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

LOT, BY = "5*3*2 cm", "M. Oduya"
A, B, C, D = (f"{LOT}-00{number}" for number in (1, 2, 3, 4))
NEARER = 4
GEOMETRY = (ROOT / "motifs" / "ui" / "components" / "drawing_geometry.js").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def collection(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lot of one photograph of 10 megapixels and one of less than one, in a collection of this module's own."""
    folder = tmp_path_factory.mktemp("corrections")
    small = tray_image(1)
    large = small.resize((small.width * NEARER, small.height * NEARER), Image.Resampling.BICUBIC)
    large.save(folder / "large.jpg", quality=92)
    tray_image(2).save(folder / "small.jpg", quality=95)
    with Catalogue.open(folder / "collection", create=True) as cat:
        photos = read_photos([folder / "large.jpg", folder / "small.jpg"])
        catalogue_photos(cat, photos, lot=LOT, site="slip:red", by="setup")
    return folder / "collection"


@pytest.fixture
def board(tab: Page, address: str, cat: Catalogue) -> Board:
    """The large photograph open, somebody named, nothing chosen; whatever a test does is undone after it by the next."""
    tab.set_viewport_size({"width": 1280, "height": 1000})
    while cat.next_undo(LOT):
        with cat.transaction(by="setup"):
            cat.undo(LOT)
    go(tab, f"{address}/photographs?lot={LOT}")
    tab.locator("g.sherd").first.wait_for()
    type_name(tab, BY)
    return Board(tab, cat)


def area_px(cat: Catalogue, number: str) -> float:
    return outline_measures(cat.sherd(number).outline_px, None).area_px


def test_a_corner_is_dragged_and_keys_take_it_back_and_do_it_again(board: Board, cat: Catalogue) -> None:
    before = cat.sherd(A).outline_px
    board.choose(A)
    board.tool("redraw")
    handle = board.tab.locator(".pending .handle").first
    start = np.array([float(handle.get_attribute(name) or 0) for name in ("cx", "cy")])
    outward = (start - board.middle(A)) * 1.25 + board.middle(A)
    board.drag([start, outward])
    board.snap("corner")
    board.accept(f"{A} is redrawn")
    changed = cat.sherd(A)
    assert changed.outline_by == BY
    assert np.hypot(*(changed.outline_px - outward).T).min() < 4
    far = before[np.hypot(*(before - start).T) > 0.6 * np.ptp(before, axis=0).max()]
    # What lies away from the corner stays as fine as it was found.
    line = Polygon(changed.outline_px).exterior
    assert len(far) > 5
    assert max(line.distance(Point(point)) for point in far) < 0.3
    board.tab.locator(".board").press("z")
    said(board.tab, "Taken back: outline replaced")
    assert eventually(lambda: cat.sherd(A).outline_px.tolist() == before.tolist())
    assert cat.sherd(A).outline_by is None
    board.tab.locator(".board").press("y")
    said(board.tab, "Done again: outline replaced")
    assert eventually(lambda: cat.sherd(A).outline_by == BY)


def test_a_closed_round_is_the_new_outline(board: Board, cat: Catalogue) -> None:
    board.choose(B)
    board.tool("redraw")
    turn = np.linspace(0, 2 * np.pi, 40)
    radius = 0.3 * np.ptp(cat.sherd(B).outline_px, axis=0).min()
    board.drag(board.middle(B) + radius * np.column_stack([np.cos(turn), np.sin(turn)]))
    board.accept(f"{B} is redrawn")
    assert area_px(cat, B) == pytest.approx(math.pi * radius**2, rel=0.02)


def test_a_line_from_outline_to_outline_mends_one_stretch(board: Board, cat: Catalogue) -> None:
    """A wedge is added over the corner on the right; its area by the shoelace formula is what the sherd gains."""
    board.choose(A)
    outline = cat.sherd(A).outline_px
    outline = np.roll(outline, len(outline) // 2 - int(outline[:, 0].argmax()), axis=0)
    corner = outline[len(outline) // 2]
    # Half way to the next corners on both sides: where no corner is taken hold of instead.
    away = np.hypot(*(outline - corner).T)
    first = int(np.abs(away[: len(outline) // 2] - 110).argmin())
    last = len(outline) // 2 + int(np.abs(away[len(outline) // 2 :] - 110).argmin())
    tip, before = corner + np.array([90, 0]), area_px(cat, A)
    board.tool("redraw")
    board.drag([outline[first], tip, outline[last]])
    board.snap("stretch")
    board.accept(f"{A} is redrawn")
    gained = outline_measures(np.vstack([outline[first : last + 1], tip]), None).area_px
    assert area_px(cat, A) - before == pytest.approx(gained, rel=0.1)


def test_a_line_that_ends_nowhere_is_not_taken_for_an_outline(board: Board, cat: Catalogue) -> None:
    """Neither closed nor at the outline: nothing can be accepted, and the board says how to go on."""
    board.choose(B)
    board.tool("redraw")
    version, (x, y) = cat.version(), board.middle(B)
    board.drag([(x - 60, y - 40), (x + 60, y - 40), (x + 60, y + 40)])
    expect(board.tab.locator("[data-ask=accept]")).to_be_disabled()
    board.tab.keyboard.press("Enter")
    assert "end the line where it began" in board.tab.locator(".board .hint").inner_text()
    assert board.tab.locator(".pending .result").count() == 0
    assert cat.version() == version


def test_a_stroke_splits_a_sherd(board: Board, cat: Catalogue) -> None:
    before, (x, y) = area_px(cat, C), board.middle(C)
    reach = np.ptp(cat.sherd(C).outline_px, axis=0)[0] * 0.6
    board.tool("split")
    board.drag([(x - reach, y), (x, y + 20), (x + reach, y)])
    board.snap("stroke")
    board.accept(f"{C} is split")
    new = cat.sherds(LOT)[-1].number
    assert area_px(cat, C) + area_px(cat, new) == pytest.approx(before, rel=1e-3)
    assert {cat.sherd(number).outline_by for number in (C, new)} == {BY}
    expect(board.tab.locator("g.sherd.hand")).to_have_count(2)
    press(board.tab, "Undo")
    said(board.tab, "Taken back: sherd split")
    assert area_px(cat, C) == pytest.approx(before)


@pytest.mark.parametrize(
    ("tool", "line", "told"),
    [
        ("split", [(1.3, 0.4), (0.5, 0.5)], "does not cut"),
        ("add", [(0.2, 0.2), (0.8, 0.8), (0.8, 0.2), (0.2, 0.8)], "crosses itself"),
        ("add", [(0.3, 0.3), (0.7, 0.3), (0.7, 0.7), (0.3, 0.7)], "lies over sherd"),
    ],
)
def test_a_line_that_cannot_be_meant_is_one_sentence_and_changes_nothing(
    tool: str, line: list[tuple[float, float]], told: str, board: Board, cat: Catalogue
) -> None:
    """Lines in shares of the box around a sherd."""
    outline = cat.sherd(D).outline_px
    low, size = outline.min(axis=0), np.ptp(outline, axis=0)
    before = cat.version()
    board.tool(tool)
    for point in low + np.array(line) * size:
        board.tab.mouse.click(*board.spot(point))
    board.tab.keyboard.press("Enter")
    said(board.tab, told)
    notice = board.tab.locator(".m-notice.m-wrong")
    assert notice.count() == 1
    # Whoever has scrolled down to the photograph sees it all the same.
    board.svg.evaluate("svg => svg.scrollIntoView({block: 'start'})")
    board.tab.mouse.wheel(0, 300)
    board.tab.wait_for_timeout(200)
    assert 0 < (notice.bounding_box() or {"y": -1})["y"] < 1000
    assert cat.version() == before
    # The line is still there to be mended or left.
    assert board.tab.locator(".pending .stroke").count() == 1
    board.tab.keyboard.press("Escape")
    assert board.tab.locator(".pending .stroke").count() == 0


def test_a_missed_sherd_is_added_corner_by_corner(board: Board, cat: Catalogue) -> None:
    corners = np.array([[620, 420], [700, 420], [700, 500], [620, 500]]) * NEARER
    board.tool("add")
    for point in [*corners[:3], corners[0] + 40, corners[3]]:
        board.tab.mouse.click(*board.spot(point))
        if (point == corners[0] + 40).all():
            board.tab.keyboard.press("Backspace")
    board.accept("Added: ")
    added = cat.sherds(LOT)[-1]
    assert added.outline_by == BY
    assert area_px(cat, added.number) == pytest.approx((80 * NEARER) ** 2, rel=0.03)
    board.tab.locator(f'g.sherd.chosen[data-sherd="{added.number}"]').wait_for()
    assert f"sherd={added.number}".replace("*", "%2A").replace(" ", "+") in board.tab.url.replace("*", "%2A")


def test_an_arrow_turns_a_sherd_everywhere(board: Board, cat: Catalogue, address: str) -> None:
    board.tool("rim")
    middle = board.middle(D)
    board.drag([middle, middle + np.array([120, 0])])
    board.accept(f"{D} stands rim up")
    assert cat.sherd(D).rim_up_deg == pytest.approx(270, abs=1)
    assert board.tab.locator("g.sherd .arrow").count() == 1
    low, high = cat.sherd(D).outline_px.min(axis=0), cat.sherd(D).outline_px.max(axis=0)
    wide, tall = high - low
    go(board.tab, f"{address}/sorting_table?lot={LOT}")
    tile = board.tab.locator(f'.tile[data-sherd="{D}"] img')
    tile.scroll_into_view_if_needed()
    assert eventually(lambda: bool(tile.evaluate("e => e.naturalWidth")))
    shape = tile.evaluate("e => [e.naturalWidth, e.naturalHeight]")
    margin = 2 * 3.0 * 4.0
    # Turned by a quarter: as wide as it was high. 4 px/mm, 3 mm of margin on each side.
    scale = cat.photo(cat.sherd(D).photo_id).scale
    assert scale is not None
    assert shape[0] == pytest.approx(tall / scale.px_per_mm * 4 + margin, abs=4)
    assert shape[1] == pytest.approx(wide / scale.px_per_mm * 4 + margin, abs=4)


def test_delete_asks_where_people_have_spoken(board: Board, cat: Catalogue) -> None:
    with cat.transaction(by="R. Vance"):
        cat.attribute(B, "jar <1>")
    board.choose(B)
    board.tab.locator(".board").press("Delete")
    board.tab.get_by_text("put to vessel jar <1> by R. Vance").wait_for()
    assert cat.sherd(B).state == "kept"
    board.snap("question")
    press(board.tab, "Drop all the same")
    said(board.tab, f"Dropped {B}")
    assert cat.sherd(B).state == "dropped"


def test_two_are_merged(board: Board, cat: Catalogue) -> None:
    board.choose(A)
    board.choose(B)
    press(board.tab, "Merge")
    said(board.tab, f"{A} and {B} are one sherd now")
    assert cat.sherd(A).merged_into == cat.sherd(B).merged_into == cat.sherds(LOT)[-1].number


def test_a_large_photograph_comes_small_first_and_fine_from_near(board: Board) -> None:
    images = board.svg.locator("image")
    assert images.count() == 3
    detail = board.svg.locator("image.detail")
    assert detail.get_attribute("href") is None
    sizes = [
        int(
            board.tab.request.get(
                str(images.nth(i).evaluate("e => e.href.baseVal && new URL(e.href.baseVal, location).href"))
            ).headers["content-length"]
        )
        for i in (0, 1)
    ]
    assert sizes[0] < 60_000 < sizes[1] < 1_500_000
    for _ in range(3):
        board.tab.locator("[data-ask=nearer]").click()
    assert detail.get_attribute("href")
    near = board.svg.get_attribute("viewBox")
    board.drag([np.array([1800, 1400]), np.array([1500, 1400])])
    moved = board.svg.get_attribute("viewBox")
    assert moved != near
    assert board.tab.locator("g.sherd.chosen").count() == 0  # a drag is no click
    press(board.tab, "Looked over")
    assert board.svg.get_attribute("viewBox") == moved
    board.tab.locator(".board").press("0")
    assert str(board.svg.get_attribute("viewBox")).startswith("-0.5 -0.5 3600")


def test_where_one_was_survives_a_reload(board: Board, cat: Catalogue) -> None:
    board.choose(C)
    board.tab.reload()
    settle(board.tab)
    board.tab.locator(f'g.sherd.chosen[data-sherd="{C}"]').wait_for()
    second = next(sherd for sherd in cat.sherds(LOT) if sherd.photo_name == "small.jpg")
    go(board.tab, f"{board.tab.url.split('?')[0]}?lot={LOT}&sherd={second.number}")
    board.tab.locator(f'g.sherd.chosen[data-sherd="{second.number}"]').wait_for()
    assert board.tab.get_by_text("small.jpg").first.is_visible()


def test_the_board_is_worked_by_keys_alone(board: Board, cat: Catalogue) -> None:
    group = board.tab.locator(f'g.sherd[data-sherd="{A}"]')
    group.press("Enter")
    board.tab.locator(f'g.sherd.chosen[data-sherd="{A}"]').wait_for()
    settle(board.tab)
    root = board.tab.locator(".board")
    for key, tool in zip("12345", ("choose", "redraw", "split", "add", "rim"), strict=True):
        root.press(key)
        expect(board.tab.locator(f"[data-tool={tool}]")).to_have_attribute("aria-pressed", "true")
    before = board.svg.get_attribute("viewBox")
    root.press("+")
    root.press("ArrowRight")
    assert board.svg.get_attribute("viewBox") != before
    root.press("Delete")
    said(board.tab, f"Dropped {A}")
    assert cat.sherd(A).state == "dropped"


@pytest.mark.parametrize("width_px", [1280, 1024])
def test_the_page_fits(width_px: int, board: Board) -> None:
    board.tab.set_viewport_size({"width": width_px, "height": 900})
    board.choose(D)
    board.tool("redraw")
    assert board.tab.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth") <= width_px
    assert all(
        box["height"] >= 24 for button in board.tab.locator(".board button").all() if (box := button.bounding_box())
    )
    board.snap(f"{width_px}")


@pytest.fixture
def reckon(tab: Page) -> Callable[[str], object]:
    """Run an expression with the functions of the board's geometry."""
    return lambda expression: tab.evaluate(f"() => {{ {GEOMETRY}\nreturn {expression}; }}")


SQUARE = "[[0,0],[10,0],[10,10],[0,10]]"


@pytest.mark.parametrize(
    ("expression", "value"),
    [
        (f"isInside([5,5], {SQUARE})", True),
        (f"isInside([15,5], {SQUARE})", False),
        ("lengthOf([[0,0],[3,4],[3,9]])", 10),
        ("lengthOf([])", 0),
        (f"nearest([5,-2], {SQUARE}).distance", 2),
        (f"nearest([-3,-4], {SQUARE}).distance", 5),
        (f"corners({SQUARE}, 1)", [0, 1, 2, 3]),
        ("corners([[0,0],[5,0.1],[10,0],[10,10],[0,10]], 1)", [0, 2, 3, 4]),
        # A dent in the upper side: from (3, 0) over (5, 2) to (7, 0); the rest stays.
        (f"mended({SQUARE}, [[3,0],[5,2],[7,0]])", [[3, 0], [5, 2], [7, 0], [10, 0], [10, 10], [0, 10], [0, 0]]),
        (f"mended({SQUARE}, [[7,0],[5,2],[3,0]])", [[3, 0], [5, 2], [7, 0], [10, 0], [10, 10], [0, 10], [0, 0]]),
        # Half way to the next handle a point goes half as far.
        (
            "moved([[0,0],[5,0],[10,0],[10,10],[0,10]], [0,2,3,4], 1, [2,-2])",
            [[0, 0], [6, -1], [12, -2], [10, 10], [0, 10]],
        ),
    ],
)
def test_the_geometry_of_drawing(expression: str, value: object, reckon: Callable[[str], object]) -> None:
    assert reckon(expression) == value
