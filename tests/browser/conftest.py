"""One browser for all, the built collection copied for each module, a server for each; pictures go to the git-ignored .artefacts/."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue
from tests.browser import shared_collection
from tests.browser.lab import ARTEFACTS, Steps, chromium, served

if TYPE_CHECKING:
    from collections.abc import Generator, Iterator

    from playwright.sync_api import Browser, Page


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Without Debian's browser the journeys cannot be made."""
    if chromium() is None:
        for item in items:
            if item.get_closest_marker("browser"):
                item.add_marker(pytest.mark.skip(reason="no chromium on this machine: apt-get install chromium"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Where a journey fails, keep a picture of every window it had open."""
    report = yield
    if report.when == "call" and report.failed:
        for name, value in getattr(item, "funcargs", {}).items():
            if hasattr(value, "screenshot") and not value.is_closed():
                value.screenshot(path=ARTEFACTS / f"failed_{re.sub(r'[^a-z0-9_]+', '_', item.name.lower())}_{name}.png")
    return report


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's sites, taken in once; nobody works in this one."""
    folder = tmp_path_factory.mktemp("built") / "collection"
    shared_collection.build(folder)
    return folder


@pytest.fixture(scope="module")
def collection(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy for one module; a module that begins otherwise has a fixture of this name itself."""
    return Path(shutil.copytree(built, tmp_path_factory.mktemp("copy") / "collection"))


@pytest.fixture(scope="module")
def address(collection: Path, request: pytest.FixtureRequest) -> Iterator[str]:
    """Where the page of this module's collection is served."""
    ARTEFACTS.mkdir(exist_ok=True)
    with served(collection, ARTEFACTS / f"server_{request.module.__name__.rpartition('.')[2]}.log") as at:
        yield at


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
def step(tab: Page, request: pytest.FixtureRequest) -> Steps:
    """Keeps a picture of each step, named after the journey and what was done."""
    return Steps(tab, request.module.__name__.rpartition(".")[2].removeprefix("test_"))


@pytest.fixture
def cat(collection: Path) -> Iterator[Catalogue]:
    """The rows behind the page."""
    with Catalogue.open(collection) as opened:
        yield opened
