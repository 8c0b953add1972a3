"""Comparanda of a collection beyond the threshold: the same answers from disk, nothing stale, nothing built anew in vain."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.retrieval import Likeness, large, live
from motifs.workflows import comparanda, compared, large_collections, vectors
from motifs.workflows.comparanda import find_comparanda
from motifs.workflows.correct import drop
from motifs.workflows.tag_proposals import propose_tags
from motifs.workflows.vectors import comparanda_encoder
from tests.workflows.conftest import LOT, OTHER
from tests.workflows.test_comparanda import fake_encode

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

QUERY = f"{LOT}-001"


@pytest.fixture(autouse=True)
def _small_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    def curves(spec):
        return Likeness("x", (0.0,) * spec.dim, (-1.0, 4.0), (-1.0, 4.0, 0.0), (0.0, 1.0, 1.0), {}, "a test")

    monkeypatch.setattr(vectors, "encode_crops", fake_encode)
    monkeypatch.setattr(comparanda, "encode_crops", fake_encode)
    monkeypatch.setattr(compared, "likeness_of", curves)
    monkeypatch.setattr(large_collections, "AT_ONCE", 4)
    compared.forget_compared()


@pytest.fixture
def beyond(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(compared, "EXACT_UP_TO", 3)


def asked(cat: Catalogue, **changes: object) -> list[tuple[str, float]]:
    found = find_comparanda(cat, QUERY, top=99, checked=0, by="test", **changes)  # type: ignore[arg-type]
    return [(near.sherd, near.similarity) for near in found.neighbours]


def from_memory(cat: Catalogue, monkeypatch: pytest.MonkeyPatch, **changes: object) -> list[tuple[str, float]]:
    with monkeypatch.context() as there:
        there.setattr(compared, "EXACT_UP_TO", 200_000)
        compared.forget_compared()
        found = asked(cat, **changes)
    compared.forget_compared()
    return found


def same(one: list[tuple[str, float]], other: list[tuple[str, float]]) -> bool:
    """Alike within the rounding of 16 bits, which may turn round neighbours as alike as that."""
    a, b = dict(one), dict(other)
    return a.keys() == b.keys() and all(abs(a[key] - b[key]) < 2e-3 for key in a)


def folder_of(cat: Catalogue):
    (folder,) = (cat.derived_folder / large_collections.INDEXES).iterdir()
    return folder


@pytest.mark.usefixtures("beyond")
def test_the_same_answers_from_disk_for_sherd_box_and_other_sites(
    cat: Catalogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    crop = cat.crop(QUERY)
    assert crop is not None
    height, width = crop.mask.shape
    box = (width // 4, height // 4, width // 2, height // 2)
    for changes in ({}, {"other_sites": True}, {"others": (f"{LOT}-002",)}, {"box_px": box}):
        assert same(asked(cat, **changes), from_memory(cat, monkeypatch, **changes))
    assert (folder_of(cat) / "manifest.json").is_file()
    assert not cat.check()


@pytest.mark.usefixtures("beyond")
def test_a_second_program_reads_what_the_first_kept(cat: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    before = asked(cat)
    compared.forget_compared()
    live._open.clear()
    monkeypatch.setattr(vectors, "encode_crops", None)  # nothing is encoded again
    monkeypatch.setattr(large_collections, "averaged_in_lots", None)  # nor averaged
    assert asked(cat) == before


@pytest.mark.usefixtures("beyond")
def test_nothing_stale_is_found_and_only_the_touched_lot_is_added(
    cat: Catalogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(large_collections, "MOST_REMOVED", 0.95)  # not built anew here
    asked(cat)
    rows = len(live.kept_index(folder_of(cat), *_kind()).keys())
    sherd = cat.sherd(f"{LOT}-002")
    middle = sherd.outline_px.mean(axis=0)
    with cat.transaction(by="test"):
        cat.replace_outline(sherd.number, ((sherd.outline_px - middle) * 0.6 + middle).astype(np.float32))
    drop(cat, [f"{LOT}-003"], by="test")
    added: list[int] = []
    averaged = large_collections.averaged_in_lots
    monkeypatch.setattr(
        large_collections, "averaged_in_lots", lambda v, lots: added.append(len(lots)) or averaged(v, lots)
    )
    after = asked(cat)
    assert sum(added) == sum(one.lot == LOT for one in cat.sherds())
    assert f"{LOT}-003" not in dict(after)
    assert len(live.kept_index(folder_of(cat), *_kind()).keys()) == rows + sum(added)
    monkeypatch.setattr(large_collections, "averaged_in_lots", averaged)
    assert same(after, from_memory(cat, monkeypatch))


@pytest.mark.usefixtures("beyond")
def test_what_is_not_wanted_any_more_goes_when_it_is_built_anew(
    cat: Catalogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = asked(cat)
    for number in (f"{LOT}-003", f"{LOT}-004"):
        drop(cat, [number], by="test")
        asked(cat)
        large_collections.wait_for_rebuilding()
    index = live.kept_index(folder_of(cat), *_kind())
    assert len(index) < len(before)
    assert same(asked(cat), from_memory(cat, monkeypatch))


@pytest.mark.usefixtures("beyond")
def test_another_encoder_another_folder_and_damage_is_made_good(
    cat: Catalogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = asked(cat)
    manifest = folder_of(cat) / "manifest.json"
    manifest.write_text(manifest.read_text().replace('"tag": "motif', '"tag": "other'))
    compared.forget_compared()
    live._open.clear()
    assert same(asked(cat), before)
    asked(cat, encoder="efficientnet_lite0.imagenet")
    assert len(list((cat.derived_folder / large_collections.INDEXES).iterdir())) == 2


@pytest.mark.usefixtures("beyond")
def test_tags_are_proposed_from_disk_too(cat: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    with cat.transaction(by="test"):
        cat.add_tag(f"{OTHER}-001", "spiral", "motif")
    wanted = [cat.sherd(QUERY)]
    found = propose_tags(cat, wanted, least_confidence=0.0, by="test")[QUERY]
    assert [one.term for one in found] == ["spiral"]
    monkeypatch.setattr(large, "FEW", 1)
    again = propose_tags(cat, wanted, least_confidence=0.0, by="test")[QUERY]
    assert again == found


def test_keys_depend_on_all_a_vector_depends_on(cat: Catalogue) -> None:
    sherds = cat.sherds()
    keys = large_collections.keys_of(sherds, None)
    assert len(set(keys.values())) == len(sherds)
    assert large_collections.keys_of(sherds, np.ones(3)).items().isdisjoint(keys.items())
    lot = [sherd for sherd in sherds if sherd.lot == LOT]
    fewer = large_collections.keys_of([s for s in sherds if s.number != f"{LOT}-002"], None)
    assert {n for n, key in fewer.items() if keys[n] != key} == {s.number for s in lot} - {f"{LOT}-002"}


def _kind() -> tuple[str, int]:
    spec = comparanda_encoder()
    return vectors.vector_key(spec), spec.dim
