"""One server, one browser and one growing collection for the journeys; pictures go to the git-ignored .artefacts/."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue
from motifs.workflows.demo import demo_lots
from motifs.workflows.intake import catalogue_photos, read_photos
from tests.browser.lab import ROOT, browsing, chromium, served

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Page

ARTEFACTS = ROOT / ".artefacts"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Without Debian's browser the journeys cannot be made."""
    if chromium() is None:
        for item in items:
            if item.get_closest_marker("browser"):
                item.add_marker(pytest.mark.skip(reason="no chromium on this machine: apt-get install chromium"))


@pytest.fixture(scope="session")
def collection(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A collection that holds one demo photograph of another site, so that there is something to compare with."""
    folder = tmp_path_factory.mktemp("browser") / "collection"
    other = demo_lots()[-1]
    with Catalogue.open(folder, create=True) as cat:
        catalogue_photos(cat, read_photos(other.photos[:1]), lot=other.lot, site=other.site, by="setup")
    return folder


@pytest.fixture(scope="session")
def address(collection: Path) -> Iterator[str]:
    """Where the page is served."""
    ARTEFACTS.mkdir(exist_ok=True)
    with served(collection, ARTEFACTS / "server.log") as at:
        yield at


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all."""
    with browsing() as opened:
        yield opened


@pytest.fixture
def tab(browser: Browser) -> Iterator[Page]:
    """A fresh window, 1440 px wide; errors of the page's own code fail the test."""
    page = browser.new_page(viewport={"width": 1440, "height": 900})
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    yield page
    page.close()
    assert wrong == []


@pytest.fixture
def cat(collection: Path) -> Iterator[Catalogue]:
    """The rows behind the page."""
    with Catalogue.open(collection) as opened:
        yield opened
