"""The network behind an encoder, in plain PyTorch: body, masked pooling, optional projection, unit length.

The body is EfficientNet-Lite [1]_ [2]_: inverted residuals without squeeze-and-excitation, ReLU6, "SAME"
padding, fixed stem and head. Module names follow the layout most published checkpoints use, so that
their state dicts load unchanged. Nothing here needs more than torch, so that training runs anywhere.

References
----------
.. [1] Tan & Le 2019, "EfficientNet: Rethinking Model Scaling for Convolutional Neural Networks", ICML.
.. [2] Sandler et al. 2018, "MobileNetV2: Inverted Residuals and Linear Bottlenecks", CVPR.
.. [3] Radenovic, Tolias & Chum 2018, "Fine-tuning CNN Image Retrieval with No Human Annotation", TPAMI
       (generalised-mean pooling).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import torch
from torch import Tensor, nn
from torch.nn import functional

from motifs.embedding.cells import CellHead
from motifs.errors import ModelError

if TYPE_CHECKING:
    from motifs.embedding.specs import EncoderSpec, Pooling

STAGES = ((1, 3, 1, 1, 16), (2, 3, 2, 6, 24), (2, 5, 2, 6, 40), (3, 3, 2, 6, 80), (3, 5, 1, 6, 112), (4, 5, 2, 6, 192),
          (1, 3, 1, 6, 320))  # fmt: skip
"""Repeats, kernel side, first stride, expansion, output channels: table 1 of [1]_ (B0, which Lite0 shares)."""
SCALING = {"lite0": (1.0, 1.0), "lite1": (1.0, 1.1), "lite2": (1.1, 1.2)}
"""Width and depth multipliers of the Lite family; stem, head and the outer stages' depth stay fixed."""
STEM_CHANNELS, HEAD_CHANNELS, BATCH_NORM_EPS = 32, 1280, 1e-3
GEM_POWER = 3.0
SMALLEST_MASK_SHARE = 1e-4


