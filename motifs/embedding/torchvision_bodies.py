"""torchvision's networks by name, when their weights already lie in torch's cache on this machine."""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import TYPE_CHECKING
from urllib.parse import urlparse

import torch
import torchvision
from torch import Tensor, nn

from motifs.embedding.specs import EncoderSpec
from motifs.errors import UnknownName

if TYPE_CHECKING:
    from collections.abc import Mapping

MEAN, STD = (0.485, 0.456, 0.406), (0.229, 0.224, 0.225)
"""Normalisation of torchvision's ImageNet networks, from its weights' own transforms."""


def spec_named(tag: str) -> EncoderSpec:
    """Specify ``torchvision.NETWORK.WEIGHTS``.

    Raises
    ------
    UnknownName: no such network or weights, or a network without a feature map (a transformer).
    """
    _, name, weights_name = [*tag.split("."), "", ""][:3]
    try:
        weights = torchvision.models.get_model_weights(name)[weights_name]
    except (ValueError, KeyError) as problem:
        raise UnknownName(f"torchvision has no network and weights {tag!r}; check the spelling.") from problem
    file_name = PurePosixPath(urlparse(weights.url).path).name
    preparation = weights.transforms()
    return EncoderSpec(
        tag=tag,
        body="torchvision",
        weights=f"hub:{file_name}",
        sha256=file_name.rpartition("-")[2].partition(".")[0],
        licence="as stated by torchvision for these weights",
        source=weights.url,
        px_per_mm=4.0,
        input_px=224,
        mean=tuple(preparation.mean),
        std=tuple(preparation.std),
        dim=body_named(tag)[1],
    )


def body_named(tag: str) -> tuple[nn.Module, int]:
    """Build the convolutional part of a torchvision network with fresh weights, and count its channels.

    Raises
    ------
    UnknownName: no such network, or one that has no feature map.
    """
    name = tag.split(".")[1]
    try:
        network = torchvision.models.get_model(name, weights=None)
    except ValueError as problem:
        raise UnknownName(f"torchvision has no network {name!r}; check the spelling.") from problem
    body = _features(network, tag)
    with torch.inference_mode():
        channels = int(body.eval()(torch.zeros(1, 3, 64, 64)).shape[1])
    return body.train(), channels


def _features(network: nn.Module, tag: str) -> nn.Module:
    parts = dict(network.named_children())
    if "layer4" in parts:
        kept = {name: part for name, part in parts.items() if name not in {"avgpool", "fc"}}
    elif "features" in parts:
        kept = {"features": parts["features"]}
    else:
        raise UnknownName(f"{tag!r} has no convolutional feature map; choose a convolutional network.")
    body = nn.Sequential()
    for name, part in kept.items():
        body.add_module(name, part)
    return body


def without_classifier(state: Mapping[str, Tensor], tag: str) -> dict[str, Tensor]:
    """Keep the part of a published state dict that the body of ``tag`` has."""
    wanted = body_named(tag)[0].state_dict().keys()
    return {name: value for name, value in state.items() if name in wanted}
