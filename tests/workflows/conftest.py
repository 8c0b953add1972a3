"""Collections that the tests of workflows share."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue
from motifs.workflows.intake import catalogue_photos, read_photos
from tests.workflows.tray import save_tray

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

LOT, OTHER = "B-03", "C-1"


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two lots of two sites: B-03 of two photographs (8 sherds), C-1 of one (4 sherds)."""
    folder = tmp_path_factory.mktemp("made")
    trays = [save_tray(folder / f"tray_{seed}.jpg", seed) for seed in (1, 2, 3)]
    with Catalogue.open(folder / "collection", create=True) as cat:
        catalogue_photos(cat, read_photos(trays[:2]), lot=LOT, site="Kestrel Ford", by="test")
        catalogue_photos(cat, read_photos(trays[2:]), lot=OTHER, site="Marl Hill", by="test")
    return folder


@pytest.fixture
def cat(made_once: Path, tmp_path: Path) -> Iterator[Catalogue]:
    """A fresh copy of it for each test."""
    shutil.copytree(made_once / "collection", tmp_path / "collection")
    with Catalogue.open(tmp_path / "collection") as opened:
        yield opened


@pytest.fixture
def trays(made_once: Path) -> list[Path]:
    """The photographs it was made of."""
    return sorted(made_once.glob("tray_*.jpg"))
