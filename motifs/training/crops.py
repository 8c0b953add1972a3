"""Draw sherds from painted surfaces on a graphics card: cut, turn, curve, light, blur and mask, a batch at a time.

This is the photograph in short: the wall is a cylinder, relief and curvature are shaded by one light from above, what
light correction leaves is a small gain a channel, then blur and noise. The sherd is what several broken edges leave.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

from motifs.training.surfaces import MAP_STEP, PX_PER_MM, RELIEF_STEP_MM, Surfaces

if TYPE_CHECKING:
    from numpy.typing import NDArray

CELL = 8
"""Motif shares are read at every eighth pixel of a view."""
MOST_MOTIFS = 3
"""Motifs that a sherd is known by."""


@dataclass(frozen=True, slots=True)
class CropSettings:
    """How sherds are drawn. Lengths in mm; `*_sd` are standard deviations of logarithms unless said otherwise."""

    side_px: int = 224
    px_per_mm: float = 4.0
    size_mm: tuple[float, float] = (16.0, 64.0)
    scale_sd: float = 0.02
    gain_sd: float = 0.03
    light_deg: tuple[float, float] = (35.0, 75.0)
    ambient: tuple[float, float] = (0.25, 0.6)
    blur_px: tuple[float, float] = (0.2, 1.0)
    noise_sd: tuple[float, float] = (0.0, 0.02)  # of sRGB 0..1


@dataclass(frozen=True, slots=True)
class Batch:
    """Drawn sherds. images: (B, 3, S, S) float sRGB 0..1, grey outside; masks: (B, 1, S, S).

    families, shares: (B, K), the motifs that cover most of each sherd and which share of it. pot: (B,), below 0 when of no pot.
    """

    images: Tensor
    masks: Tensor
    families: Tensor
    shares: Tensor
    pot: Tensor


class CropMaker:
    """Holds the surfaces on a device and draws batches from them."""

    def __init__(self, surfaces: Surfaces, device: torch.device, settings: CropSettings) -> None:
        self.packed = _on_device(surfaces.packed, device)
        self.shape = surfaces.packed.shape[1:3]
        self.motifs = torch.from_numpy(surfaces.motifs).to(device)
        self.size = torch.from_numpy(surfaces.size_px).to(device)
        self.girth_mm = torch.from_numpy(surfaces.girth_mm).to(device)
        self.families = surfaces.families
        self.device, self.settings = device, settings

    def draw(self, pot: Tensor, centre: Tensor, generator: torch.Generator, photo: Tensor | None = None) -> Batch:
        """Draw one sherd for each entry.

        Parameters
        ----------
        pot : (B,) int64. centre : (B, 2) float, row and column on the surface, px. photo : (B,) int64, sherds of one number
        share light and camera; each its own when None.
        """
        s = self.settings
        count = len(pot)
        photo = torch.arange(count, device=self.device) if photo is None else photo
        shoot = Shots(int(photo.max()) + 1, s, generator, self.device)
        step = PX_PER_MM / s.px_per_mm * torch.exp(s.scale_sd * self._normal(count, generator))
        angle = 2 * torch.pi * self._uniform(count, generator)
        rows, columns, across = self._grid(centre, angle, step)
        colour, relief, inside = self._sample(pot, rows, columns)
        mask = sherd_masks(count, s, generator, self.device) & inside
        slope = -across / (self.girth_mm[pot] / (2 * torch.pi)).clamp(min=25)[:, None, None]
        light = shade(relief, slope, angle, step, shoot, photo)
        images = photograph(colour * light[:, None], shoot, photo, generator)
        masks = mask[:, None].float()
        shares, families = self._shares(pot, rows, columns, mask).topk(MOST_MOTIFS, dim=1)
        return Batch(images * masks + 0.5 * (1 - masks), masks, families, shares, pot)

    def _uniform(self, count: int, generator: torch.Generator) -> Tensor:
        return torch.rand(count, generator=generator, device=self.device)

    def _normal(self, count: int, generator: torch.Generator) -> Tensor:
        return torch.randn(count, generator=generator, device=self.device)

    def _grid(self, centre: Tensor, angle: Tensor, step: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        """Surface rows and columns of every view pixel, and mm along the girth from the middle, each (B, S, S)."""
        side = self.settings.side_px
        line = torch.arange(side, device=self.device) - (side - 1) / 2
        y, x = torch.meshgrid(line, line, indexing="ij")
        cos, sin = torch.cos(angle)[:, None, None], torch.sin(angle)[:, None, None]
        across = (cos * x - sin * y) * step[:, None, None]
        down = (sin * x + cos * y) * step[:, None, None]
        return centre[:, 0, None, None] + down, centre[:, 1, None, None] + across, across / PX_PER_MM

    def _sample(self, pot: Tensor, rows: Tensor, columns: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        """Linear colour (B, 3, S, S), relief in mm (B, S, S) and whether the surface is there, bilinear."""
        height, width = self.size[pot, 0][:, None, None], self.size[pot, 1][:, None, None]
        inside = (rows >= 0) & (rows < height - 1) & (columns >= 0) & (columns < width - 1)
        rows = rows.clamp(min=0).minimum(height - 1.001)
        columns = columns.clamp(min=0).minimum(width - 1.001)
        top, left = rows.floor(), columns.floor()
        down, right = (rows - top)[..., None], (columns - left)[..., None]
        base = pot[:, None, None] * (self.shape[0] * self.shape[1]) + top.long() * self.shape[1] + left.long()
        upper = self._take(base) * (1 - right) + self._take(base + 1) * right
        lower = self._take(base + self.shape[1]) * (1 - right) + self._take(base + self.shape[1] + 1) * right
        value = upper * (1 - down) + lower * down
        colour = (value[..., :3] / 255).square().permute(0, 3, 1, 2)
        return colour, (value[..., 3] - 128) * RELIEF_STEP_MM, inside

    def _take(self, index: Tensor) -> Tensor:
        four = self.packed[index].unsqueeze(-1).view(torch.uint8)
        return four.float()

    def _shares(self, pot: Tensor, rows: Tensor, columns: Tensor, mask: Tensor) -> Tensor:
        """Share of each sherd that each family covers, (B, F)."""
        half = CELL // 2
        row = (rows[:, half::CELL, half::CELL] / MAP_STEP).long().clamp(0, self.motifs.shape[1] - 1)
        column = (columns[:, half::CELL, half::CELL] / MAP_STEP).long().clamp(0, self.motifs.shape[2] - 1)
        inside = mask[:, half::CELL, half::CELL]
        family = self.motifs[pot[:, None, None], row, column].long()
        family = torch.where(inside & (family >= 0), family, self.families).flatten(1)
        counts = torch.zeros(len(pot), self.families + 1, device=self.device)
        counts.scatter_add_(1, family, torch.ones_like(family, dtype=torch.float32))
        return counts[:, : self.families] / inside.flatten(1).sum(dim=1, keepdim=True).clamp(min=1)


class Shots:
    """Light and camera of each photograph."""

    def __init__(self, count: int, s: CropSettings, generator: torch.Generator, device: torch.device) -> None:
        def between(limits: tuple[float, float]) -> Tensor:
            return limits[0] + (limits[1] - limits[0]) * torch.rand(count, generator=generator, device=device)

        elevation, azimuth = torch.deg2rad(between(s.light_deg)), between((0.0, 2 * torch.pi))
        self.light = torch.stack(
            [elevation.cos() * azimuth.cos(), elevation.cos() * azimuth.sin(), elevation.sin()], dim=1
        )
        self.ambient = between(s.ambient)
        tone = s.gain_sd * torch.randn(count, 1, generator=generator, device=device)
        self.gain = torch.exp(tone + 0.6 * s.gain_sd * torch.randn(count, 3, generator=generator, device=device))
        self.blur_px, self.noise = between(s.blur_px), between(s.noise_sd)


def _on_device(packed: NDArray[np.uint8], device: torch.device, at_once: int = 64) -> Tensor:
    """Four bytes a pixel as one int32, flat, copied a few pots at a time."""
    pots, height, width, _ = packed.shape
    flat = torch.empty(pots * height * width, dtype=torch.int32, device=device)
    for first in range(0, pots, at_once):
        part = torch.from_numpy(np.array(packed[first : first + at_once])).view(torch.int32).reshape(-1)
        flat[first * height * width : first * height * width + len(part)] = part.to(device)
    return flat


def sherd_masks(count: int, s: CropSettings, generator: torch.Generator, device: torch.device) -> Tensor:
    """Pieces between five to eight wavy broken edges, (B, S, S) bool."""
    side, edges = s.side_px, 7
    line = (torch.arange(side, device=device) - (side - 1) / 2) / s.px_per_mm
    y, x = torch.meshgrid(line, line, indexing="ij")
    low, high = s.size_mm
    size = low * (high / low) ** torch.rand(count, 1, generator=generator, device=device) / 2
    jitter = torch.rand(count, edges, generator=generator, device=device)
    angle = (torch.arange(edges, device=device) + jitter) * (2 * torch.pi / edges)
    reach = size * (0.65 + 0.75 * torch.rand(count, edges, generator=generator, device=device))
    reach = torch.where(torch.rand(count, edges, generator=generator, device=device) < 0.25, reach * 4, reach)
    waves = torch.randn(count, 1, side // 14, side // 14, generator=generator, device=device)
    waves = functional.interpolate(waves, (side, side), mode="bicubic", align_corners=False)[:, 0]
    mask = torch.ones(count, side, side, dtype=torch.bool, device=device)
    for edge in range(edges):
        along = angle[:, edge].cos()[:, None, None] * x + angle[:, edge].sin()[:, None, None] * y
        mask &= along + 0.7 * waves < reach[:, edge, None, None]
    return mask


def shade(relief: Tensor, slope: Tensor, angle: Tensor, step: Tensor, shoot: Shots, photo: Tensor) -> Tensor:
    """Lambert's law on relief and curvature, relative to a flat wall, (B, S, S)."""
    pixel_mm = (step / PX_PER_MM)[:, None, None]
    gx = functional.pad(relief[:, :, 2:] - relief[:, :, :-2], (1, 1)) / (2 * pixel_mm)
    gy = functional.pad(relief[:, 2:, :] - relief[:, :-2, :], (0, 0, 1, 1)) / (2 * pixel_mm)
    cos, sin = torch.cos(angle)[:, None, None], torch.sin(angle)[:, None, None]
    gx, gy = gx + slope * cos, gy - slope * sin
    light = shoot.light[photo]
    direct = (light[:, 2, None, None] - gx * light[:, 0, None, None] - gy * light[:, 1, None, None]).clamp(min=0)
    direct = direct / torch.sqrt(1 + gx.square() + gy.square()) / light[:, 2, None, None]
    ambient = shoot.ambient[photo][:, None, None]
    return ambient + (1 - ambient) * direct


