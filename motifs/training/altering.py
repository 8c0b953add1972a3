"""Alter a batch's looks so that only the drawing is left to learn: colour, inversion, contrast, blur."""

from __future__ import annotations

import torch
from torch import Tensor
from torch.nn import functional


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
    mean = (images * masks).sum(dim=(2, 3), keepdim=True) / masks.sum(dim=(2, 3), keepdim=True).clamp(min=1)
    return images * masks + mean * (1 - masks)
