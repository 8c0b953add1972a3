"""What holds for every test: nothing is remembered in the user's own cache folder, and there is one browser for all."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from motifs.embedding.choices import CACHE_VARIABLE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser

os.environ.setdefault(CACHE_VARIABLE, "")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium; a second one beside it in one run would find its loop taken."""
    from tests.browser.lab import browsing, chromium

    if chromium() is None:
        pytest.skip("no chromium on this machine: apt-get install chromium")
    with browsing() as opened:
        yield opened
