"""The drawing board of the page Photographs as a hand sees it, for tests."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.browser.lab import ARTEFACTS, said, settle

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from motifs.catalogue import Catalogue


class Board:
    """The drawing board as a hand sees it; points are px of the photograph."""

    def __init__(self, tab: Page, cat: Catalogue) -> None:
        self.tab, self.cat = tab, cat
        self.svg = tab.locator(".board svg")

    def spot(self, point: object) -> tuple[float, float]:
        """Where a point of the photograph is on the screen."""
        script = (
            "(svg, p) => { const q = new DOMPoint(p[0], p[1]).matrixTransform(svg.getScreenCTM()); return [q.x, q.y]; }"
        )
        x, y = self.svg.evaluate(script, [float(value) for value in np.asarray(point)])
        return x, y

    def tool(self, name: str) -> None:
        self.tab.locator(f"[data-tool={name}]").click()

    def choose(self, number: str) -> None:
        self.tool("choose")
        self.tab.mouse.click(*self.spot(self.middle(number)))
        self.tab.locator(f'g.sherd.chosen[data-sherd="{number}"]').wait_for()
        self.tab.wait_for_timeout(300)
        settle(self.tab)

    def middle(self, number: str) -> np.ndarray:
        outline = self.cat.sherd(number).outline_px
        return (outline.min(axis=0) + outline.max(axis=0)) / 2

    def drag(self, points: object) -> None:
        first, *rest = [self.spot(point) for point in np.asarray(points)]
        self.tab.mouse.move(*first)
        self.tab.mouse.down()
        for place in rest:
            self.tab.mouse.move(*place, steps=4)
        self.tab.mouse.up()

    def accept(self, told: str) -> None:
        self.tab.keyboard.press("Enter")
        said(self.tab, told)

    def snap(self, name: str) -> None:
        self.tab.screenshot(path=ARTEFACTS / f"corrections_{name}.png")
