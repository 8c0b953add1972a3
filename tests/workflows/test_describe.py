"""Vectors and evidence are measured once, kept, and never meet a changed outline."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.embedding import EFFICIENTNET_LITE0
from motifs.evidence import measure_sherd
from motifs.records import CueReading
from motifs.workflows import describe, vectors
from tests.workflows.conftest import LOT, OTHER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue
    from motifs.embedding import EncoderSpec
    from motifs.records import SherdCrop

SPEC = replace(EFFICIENTNET_LITE0, tag="mean.colour", dim=3)


class Counted:
    """Stands in for a network: the mean colour as a vector, and how many crops it saw."""

    def __init__(self) -> None:
        self.seen = 0

    def __call__(self, spec: EncoderSpec, crops: Sequence[SherdCrop]) -> np.ndarray:
        self.seen += len(crops)
        means = np.array([crop.image[crop.mask].mean(axis=0) for crop in crops], np.float32)
        return means / np.linalg.norm(means, axis=1, keepdims=True)


@pytest.fixture
def network(monkeypatch: pytest.MonkeyPatch) -> Counted:
    counted = Counted()
    monkeypatch.setattr(vectors, "encode_crops", counted)
    return counted


def test_no_sherds_no_vectors(cat: Catalogue, network: Counted) -> None:
    assert vectors.ensure_vectors(cat, SPEC, [], by="test") == {}
    assert network.seen == 0


def test_vectors_are_made_once(cat: Catalogue, network: Counted) -> None:
    first = vectors.ensure_vectors(cat, SPEC, cat.sherds(LOT), by="test")
    again = vectors.ensure_vectors(cat, SPEC, cat.sherds(LOT), by="test")
    assert network.seen == len(first) == 8
    assert all((first[number] == again[number]).all() for number in first)


def test_only_what_is_new_is_encoded(cat: Catalogue, network: Counted) -> None:
    vectors.ensure_vectors(cat, SPEC, cat.sherds(OTHER), by="test")
    told: list[tuple[str, int, int]] = []
    vectors.ensure_vectors(cat, SPEC, cat.sherds(), by="test", progress=lambda *step: told.append(step))
    assert network.seen == 12
    assert told == [("encoding (mean.colour)", 8, 8)]


def test_another_preparation_is_another_vector(cat: Catalogue, network: Counted) -> None:
    vectors.ensure_vectors(cat, SPEC, cat.sherds(OTHER), by="test")
    vectors.ensure_vectors(cat, replace(SPEC, px_per_mm=2.0), cat.sherds(OTHER), by="test")
    assert network.seen == 8


def test_a_changed_outline_is_encoded_again(cat: Catalogue, network: Counted) -> None:
    vectors.ensure_vectors(cat, SPEC, cat.sherds(OTHER), by="test")
    sherd = cat.sherds(OTHER)[0]
    with cat.transaction(by="test"):
        cat.replace_outline(sherd.number, sherd.outline_px + np.float32(3))
    vectors.ensure_vectors(cat, SPEC, cat.sherds(OTHER), by="test")
    assert network.seen == 5


def test_evidence_is_kept_and_read_back_as_measured(cat: Catalogue) -> None:
    fresh = describe.ensure_evidence(cat, cat.sherds(OTHER), by="test")
    kept = describe.ensure_evidence(cat, cat.sherds(OTHER), by="test")
    assert fresh.keys() == kept.keys()
    assert fresh == kept
    crop = cat.crop(f"{OTHER}-001")
    assert crop is not None
    measured = measure_sherd(crop, {})
    assert "paste" in measured
    assert measured.keys() | {"vessel_vector"} == kept[f"{OTHER}-001"].keys()
    for cue, reading in measured.items():
        assert kept[f"{OTHER}-001"][cue].value == pytest.approx(reading.value, rel=1e-5)
        assert kept[f"{OTHER}-001"][cue].sd == pytest.approx(reading.sd, rel=1e-5)


def test_evidence_of_other_cues_is_not_taken(cat: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    describe.ensure_evidence(cat, cat.sherds(OTHER), by="test")
    monkeypatch.setattr(describe, "VERSION", "another")
    monkeypatch.setattr(describe, "measure_sherd", lambda crop, vectors: {"new": CueReading((1.0,) * 5, (0.5,) * 5)})
    fresh = describe.ensure_evidence(cat, cat.sherds(OTHER), by="test")
    assert [list(readings) for readings in fresh.values()] == [["new"]] * 4
    assert describe.ensure_evidence(cat, cat.sherds(OTHER), by="test") == fresh
