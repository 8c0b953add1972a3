"""A small collection that the page's tests share, and the page itself under AppTest."""

from __future__ import annotations

import io
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from motifs.catalogue import Catalogue
from motifs.ui.session import COLLECTION_VARIABLE
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.sort import KIND
from motifs.workflows.sorting import LotSorting, PairQuestion, PlacedSherd, packed
from tests.workflows.tray import save_tray, tray_image

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


LOT, OTHER = "5*3*2 cm", "_a_ lot"
SITE, OTHER_SITE = "slip:red", "<b>Marl $x$"
APP = Path(__file__).resolve().parents[2] / "app.py"
TIMEOUT_S = 90


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two lots with names that markup would eat: the first of two photographs (8 sherds), the other of one (4)."""
    folder = tmp_path_factory.mktemp("page")
    trays = [save_tray(folder / f"tray_{seed}.jpg", seed) for seed in (1, 2, 3)]
    with Catalogue.open(folder / "collection", create=True) as cat:
        catalogue_photos(cat, read_photos(trays[:2]), lot=LOT, site=SITE, by="test")
        catalogue_photos(cat, read_photos(trays[2:]), lot=OTHER, site=OTHER_SITE, by="test")
    return folder


@pytest.fixture
def collection(made_once: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A fresh copy of it, which the page opens."""
    folder = tmp_path / "collection"
    shutil.copytree(made_once / "collection", folder)
    monkeypatch.setenv(COLLECTION_VARIABLE, str(folder))
    return folder


@pytest.fixture
def cat(collection: Path) -> Iterator[Catalogue]:
    """The same copy, to look at rows."""
    with Catalogue.open(collection) as opened:
        yield opened


@pytest.fixture
def tray(made_once: Path, tmp_path: Path) -> Path:
    """A photograph that the collection does not have."""
    return save_tray(tmp_path / "new_tray.jpg", 7)


@pytest.fixture
def page() -> Iterator[Callable[..., AppTest]]:
    """Open a page of the app, with things in the address, as somebody with a name (None: without one)."""

    def opened(name: str, *, by: str | None = "M. Oduya", **address: str) -> AppTest:
        at = AppTest.from_file(APP, default_timeout=TIMEOUT_S)
        if by is not None:
            at.session_state["analyst"] = by
        at.run()
        if name != "lots":
            at.switch_page(f"motifs/ui/pages/{name}.py")
        for key, value in address.items():
            at.query_params[key] = value
        return at.run()

    yield opened
    st.cache_resource.clear()


def propose(cat: Catalogue, lot: str, vessels: list[int | None], asked: tuple[int, int] | None = None) -> None:
    """Keep a proposal, as a sort would: vessel of each sherd in the lot's order."""
    numbers = [sherd.number for sherd in cat.sherds(lot)]
    found = len({vessel for vessel in vessels if vessel is not None})
    sorting = LotSorting(
        lot,
        found,
        (found, found + 1),
        tuple(PlacedSherd(n, v, 0.9, 0 if v != 0 else 1) for n, v in zip(numbers, vessels, strict=True)),
        () if asked is None else (PairQuestion(numbers[asked[0]], numbers[asked[1]], "it stands between two vessels"),),
    )
    with cat.transaction(by="test"):
        cat.save_proposal(lot, KIND, encoder_tags=[], parameters={}, result=packed(sorting))


def tray_png() -> bytes:
    """A photograph that no collection has, as a file's bytes."""
    stream = io.BytesIO()
    tray_image(11).save(stream, "PNG")
    return stream.getvalue()


def shown(at: AppTest) -> str:
    """All HTML on the page but its style, one piece after another."""
    return "\n".join(element.body for element in at.get("html") if not element.body.startswith("<style>"))


def press(at: AppTest, label: str) -> AppTest:
    """Press the first button with this label."""
    next(button for button in at.button if button.label == label).click()
    return at.run()


def type_new(at: AppTest, key: str, value: str) -> None:
    """Type an entry into a list that takes new ones; AppTest itself only chooses from what is listed."""
    box = at.selectbox(key=key)
    if value not in box.options:
        box.options.append(value)
    box.set_value(value)
