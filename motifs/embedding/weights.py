"""Weights into networks: from an installed package, from models/, or from torch's cache. Never from the network."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from typing import TYPE_CHECKING

import safetensors.torch
import torch

from motifs.embedding.cards import MODELS_FOLDER, sha256_of, weights_file_name
from motifs.embedding.network import SherdNetwork, build_network
from motifs.errors import ModelError

if TYPE_CHECKING:
    from torch import Tensor

    from motifs.embedding.specs import EncoderSpec

State = dict[str, "Tensor"]


def load_network(spec: EncoderSpec, folder: Path = MODELS_FOLDER) -> SherdNetwork:
    """Build a network and give it the weights its specification pins.

    Parameters
    ----------
    spec: of the encoder.
    folder: where the project's own weights lie.

    Returns
    -------
    SherdNetwork in evaluation mode, float32, on the CPU.

    Raises
    ------
    ModelError: the file is missing, altered, or of another network.
    """
    path = _weights_path(spec, folder)
    _verify(spec, path)
    network = build_network(spec)
    try:
        network.load_state_dict(_read_state(spec, path), strict=True)
    except RuntimeError as problem:
        first = str(problem).splitlines()[-1].strip()
        raise ModelError(f"{path.name} does not hold the network of {spec.tag!r}: {first}") from problem
    return network.eval()


def packed_state(spec: EncoderSpec, network: SherdNetwork) -> bytes:
    """Weights as a safetensors file: kernels and matrices in float16, the rest as they are.

    Raises
    ------
    ModelError: a value is not finite once stored.
    """
    packed: State = {}
    for name, tensor in network.state_dict().items():
        is_kernel = tensor.dim() >= 2 and tensor.is_floating_point()
        packed[name] = tensor.detach().cpu().to(torch.float16 if is_kernel else tensor.dtype).contiguous()
        if not bool(torch.isfinite(packed[name]).all()):
            raise ModelError(f"Encoder {spec.tag!r}: {name} has values that are not finite; train it again.")
    content: bytes = safetensors.torch.save(packed, metadata={"tag": spec.tag})
    return content


def _weights_path(spec: EncoderSpec, folder: Path) -> Path:
    kind, _, name = spec.weights.partition(":")
    if kind == "package":
        return _file_in_package(spec, name)
    if kind == "hub":
        return Path(torch.hub.get_dir()) / "checkpoints" / name
    return folder / weights_file_name(spec)


def _file_in_package(spec: EncoderSpec, package: str) -> Path:
    """Find the one weight file that a package ships, without running the package's code."""
    found = importlib.util.find_spec(package)
    if found is None or found.origin is None:
        raise ModelError(f"Encoder {spec.tag!r} needs the package {package}; install requirements.txt.")
    files = sorted((Path(found.origin).parent / "models").glob("*.pth"))
    if len(files) != 1:
        raise ModelError(f"Package {package} holds {len(files)} weight files, not 1; reinstall requirements.txt.")
    return files[0]


def _verify(spec: EncoderSpec, path: Path) -> None:
    """Refuse a file that is not, byte for byte, the one the specification pins."""
    if not path.is_file():
        where = f"put it into {path.parent}" if spec.weights.startswith("hub:") else "put the original file back"
        raise ModelError(f"Weights {path.name} of encoder {spec.tag!r} are not on this machine; {where}.")
    found = sha256_of(path)
    if not (spec.sha256 and found.startswith(spec.sha256)):
        raise ModelError(
            f"{path.name} is altered: sha256 {found[:12]}... where {spec.tag!r} pins {spec.sha256[:12]}...; "
            "put the original file back."
        )


def _read_state(spec: EncoderSpec, path: Path) -> State:
    if path.suffix == ".safetensors":
        stored = safetensors.torch.load_file(path)
        return {name: value.float() if value.is_floating_point() else value for name, value in stored.items()}
    stored = torch.load(path, map_location="cpu", weights_only=True)
    if spec.weights.startswith("package:"):
        left_out = ("_fc.",) if spec.features == "head" else ("_fc.", "_conv_head.", "_bn1.")
        stored = {_lite_name(name): value for name, value in stored.items() if not name.startswith(left_out)}
    else:
        from motifs.embedding.torchvision_bodies import without_classifier  # noqa: PLC0415  (slow, seldom used)

        stored = without_classifier(stored, spec.tag)
    return {f"body.{name}": value for name, value in stored.items()}


BLOCKS_IN_STAGE = (1, 2, 2, 3, 3, 4, 1)
"""Lite0's blocks a stage; the packaged file numbers all sixteen in one row."""


def _lite_name(packaged: str) -> str:
    """Translate a name of the packaged state dict into ours: ``_blocks.3._bn0.bias`` -> ``blocks.2.0.bn1.bias``."""
    tops = {"_conv_stem": "conv_stem", "_bn0": "bn1", "_conv_head": "conv_head", "_bn1": "bn2"}
    found = re.fullmatch(r"_blocks\.(\d+)\.(_\w+)\.(\w+)", packaged)
    if found is None:
        top, _, rest = packaged.partition(".")
        return f"{tops.get(top, top)}.{rest}"
    number, layer, value = int(found[1]), found[2], found[3]
    names = {"_expand_conv": "conv_pw", "_depthwise_conv": "conv_dw", "_project_conv": "conv_pwl",
             "_bn0": "bn1", "_bn1": "bn2", "_bn2": "bn3"}  # fmt: skip
    if number == 0:  # the first block expands nothing, so its layers count from the depthwise one
        names |= {"_bn1": "bn1", "_bn2": "bn2", "_project_conv": "conv_pw"}
    stage = 0
    while number >= BLOCKS_IN_STAGE[stage]:
        number -= BLOCKS_IN_STAGE[stage]
        stage += 1
    return f"blocks.{stage}.{number}.{names.get(layer, layer)}.{value}"
