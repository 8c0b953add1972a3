"""Every page of a full and of an empty collection: no grave finding of axe-core, nothing cut off at 1024 px or on a tablet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.browser.axe_findings import EXCUSED, findings, grave
from tests.browser.lab import ARTEFACTS, go, pages, served, settle, type_name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

FULL, EMPTY = "full", "empty"
WIDE, NARROW, TABLET = (1440, 900), (1024, 768), (820, 1180)
CUT_OFF = """(width) => {
  const wrong = [];
  const controls = 'a[href], button, input, select, textarea, summary, [role=button], [role=combobox], [role=tab], [role=radio]';
  const scrolls = (element) => ['auto', 'scroll'].includes(getComputedStyle(element).overflowX);
  const above = (element) => element.assignedSlot ?? element.parentElement ?? element.getRootNode().host;
  const look = (root) => {
    for (const element of root.querySelectorAll('*')) {
      if (element.shadowRoot) look(element.shadowRoot);
      if (getComputedStyle(element).textOverflow === 'ellipsis' && element.scrollWidth > element.clientWidth + 1
        && !element.matches('input') && element.checkVisibility())
        wrong.push(`${element.textContent.slice(0, 60)}: its words end in dots`);
      if (!element.matches(controls) || !element.checkVisibility({ visibilityProperty: true, opacityProperty: true })) continue;
      if (element.closest('svg')) continue;  // a drawing is moved and enlarged by itself
      const box = element.getBoundingClientRect();
      if (box.width < 2 || box.height < 2) continue;
      let left = 0, right = width;
      let clip = above(element);
      let isScrolled = false;
      for (; clip; clip = above(clip)) {
        const style = getComputedStyle(clip);
        if (clip !== document.documentElement && scrolls(clip) && clip.scrollWidth > clip.clientWidth) { isScrolled = true; break; }
        if (style.overflowX !== 'visible' && clip !== document.body) {
          const edge = clip.getBoundingClientRect();
          left = Math.max(left, edge.left);
          right = Math.min(right, edge.right);
        }
      }
      if (right - left < 3) continue;  // there for readers of the screen alone; what is seen of it is drawn beside it
      const name = element.ariaLabel || element.innerText || element.value || element.tagName;
      if (!isScrolled && (box.left < left - 2 || box.right > right + 2))
        wrong.push(`${String(name).slice(0, 60)}: ${Math.round(box.left)} to ${Math.round(box.right)} of ${Math.round(left)} to ${Math.round(right)}`);
      const words = element.matches('button, [role=tab], [role=radio], a[href]') && element.scrollWidth > element.clientWidth + 2
        && getComputedStyle(element).overflowX !== 'visible';
      if (words) wrong.push(`${String(name).slice(0, 60)}: its words do not fit`);
    }
  };
  look(document);
  return wrong;
}"""
"""Controls that lie beyond the window or beyond a part that hides what is too wide, drawn parts included; what can be scrolled
sideways by itself, as a table, is not cut off."""


@pytest.fixture(scope="module")
def empty_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A server whose collection is not there yet."""
    with served(tmp_path_factory.mktemp("nothing") / "collection", ARTEFACTS / "server_empty.log") as at:
        yield at


@pytest.fixture(scope="module", params=[(kind, title) for kind in (FULL, EMPTY) for title in pages()], ids=" ".join)
def shown(
    request: pytest.FixtureRequest, browser: Browser, address: str, empty_address: str
) -> Iterator[tuple[Page, str]]:
    """A page, opened once for all that is asked of it, with somebody named and a finger for a pointer; and what to call it."""
    kind, title = request.param
    context = browser.new_context(viewport={"width": WIDE[0], "height": WIDE[1]}, has_touch=True)
    page = context.new_page()
    where = pages()[title]
    go(page, f"{address if kind == FULL else empty_address}/{where}")
    type_name(page, "M. Oduya")
    page.wait_for_timeout(300)
    (ARTEFACTS / "pages").mkdir(exist_ok=True)
    yield page, f"{kind}_{where or 'lots'}"
    context.close()


def resized(page: Page, size: tuple[int, int], name: str) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.wait_for_timeout(300)
    settle(page)
    page.screenshot(path=ARTEFACTS / "pages" / f"{name}_{size[0]}.png")


def test_axe_finds_nothing_grave(shown: tuple[Page, str]) -> None:
    page, name = shown
    resized(page, WIDE, name)
    assert grave(page) == []


@pytest.mark.parametrize("size", [NARROW, TABLET], ids=["1024", "tablet"])
def test_nothing_is_cut_off(shown: tuple[Page, str], size: tuple[int, int]) -> None:
    page, name = shown
    resized(page, size, name)
    for part in ("document.documentElement", "document.querySelector('[data-testid=stMain]')"):
        assert page.evaluate(f"{part}.scrollWidth") <= size[0], part
    assert page.evaluate(CUT_OFF, size[0]) == []


def test_axe_finds_nothing_grave_in_what_unfolds(shown: tuple[Page, str]) -> None:
    """Every view of the page in turn, and everything that folds, open."""
    page, name = shown
    page.set_viewport_size({"width": WIDE[0], "height": WIDE[1]})
    main = page.get_by_test_id("stMain")
    views = main.get_by_role("tab").or_(main.get_by_role("radio"))
    for place in range(max(views.count(), 1)):
        if views.count() > place:
            views.nth(place).evaluate("view => (view.closest('label') ?? view).click()")
            page.wait_for_timeout(400)
            settle(page)
        page.evaluate("for (const part of document.querySelectorAll('details:not([open]) > summary')) part.click()")
        page.wait_for_timeout(400)
        settle(page)
        page.screenshot(path=ARTEFACTS / "pages" / f"{name}_open_{place}.png", full_page=True)
        assert grave(page) == []


def test_the_finder_finds(tab: Page) -> None:
    """A control beyond the window, one clipped by its parent, a picture without a name: all are seen; scrolled ones are not."""
    tab.set_viewport_size({"width": 500, "height": 400})
    tab.set_content(
        "<html lang='en'><title>t</title><main><h1>t</h1><button style='position:absolute;left:450px;width:99px'>beyond</button>"
        "<div style='overflow:hidden;width:50px'><button style='width:90px'>clipped</button></div>"
        "<div style='overflow-x:auto;width:50px'><button style='width:90px'>scrolled</button></div>"
        "<p style='width:50px;white-space:nowrap;overflow:hidden;text-overflow:ellipsis'>a line too long to be read</p>"
        "<img src='data:image/gif;base64,R0lGODlhAQABAAAAACw='></main>"
    )
    assert [line.split(":")[0] for line in tab.evaluate(CUT_OFF, 500)] == [
        "beyond",
        "clipped",
        "a line too long to be read",
    ]
    assert {one.rule for one in grave(tab)} == {"image-alt"}
    assert {one.rule for one in findings(tab)} >= {"image-alt"}
    assert all(known.reason for known in EXCUSED)
