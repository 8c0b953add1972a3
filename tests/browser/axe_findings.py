"""What axe-core finds on a page; and the findings that are Streamlit's own and cannot be mended from here.

axe-core (Deque Systems, MPL 2.0) tests the success criteria of the W3C's Web Content Accessibility Guidelines 2.2; it comes with
the package axe-playwright-python and needs no network. Impacts are its own: minor, moderate, serious, critical.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from axe_playwright_python.sync_playwright import Axe

if TYPE_CHECKING:
    from playwright.sync_api import Page

GRAVE = ("serious", "critical")


@dataclass(frozen=True)
class Finding:
    """One element that breaks one rule. target: selectors from the page into its drawn parts; element: how it begins."""

    rule: str
    impact: str
    target: str
    element: str


@dataclass(frozen=True)
class Excused:
    """Findings of one rule whose element has these words in it, and why they stay."""

    rule: str
    has: str
    reason: str


EXCUSED: tuple[Excused, ...] = ()


def findings(page: Page) -> tuple[Finding, ...]:
    """Everything that axe-core finds on the page as it is now, drawn parts included, but what is excused."""
    answer = Axe().run(page).response
    found = tuple(
        Finding(broken["id"], str(broken["impact"]), " ".join(map(str, node["target"])), node["html"][:200])
        for broken in answer["violations"]
        for node in broken["nodes"]
    )
    return tuple(
        one for one in found if not any(one.rule == known.rule and known.has in one.element for known in EXCUSED)
    )


def grave(page: Page) -> list[Finding]:
    """Those of impact serious or critical."""
    return [one for one in findings(page) if one.impact in GRAVE]
