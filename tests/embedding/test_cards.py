"""Model cards and weight files: what is written is read back, and nothing altered is ever used."""

from __future__ import annotations

import dataclasses
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import safetensors.torch
import torch

from motifs.embedding import (
    EFFICIENTNET_LITE0,
    ENCODERS,
    EncoderSpec,
    encoder_named,
    read_card,
    shipped_encoders,
    write_model,
)
from motifs.embedding.cards import CARD_NOTES, MODELS_FOLDER
from motifs.embedding.network import build_network
from motifs.embedding.weights import load_network
from motifs.errors import ModelError, UnknownName

ROOT = Path(__file__).resolve().parents[2]
NOTES = dict.fromkeys(CARD_NOTES, "invented for this test")
OWN = dataclasses.replace(
    EFFICIENTNET_LITE0,
    features="head",
    tag="motif.trial",
    weights="models/motif.safetensors",
    has_projection=True,
    dim=16,
    sha256="",
)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, EncoderSpec, dict[str, torch.Tensor]]:
    folder = tmp_path_factory.mktemp("models")
    torch.manual_seed(30)
    network = build_network(OWN)
    return folder, write_model(folder, OWN, network, NOTES), network.state_dict()


def test_a_written_model_comes_back(written: tuple[Path, EncoderSpec, dict[str, torch.Tensor]]) -> None:
    folder, spec, state = written
    assert read_card(folder / "motif.card.json") == spec
    assert encoder_named("motif.trial", folder) == spec
    loaded = load_network(spec, folder).state_dict()
    assert loaded.keys() == state.keys()
    for name, value in state.items():
        torch.testing.assert_close(loaded[name], value, rtol=1e-3, atol=1e-4)
        assert loaded[name].dtype == value.dtype
    assert sorted(path.name for path in folder.iterdir()) == ["motif.card.json", "motif.safetensors"]


def test_kernels_are_stored_in_half_precision(written: tuple[Path, EncoderSpec, dict[str, torch.Tensor]]) -> None:
    folder, _, state = written
    stored = safetensors.torch.load_file(folder / "motif.safetensors")
    assert stored["body.conv_head.weight"].dtype == torch.float16
    assert stored["body.bn1.running_var"].dtype == torch.float32
    parameters = sum(value.numel() for value in state.values())
    assert (folder / "motif.safetensors").stat().st_size < 2.4 * parameters


def _copy(written: tuple[Path, EncoderSpec, Any], folder: Path) -> Path:
    for path in written[0].iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    return folder


def test_one_altered_byte_is_refused(written: tuple[Path, EncoderSpec, Any], tmp_path: Path) -> None:
    folder = _copy(written, tmp_path)
    content = bytearray((folder / "motif.safetensors").read_bytes())
    content[-1] ^= 1
    (folder / "motif.safetensors").write_bytes(bytes(content))
    with pytest.raises(ModelError, match=r"motif.safetensors is altered"):
        load_network(written[1], folder)
    (folder / "motif.safetensors").unlink()
    with pytest.raises(ModelError, match="not on this machine"):
        load_network(written[1], folder)


def test_weights_of_another_network_are_refused(written: tuple[Path, EncoderSpec, Any], tmp_path: Path) -> None:
    folder = _copy(written, tmp_path)
    for wrong in (
        dataclasses.replace(written[1], body="lite2"),
        dataclasses.replace(written[1], dim=8),
        dataclasses.replace(written[1], has_projection=False, dim=1280),
    ):
        with pytest.raises(ModelError, match="does not hold the network"):
            load_network(wrong, folder)


def test_a_spec_without_a_checksum_loads_nothing(written: tuple[Path, EncoderSpec, Any]) -> None:
    with pytest.raises(ModelError, match="altered"):
        load_network(dataclasses.replace(written[1], sha256=""), written[0])


def _card(written: tuple[Path, EncoderSpec, Any]) -> dict[str, Any]:
    card: dict[str, Any] = json.loads((written[0] / "motif.card.json").read_text())
    return card


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda card: card["encoder"].update(rotation=4), "unknown entry 'rotation'"),
        (lambda card: card["encoder"].pop("dim"), "incomplete"),
        (lambda card: card.pop("encoder"), "no model card"),
        (lambda card: card["encoder"].update(rotations=3), "rotations cannot be 3"),
        (lambda card: card["encoder"].update(input_px=225), "input_px cannot be 225"),
        (lambda card: card["encoder"].update(px_per_mm=0.0), "px_per_mm cannot be 0"),
        (lambda card: card["encoder"].update(std=[0.0, 1.0, 1.0]), "std cannot be"),
        (lambda card: card["encoder"].update(pooling="max"), "pooling cannot be 'max'"),
        (lambda card: card["encoder"].update(picture="infrared"), "picture cannot be 'infrared'"),
        (lambda card: card["encoder"].update(tag="no dot"), "tag cannot be 'no dot'"),
        (lambda card: card["encoder"].update(body="lite9"), "body cannot be 'lite9'"),
        (lambda card: card["encoder"].update(dim="many"), "incomplete"),
    ],
)
def test_a_bad_card_gives_one_clear_line(
    written: tuple[Path, EncoderSpec, Any], tmp_path: Path, change: Any, message: str
) -> None:
    card = _card(written)
    change(card)
    path = tmp_path / "motif.card.json"
    path.write_text(json.dumps(card))
    with pytest.raises(ModelError, match=message) as caught:
        read_card(path)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("text", ["", "{", "[]", '"text"', "null"])
def test_what_is_no_card_gives_one_clear_line(tmp_path: Path, text: str) -> None:
    path = tmp_path / "motif.card.json"
    path.write_text(text)
    with pytest.raises(ModelError, match=r"motif.card.json is no model card"):
        read_card(path)