class SameConv(nn.Conv2d):
    """Convolution with output side ceil(input side / stride); an odd padding pixel goes right and below."""

    def __init__(self, c_in: int, c_out: int, side: int, stride: int = 1, groups: int = 1) -> None:
        padding = side // 2 if stride == 1 else 0
        super().__init__(c_in, c_out, side, stride, padding=padding, groups=groups, bias=False)

    def forward(self, x: Tensor) -> Tensor:
        """(B, c_in, H, W) -> (B, c_out, ceil(H / stride), ceil(W / stride))."""
        side, stride = self.kernel_size[0], self.stride[0]
        if stride > 1:
            high, wide = (max((-(-n // stride) - 1) * stride + side - n, 0) for n in x.shape[-2:])
            x = functional.pad(x, (wide // 2, wide - wide // 2, high // 2, high - high // 2))
        return super().forward(x)


class PlainBlock(nn.Module):
    """Depthwise-separable convolution: the first stage, where nothing is expanded."""

    def __init__(self, c_in: int, c_out: int, side: int, stride: int) -> None:
        super().__init__()
        self.conv_dw = SameConv(c_in, c_in, side, stride, groups=c_in)
        self.bn1 = nn.BatchNorm2d(c_in, eps=BATCH_NORM_EPS)
        self.conv_pw = SameConv(c_in, c_out, 1)
        self.bn2 = nn.BatchNorm2d(c_out, eps=BATCH_NORM_EPS)
        self.is_residual = stride == 1 and c_in == c_out

    def forward(self, x: Tensor) -> Tensor:
        """(B, c_in, H, W) -> (B, c_out, H / stride, W / stride)."""
        y = self.bn2(self.conv_pw(functional.relu6(self.bn1(self.conv_dw(x)))))
        added: Tensor = x + y if self.is_residual else y
        return added


class InvertedResidual(nn.Module):
    """Expand, filter each channel, project back [2]_."""

    def __init__(self, c_in: int, c_out: int, side: int, stride: int, expansion: int) -> None:
        super().__init__()
        c_mid = c_in * expansion
        self.conv_pw = SameConv(c_in, c_mid, 1)
        self.bn1 = nn.BatchNorm2d(c_mid, eps=BATCH_NORM_EPS)
        self.conv_dw = SameConv(c_mid, c_mid, side, stride, groups=c_mid)
        self.bn2 = nn.BatchNorm2d(c_mid, eps=BATCH_NORM_EPS)
        self.conv_pwl = SameConv(c_mid, c_out, 1)
        self.bn3 = nn.BatchNorm2d(c_out, eps=BATCH_NORM_EPS)
        self.is_residual = stride == 1 and c_in == c_out

    def forward(self, x: Tensor) -> Tensor:
        """(B, c_in, H, W) -> (B, c_out, H / stride, W / stride)."""
        y = functional.relu6(self.bn1(self.conv_pw(x)))
        y = functional.relu6(self.bn2(self.conv_dw(y)))
        y = self.bn3(self.conv_pwl(y))
        added: Tensor = x + y if self.is_residual else y
        return added


def _scaled_channels(channels: int, width: float) -> int:
    """Scale a channel count to the nearest multiple of 8, never more than 10 % below."""
    if width == 1.0:
        return channels
    scaled = max(8, int(channels * width + 4) // 8 * 8)
    return scaled + 8 if scaled < 0.9 * channels * width else scaled


class LiteBody(nn.Module):
    """EfficientNet-Lite up to its last feature map.

    Parameters
    ----------
    variant: ``lite0``, ``lite1`` or ``lite2``.
    has_head: whether the last 1 x 1 convolution is there.

    Attributes
    ----------
    channels: of the feature map.
    """

    def __init__(self, variant: str = "lite0", *, has_head: bool = True) -> None:
        super().__init__()
        width, depth = SCALING[variant]
        self.conv_stem = SameConv(3, STEM_CHANNELS, 3, stride=2)
        self.bn1 = nn.BatchNorm2d(STEM_CHANNELS, eps=BATCH_NORM_EPS)
        stages, c_in = [], STEM_CHANNELS
        for number, (repeats, side, stride, expansion, channels) in enumerate(STAGES):
            is_outer = number in {0, len(STAGES) - 1}
            c_out = _scaled_channels(channels, width)
            count = repeats if is_outer else math.ceil(repeats * depth)
            blocks = [_block(c_in if i == 0 else c_out, c_out, side, stride if i == 0 else 1, expansion)
                      for i in range(count)]  # fmt: skip
            stages.append(nn.Sequential(*blocks))
            c_in = c_out
        self.blocks = nn.Sequential(*stages)
        self.has_head = has_head
        self.channels = HEAD_CHANNELS if has_head else c_in
        if has_head:
            self.conv_head = SameConv(c_in, HEAD_CHANNELS, 1)
            self.bn2 = nn.BatchNorm2d(HEAD_CHANNELS, eps=BATCH_NORM_EPS)

    def forward(self, images: Tensor) -> Tensor:
        """(B, 3, S, S) float, normalised -> (B, channels, S / 32, S / 32) float, from a head >= 0."""
        x = functional.relu6(self.bn1(self.conv_stem(images)))
        x = self.blocks(x)
        return functional.relu6(self.bn2(self.conv_head(x))) if self.has_head else x


def _block(c_in: int, c_out: int, side: int, stride: int, expansion: int) -> nn.Module:
    if expansion == 1:
        return PlainBlock(c_in, c_out, side, stride)
    return InvertedResidual(c_in, c_out, side, stride, expansion)


def pool(features: Tensor, masks: Tensor, pooling: Pooling) -> Tensor:
    """Turn a feature map into one vector an image, listening only to the sherd.

    Parameters
    ----------
    features: (B, C, h, w) float.
    masks: (B, 1, S, S) float, 1 inside the sherd; each cell weighs as much as the sherd covers of it.
    pooling: see EncoderSpec.

    Returns
    -------
    (B, C) float. An image whose mask is empty is averaged over all its cells.
    """
    share = functional.adaptive_avg_pool2d(masks, (int(features.shape[-2]), int(features.shape[-1])))
    if pooling == "plain":
        share = torch.ones_like(share)
    total = share.sum(dim=(2, 3))
    share = torch.where(total[:, :, None, None] > SMALLEST_MASK_SHARE, share, torch.ones_like(share))
    total = share.sum(dim=(2, 3))
    if pooling == "masked_gem":
        cells = features.clamp(min=1e-6).pow(GEM_POWER)
        return ((cells * share).sum(dim=(2, 3)) / total).pow(1.0 / GEM_POWER)
    return (features * share).sum(dim=(2, 3)) / total


class SherdNetwork(nn.Module):
    """Images and masks to unit vectors.

    Attributes
    ----------
    body: the convolutional network; has ``channels``.
    projection: linear layer after the pooling, or an identity.
    second: another body of the same shape, or None; its unit vector stands beside the first one's.
    cells: head for descriptors of the first body's cells, or None.
    """

    mean: Tensor
    std: Tensor

    def __init__(self, spec: EncoderSpec, body: nn.Module, channels: int, second: nn.Module | None = None) -> None:
        super().__init__()
        self.pooling: Pooling = spec.pooling
        self.body = body
        self.second, self.second_share = second, spec.second_share
        self.projection: nn.Module = nn.Linear(channels, spec.dim) if spec.has_projection else nn.Identity()
        self.cells = CellHead(channels) if spec.has_cells else None
        self.register_buffer("mean", torch.tensor(spec.mean).reshape(1, 3, 1, 1), persistent=False)
        self.register_buffer("std", torch.tensor(spec.std).reshape(1, 3, 1, 1), persistent=False)

    def features(self, images: Tensor) -> Tensor:
        """(B, 3, S, S) float RGB in 0..1 -> (B, C, h, w): the last feature map, for local descriptors."""
        cells: Tensor = self.body((images - self.mean) / self.std)
        return cells

    def forward(self, images: Tensor, masks: Tensor) -> Tensor:
        """Embed views.

        Parameters
        ----------
        images: (B, 3, S, S) float, RGB in 0..1, backdrop already replaced.
        masks: (B, 1, S, S) float, 1 inside the sherd.

        Returns
        -------
        (B, dim) float, rows of unit length.
        """
        pooled = pool(self.features(images), masks, self.pooling)
        vectors = functional.normalize(self.projection(pooled), dim=1)
        if self.second is None:
            return vectors
        others = pool(self.second((images - self.mean) / self.std), masks, self.pooling)
        share = self.second_share
        return torch.cat([math.sqrt(1 - share) * vectors, math.sqrt(share) * functional.normalize(others, dim=1)], dim=1)


def build_network(spec: EncoderSpec) -> SherdNetwork:
    """Build the network of a specification with fresh weights, ready to be trained or loaded.

    Parameters
    ----------
    spec: of one of this project's own bodies (``lite0`` to ``lite2``) or ``torchvision``.

    Returns
    -------
    SherdNetwork in training mode, float32, on the CPU.

    Raises
    ------
    ModelError: the spec's dim does not fit its body, or torchvision has no such network.
    """
    body, channels = _body_of(spec)
    second = _body_of(spec)[0] if spec.second_share > 0 else None
    given = channels * (1 if second is None else 2)
    if not spec.has_projection and spec.dim != given:
        raise ModelError(f"Encoder {spec.tag!r} states {spec.dim} numbers a vector, its network gives {given}.")
    return SherdNetwork(spec, body, channels, second)


def _body_of(spec: EncoderSpec) -> tuple[nn.Module, int]:
    """Build a body with fresh weights; returns it and the channels of its feature map."""
    if spec.body == "torchvision":
        from motifs.embedding.torchvision_bodies import body_named  # noqa: PLC0415  (slow to import, seldom used)

        return body_named(spec.tag)
    body = LiteBody(spec.body, has_head=spec.features == "head")
    return body, body.channels