def photograph(linear: Tensor, shoot: Shots, photo: Tensor, generator: torch.Generator) -> Tensor:
    """Gain, blur, the sRGB curve and noise: (B, 3, S, S) in 0..1."""
    lit = linear * shoot.gain[photo][:, :, None, None]
    soft = _blur(lit, 0.6)
    share = shoot.blur_px[photo][:, None, None, None].clamp(max=1.0)
    lit = (lit + share * (soft - lit)).clamp(0, 1)
    curve = torch.where(lit <= 0.0031308, 12.92 * lit, 1.055 * lit.clamp(min=1e-6) ** (1 / 2.4) - 0.055)
    noise = torch.randn(curve.shape, generator=generator, device=curve.device)
    return (curve + noise * shoot.noise[photo][:, None, None, None]).clamp(0, 1)


def _blur(images: Tensor, sigma_px: float) -> Tensor:
    offsets = torch.arange(-2, 3, device=images.device, dtype=images.dtype)
    kernel = torch.exp(-0.5 * (offsets / sigma_px) ** 2)
    kernel = kernel / kernel.sum()
    channels = images.shape[1]
    wide = functional.conv2d(
        images, kernel.reshape(1, 1, 1, 5).repeat(channels, 1, 1, 1), padding=(0, 2), groups=channels
    )
    return functional.conv2d(
        wide, kernel.reshape(1, 1, 5, 1).repeat(channels, 1, 1, 1), padding=(2, 0), groups=channels
    )