@pytest.mark.parametrize(
    "weights", ["models/../other.safetensors", "models/a/b.safetensors", "models/x.pt", "/x.safetensors", ""]
)
def test_weights_stay_in_their_folder(tmp_path: Path, weights: str) -> None:
    spec = dataclasses.replace(OWN, weights=weights)
    with pytest.raises(ModelError, match="weights cannot be"):
        write_model(tmp_path, spec, build_network(OWN), NOTES)
    with pytest.raises(ModelError, match="weights cannot be"):
        load_network(spec, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_card_that_says_too_little_is_not_written(tmp_path: Path) -> None:
    for left_out in CARD_NOTES:
        notes = {name: text for name, text in NOTES.items() if name != left_out}
        with pytest.raises(ModelError, match=f"says nothing of '{left_out}'"):
            write_model(tmp_path, OWN, build_network(OWN), notes)
    assert list(tmp_path.iterdir()) == []


def test_weights_that_are_not_finite_are_not_written(tmp_path: Path) -> None:
    network = build_network(OWN)
    with torch.no_grad():
        network.body.conv_head.weight[0, 0] = 1e6  # finite, but not in float16
    with pytest.raises(ModelError, match=r"body.conv_head.weight has values that are not finite"):
        write_model(tmp_path, OWN, network, NOTES)
    assert list(tmp_path.iterdir()) == []


def test_other_files_in_the_folder_are_no_cards(written: tuple[Path, EncoderSpec, Any], tmp_path: Path) -> None:
    folder = _copy(written, tmp_path)
    (folder / "evidence.json").write_text("{}")
    (folder / "README.md").write_text("")
    assert shipped_encoders(folder) == (written[1],)
    assert shipped_encoders(folder / "nowhere") == ()


def test_names() -> None:
    assert ENCODERS[0] is EFFICIENTNET_LITE0
    assert encoder_named("efficientnet_lite0.imagenet") is EFFICIENTNET_LITE0
    tags = [spec.tag for spec in (*ENCODERS, *shipped_encoders())]
    assert len(set(tags)) == len(tags)
    with pytest.raises(UnknownName, match=r"choose one of efficientnet_lite0.imagenet"):
        encoder_named("efficientnet_lite0")


def test_shipped_weights_are_the_ones_on_their_cards() -> None:
    for spec in shipped_encoders(MODELS_FOLDER):
        network = load_network(spec)
        assert sum(value.numel() for value in network.parameters()) > 0


def test_the_fingerprint_follows_every_field() -> None:
    seen = {EFFICIENTNET_LITE0.fingerprint}
    for change in ({"sha256": "0" * 64}, {"px_per_mm": 3.5}, {"rotations": 8}, {"input_px": 256}, {"picture": "grey"}):
        seen.add(dataclasses.replace(EFFICIENTNET_LITE0, **change).fingerprint)  # type: ignore[arg-type]
    assert len(seen) == 6
    assert dataclasses.replace(EFFICIENTNET_LITE0).fingerprint == EFFICIENTNET_LITE0.fingerprint


def test_importing_the_package_does_not_load_torch() -> None:
    code = (
        "import sys, motifs.embedding; sys.exit(any(m in sys.modules for m in ('torch', 'torchvision', 'onnxruntime')))"
    )
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False).returncode == 0


def test_torchvision_networks_come_from_the_cache_or_not_at_all(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("TORCH_HOME", str(tmp_path))
    spec = encoder_named("torchvision.mobilenet_v3_small.IMAGENET1K_V1")
    assert (spec.dim, spec.sha256) == (576, "047dcff4")
    with pytest.raises(ModelError, match=r"mobilenet_v3_small-047dcff4.pth .* put it into"):
        load_network(spec)
    network = build_network(spec)
    folder = tmp_path / "hub" / "checkpoints"
    folder.mkdir(parents=True)
    torch.save({"features.0.0.weight": torch.zeros(1)}, folder / "mobilenet_v3_small-047dcff4.pth")
    with pytest.raises(ModelError, match="altered"):
        load_network(spec)
    published = {name.removeprefix("body."): value for name, value in network.state_dict().items()}
    published["classifier.0.weight"] = torch.zeros(3)
    torch.save(published, folder / "mobilenet_v3_small-047dcff4.pth")
    with monkeypatch.context() as patch:  # a file whose checksum begins with those digits cannot be made
        patch.setattr("motifs.embedding.weights.sha256_of", lambda _: "047dcff4" + "0" * 56)
        loaded = load_network(spec)
    images = torch.rand(1, 3, 64, 64)
    with torch.inference_mode():
        torch.testing.assert_close(loaded.features(images), network.eval().features(images))


@pytest.mark.parametrize(
    "tag",
    [
        "torchvision.resnet50.NOWHERE",
        "torchvision.nothing.IMAGENET1K_V1",
        "torchvision.vit_b_16.IMAGENET1K_V1",
        "torchvision.",
    ],
)
def test_torchvision_names_that_do_not_serve(tag: str) -> None:
    with pytest.raises(UnknownName):
        encoder_named(tag)


def test_resnet_bodies_have_a_feature_map() -> None:
    spec = encoder_named("torchvision.resnet18.IMAGENET1K_V1")
    with torch.inference_mode():
        vectors = build_network(spec).eval()(torch.rand(1, 3, 64, 64), torch.ones(1, 1, 64, 64)).numpy()
    assert vectors.shape == (1, 512)
    np.testing.assert_allclose(np.linalg.norm(vectors), 1.0, rtol=1e-5)
