"""A made collection is a sound one, the same for the same seed, and of the size that was asked for."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image

from motifs.catalogue import Catalogue
from motifs.workflows.crops import recut
from motifs.workflows.describe import evidence_basis, evidence_encoders, kept_evidence
from motifs.workflows.measurements import figures_of
from motifs.workflows.vectors import comparanda_encoder, vector_key
from tests.load.make import make_collection
from tests.load.shapes import draw_trays, retagged, with_comment

if TYPE_CHECKING:
    from pathlib import Path

SHERDS = 40


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made") / "collection"
    make_collection(folder, SHERDS, seed=5)
    return folder


def test_it_is_sound_and_nothing_in_it_has_to_be_made_again(made: Path) -> None:
    with Catalogue.open(made) as cat:
        assert cat.check() == ()
        sherds = cat.sherds()
        numbers = [sherd.number for sherd in sherds]
        assert len(numbers) == SHERDS
        assert len(figures_of(cat, sherds)) == SHERDS
        assert len(kept_evidence(cat, numbers, evidence_basis(evidence_encoders()))) == SHERDS
        vectors = cat.vectors(vector_key(comparanda_encoder()), numbers)
        np.testing.assert_allclose([np.linalg.norm(vectors[number]) for number in numbers], 1.0, atol=1e-5)
        # The crop that lies there is the one that would be cut from the photograph (which is a JPEG, so not to the bit).
        kept, fresh = cat.crop(numbers[0]), recut(cat, sherds[0])
        assert kept is not None
        assert kept.image.shape == fresh.image.shape
        assert np.abs(kept.image.astype(int) - fresh.image.astype(int)).mean() < 8


def test_the_same_seed_makes_the_same(made: Path, tmp_path: Path) -> None:
    make_collection(tmp_path / "again", SHERDS, seed=5, with_files=False)
    make_collection(tmp_path / "other", SHERDS, seed=6, with_files=False)
    with (
        Catalogue.open(made) as one,
        Catalogue.open(tmp_path / "again") as two,
        Catalogue.open(tmp_path / "other") as x,
    ):
        assert one.catalogue_list() == two.catalogue_list()
        assert one.catalogue_list() != x.catalogue_list()


def test_files_under_another_name_are_whole() -> None:
    tray = draw_trays(1)[0]
    png = retagged(tray.sherds[0].crop_png, "f" * 64)
    with Image.open(io.BytesIO(png)) as opened:
        opened.load()  # Pillow looks at every chunk's check sum
        assert opened.info["content_key"] == "f" * 64
    with Image.open(io.BytesIO(with_comment(tray.jpeg, b"one"))) as first, Image.open(io.BytesIO(tray.jpeg)) as second:
        assert first.info["comment"] == b"one"
        assert np.array_equal(np.asarray(first), np.asarray(second))
