"""The page's small collection and the way to open a page, as the page's own tests have them; and what is hostile everywhere."""

from __future__ import annotations

from tests.ui.conftest import cat, collection, made_once, page, tray

__all__ = ["cat", "collection", "made_once", "page", "tray"]
