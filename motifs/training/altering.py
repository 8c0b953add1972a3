"""Alter a batch's looks so that only the drawing is left to learn: colour, inversion, contrast, blur."""

from __future__ import annotations

import torch
from torch import Tensor
from torch.nn import functional

from motifs.embedding.contrast import FAINTEST, GAIN, GROUND_MM, NEUTRAL, STRONG_QUANTILE


def alter_looks(images: Tensor, masks: Tensor, generator: torch.Generator) -> Tensor:
    """Random channel mixing, grey, inversion, contrast, shading slope and blur; fill stays the sherd's own mean.

    images : (B, 3, S, S) in 0..1. masks : (B, 1, S, S).
    """
    count, device = len(images), images.device

    def chance(share: float) -> Tensor:
        return (torch.rand(count, 1, 1, 1, generator=generator, device=device) < share).float()

    def spread(low: float, high: float) -> Tensor:
        return low + (high - low) * torch.rand(count, 1, 1, 1, generator=generator, device=device)

    mixing = torch.eye(3, device=device) + 0.35 * torch.randn(count, 3, 3, generator=generator, device=device)
    mixing = mixing / mixing.sum(dim=2, keepdim=True).clamp(min=0.3)
    mixed = torch.einsum("bij,bjhw->bihw", mixing, images).clamp(0, 1)
    images = images + chance(0.7) * (mixed - images)
    grey = images.mean(dim=1, keepdim=True)
    images = images + chance(0.4) * (grey - images)
    images = images + chance(0.45) * (1 - 2 * images)
    mean = (images * masks).sum(dim=(2, 3), keepdim=True) / masks.sum(dim=(2, 3), keepdim=True).clamp(min=1)
    images = mean + (images - mean) * spread(0.5, 1.8)
    images = images + (spread(0.25, 0.75) - mean) * spread(0.0, 1.0)
    soft = functional.avg_pool2d(functional.pad(images, (1, 1, 1, 1), mode="replicate"), 3, stride=1)
    images = (images + chance(0.35) * spread(0, 1) * (soft - images)).clamp(0, 1)
    return images * masks + 0.5 * (1 - masks)


def show_contrast(images: Tensor, masks: Tensor, px_per_mm: float) -> Tensor:
    """The same picture as motifs.embedding.contrast, for a batch: (B, 3, S, S) in 0..1, grey where nothing is drawn."""
    ground = _wide_blur(images * masks, GROUND_MM * px_per_mm)
    share = _wide_blur(masks, GROUND_MM * px_per_mm)
    strokes = (images - ground / (share + 1e-3)) * masks
    seen = strokes.abs().amax(dim=1)[:, ::4, ::4].flatten(1)
    inside = masks[:, 0, ::4, ::4].flatten(1) > 0.5
    strength = torch.nanquantile(torch.where(inside, seen, torch.nan), STRONG_QUANTILE, dim=1).nan_to_num(0.0)
    strength = strength.clamp(min=FAINTEST / 255)[:, None, None, None]
    return (NEUTRAL / 255 + GAIN / 255 * strokes / strength).clamp(0, 1)


def _wide_blur(images: Tensor, sigma_px: float) -> Tensor:
    """Separable Gaussian with nothing beyond the frame, like the weighted blur of the inference side."""
    reach = round(3 * sigma_px)
    offsets = torch.arange(-reach, reach + 1, device=images.device, dtype=images.dtype)
    kernel = torch.exp(-0.5 * (offsets / sigma_px) ** 2)
    kernel = (kernel / kernel.sum()).reshape(1, 1, -1)
    count, channels, height, width = images.shape
    rows = functional.conv1d(images.reshape(-1, 1, width), kernel, padding=reach).reshape(images.shape)
    columns = rows.transpose(2, 3).reshape(-1, 1, height)
    blurred = functional.conv1d(columns, kernel, padding=reach).reshape(count, channels, width, height)
    return blurred.transpose(2, 3)
