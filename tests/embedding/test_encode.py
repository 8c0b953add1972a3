"""Encoding: unit vectors, independent of order, batch, engine and threads; textures find themselves."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import torch
from hypothesis import given, settings
from hypothesis import strategies as st

from motifs.embedding import EFFICIENTNET_LITE0, cut_box, encode_crops, views_of
from motifs.embedding import engines as engines_module
from motifs.embedding.engines import engine_for, has_onnx, onnx_engine, torch_engine
from motifs.embedding.weights import load_network
from motifs.records import SherdCrop
from tests.embedding.sherds import sherd, square, textures

QUICK = dataclasses.replace(EFFICIENTNET_LITE0, rotations=1, input_px=128, px_per_mm=4.0)
"""A small canvas: the sherds here are 26 mm across at most."""


@pytest.fixture(scope="module")
def crops() -> list[SherdCrop]:
    places = [(150, 150), (360, 150), (150, 360), (360, 360)]
    return [
        sherd(picture, angle_deg=float(37 * turn), centre=places[turn], seed=turn)
        for picture in textures().values()
        for turn in range(4)
    ]


def test_no_sherds_and_one_sherd(crops: list[SherdCrop]) -> None:
    assert encode_crops(QUICK, []).shape == (0, 320)
    calls: list[tuple[int, int]] = []
    vectors = encode_crops(QUICK, crops[:1], lambda done, total: calls.append((done, total)))
    assert (vectors.shape, vectors.dtype) == ((1, 320), np.float32)
    assert float(np.linalg.norm(vectors)) == pytest.approx(1.0, abs=1e-6)
    assert calls == [(1, 1)]


def test_turned_pieces_of_a_photographed_texture_find_each_other(crops: list[SherdCrop]) -> None:
    """scikit-image's brick, grass and gravel: photographs with one right answer that nobody here made.

    Right is at least 11 of 12: one grey texture may be taken for another at 4 px/mm.
    """
    vectors = encode_crops(dataclasses.replace(QUICK, rotations=4), crops)
    similarity = vectors @ vectors.T - 2.0 * np.eye(len(crops), dtype=np.float32)
    own = np.repeat(np.arange(3), 4)
    assert int((own[similarity.argmax(axis=1)] == own).sum()) >= 11


@settings(max_examples=5, deadline=None)
@given(st.permutations(range(6)))
def test_order_does_not_matter_and_a_sherd_is_its_own_nearest_neighbour(order: list[int]) -> None:
    chosen = [sherd(picture, seed=seed) for seed in range(2) for picture in textures().values()]
    straight, shuffled = encode_crops(QUICK, chosen), encode_crops(QUICK, [chosen[i] for i in order])
    np.testing.assert_allclose(shuffled, straight[order], atol=1e-5)
    assert ((shuffled @ straight.T).argmax(axis=1) == np.array(order)).all()


def test_duplicates_get_the_same_vector(crops: list[SherdCrop]) -> None:
    vectors = encode_crops(QUICK, [crops[0]] * 3)
    np.testing.assert_allclose(vectors, vectors[[0, 0, 0]], atol=1e-6)


@pytest.mark.parametrize("rotations", [4, 8])
def test_a_quarter_turn_changes_nothing_when_turns_are_averaged(crops: list[SherdCrop], rotations: int) -> None:
    spec = dataclasses.replace(QUICK, rotations=rotations)
    turned = dataclasses.replace(crops[1], image=np.rot90(crops[1].image).copy(), mask=np.rot90(crops[1].mask).copy())
    vectors = encode_crops(spec, [crops[1], turned])
    averaged = float(vectors[0] @ vectors[1])
    assert averaged > 0.9995
    single = encode_crops(QUICK, [crops[1], turned])
    assert 1.0 - float(single[0] @ single[1]) > 10.0 * (1.0 - averaged)


def test_the_backdrop_changes_nothing(crops: list[SherdCrop]) -> None:
    image = crops[0].image.copy()
    image[~crops[0].mask] = (255, 255, 255)
    vectors = encode_crops(QUICK, [crops[0], dataclasses.replace(crops[0], image=image)])
    np.testing.assert_allclose(vectors[0], vectors[1], atol=1e-6)


def test_scale_is_heard(crops: list[SherdCrop]) -> None:
    """The same picture said to be at twice the px/mm is another design."""
    closer = dataclasses.replace(crops[0], px_per_mm=20.0)
    vectors = encode_crops(QUICK, [crops[0], closer])
    assert float(vectors[0] @ vectors[1]) < 0.9


def test_a_large_sherd_is_the_weighted_mean_of_its_views() -> None:
    brick = np.repeat(textures()["brick"][..., None], 3, axis=2)
    large = SherdCrop(brick, np.ones(brick.shape[:2], np.bool_), 10.0, 10.0, is_scaled=True)
    views = list(views_of(large, QUICK))
    assert len(views) == 4
    found = torch_engine(load_network(QUICK))(np.stack([v.image for v in views]), np.stack([v.mask for v in views]))
    mean = (found * np.array([[v.weight] for v in views])).sum(axis=0)
    np.testing.assert_allclose(encode_crops(QUICK, [large])[0], mean / np.linalg.norm(mean), atol=1e-5)


def test_a_box_finds_its_own_sherd(crops: list[SherdCrop]) -> None:
    vectors = encode_crops(QUICK, crops)
    for position in (1, 6, 10):
        detail = cut_box(crops[position], (75, 75, 150, 150))
        nearest = int((encode_crops(QUICK, [detail]) @ vectors.T).argmax())
        assert nearest // 4 == position // 4


def test_thread_count_changes_nothing(crops: list[SherdCrop]) -> None:
    before = torch.get_num_threads()
    found = []
    try:
        for threads in (1, 2, 3):
            torch.set_num_threads(threads)
            found.append(encode_crops(QUICK, crops[:3]))
            assert torch.get_num_threads() == threads
    finally:
        torch.set_num_threads(before)
    np.testing.assert_allclose(found[1], found[0], atol=1e-5)
    np.testing.assert_allclose(found[2], found[0], atol=1e-5)


def test_both_engines_give_the_same_vectors(crops: list[SherdCrop]) -> None:
    if not has_onnx():
        pytest.skip("the packages onnx and onnxruntime are not installed")
    images = np.random.default_rng(40).integers(0, 256, (3, 128, 128, 3), dtype=np.uint8)
    masks = np.full((3, 128, 128), 255, np.uint8)
    masks[:, :40] = 0
    for pooling in ("masked", "masked_gem"):
        spec = dataclasses.replace(QUICK, pooling=pooling)
        eager = torch_engine(load_network(spec))
        graph = [onnx_engine(load_network(spec), 128, threads) for threads in (1, 2)]
        for engine in graph:
            np.testing.assert_allclose(engine(images, masks), eager(images, masks), atol=1e-5)
            np.testing.assert_allclose(engine(images[:1], masks[:1]), eager(images[:1], masks[:1]), atol=1e-5)


def test_without_onnx_long_jobs_run_too(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = engine_for(QUICK, 1)
    monkeypatch.setattr(engines_module.importlib.util, "find_spec", lambda _: None)
    assert not has_onnx()
    assert engine_for(QUICK, engines_module.COMPILED_JOB_VIEWS - 1) is plain


def test_an_even_sherd_is_no_error() -> None:
    vectors = encode_crops(dataclasses.replace(QUICK, picture="lines", rotations=8), [square(1), square(100)])
    assert np.isfinite(vectors).all()


def test_an_empty_mask_is_an_error() -> None:
    crop = dataclasses.replace(square(20), mask=np.zeros((20, 20), np.bool_))
    with pytest.raises(ValueError, match="mask is empty"):
        encode_crops(QUICK, [crop])
