"""Compose decorated sherds on a graphics card straight from the atlas: bands, rows, hands, techniques, paste, wear.

Nothing is painted beforehand, so every sherd is new: another size, line width, layout, symmetry, technique, colour and hand.
It is drawn in far plainer strokes than the painted pots, but from twenty times as many motifs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import torch
from torch import Tensor
from torch.nn import functional

from motifs.training.atlas import FAR
from motifs.training.crops import CELL, Batch, CropSettings, Shots, photograph, shade, sherd_masks
from motifs.training.surfaces import PX_PER_MM

if TYPE_CHECKING:
    from motifs.training.atlas import Atlas

EDGE_MM = 0.25
"""Softness of a drawn edge."""


@dataclass(frozen=True, slots=True)
class _Plan:
    """Where the cells of every sherd lie. All (B, 1, 1) unless said otherwise."""

    height: Tensor
    width: Tensor
    pitch_x: Tensor
    pitch_y: Tensor
    line: Tensor
    angle: Tensor  # (B,)
    step: Tensor  # (B,)


class Composer:
    """Holds the atlas on a device and draws batches of the families asked for."""

    def __init__(self, atlas: Atlas, device: torch.device, settings: CropSettings) -> None:
        self.tiles = torch.from_numpy(atlas.tiles).to(device)
        self.aspect = torch.from_numpy(atlas.aspect).to(device)
        ident = torch.from_numpy(atlas.ident).to(device)
        self.idents, self.count = torch.unique_consecutive(ident, return_counts=True)
        self.start = torch.cumsum(self.count, 0) - self.count
        self.own = int((self.idents < int(ident[: max(atlas.own, 1)].max()) + 1).sum()) if atlas.own else 0
        self.device, self.settings = device, settings

    def pick(self, number: int, generator: torch.Generator, own_share: float = 0.35) -> Tensor:
        """Places (number,) of different families, a share of them of the practice families."""
        own = min(round(number * own_share), self.own)
        first = torch.randperm(self.own, generator=generator, device=self.device)[:own]
        rest = torch.randperm(len(self.idents) - self.own, generator=generator, device=self.device)[: number - own]
        return torch.cat([first, self.own + rest])

    def draw(self, family: Tensor, generator: torch.Generator) -> Batch:
        """Draw one sherd for each entry of family (B,), places in self.idents."""
        self._generator = generator
        s, count = self.settings, len(family)
        other = self._randint(len(self.idents), count)
        first, second = self._tile_of(family), self._tile_of(other)
        plan = self._plan(first)
        u, v = self._surface(plan)
        cells = self._cells(plan, u, v)
        ink, frame, owner = self._ink(plan, cells, first, second, u, v)
        shoot = Shots(count, s, generator, self.device)
        colour, relief = self._matter(ink, frame)
        photo = torch.arange(count, device=self.device)
        girth = 250 * torch.exp(0.4 * self._normal(count))
        slope = -u / (girth / (2 * math.pi)).clamp(min=25)[:, None, None] * 0.5
        light = shade(relief, slope, plan.angle, plan.step, shoot, photo)
        images = photograph(colour * light[:, None], shoot, photo, generator)
        mask = sherd_masks(count, s, generator, self.device)
        masks = mask[:, None].float()
        families = torch.stack([self.idents[family], self.idents[other]], dim=1)
        return Batch(images * masks + 0.5 * (1 - masks), masks, families, _shares(owner, mask), -1 - photo)

    def _uniform(self, count: int, low: float, high: float) -> Tensor:
        return low + (high - low) * torch.rand(count, 1, 1, generator=self._generator, device=self.device)

    def _logarithmic(self, count: int, low: float, high: float) -> Tensor:
        drawn: Tensor = torch.exp(self._uniform(count, math.log(low), math.log(high)))
        return drawn

    def _chance(self, count: int, share: float) -> Tensor:
        return self._uniform(count, 0, 1) < share

    def _normal(self, *shape: int) -> Tensor:
        return torch.randn(*shape, generator=self._generator, device=self.device)

    def _randint(self, most: int, count: int) -> Tensor:
        return torch.randint(most, (count,), generator=self._generator, device=self.device)

    def _noise(self, count: int, channels: int, cells: int) -> Tensor:
        """Smooth noise (B, channels, S, S) of unit variance at its knots."""
        side = self.settings.side_px
        knots = self._normal(count, channels, cells, cells)
        smooth: Tensor = functional.interpolate(knots, (side, side), mode="bicubic", align_corners=False)
        return smooth

    def _tile_of(self, family: Tensor) -> Tensor:
        share = torch.rand(len(family), generator=self._generator, device=self.device)
        place: Tensor = self.start[family] + (share * self.count[family]).long()
        return place

    def _plan(self, tile: Tensor) -> _Plan:
        count = len(tile)
        height = self._logarithmic(count, 9, 42)
        width = height * self.aspect[tile][:, None, None] * torch.exp(0.12 * self._normal(count, 1, 1))
        gap_x = torch.where(self._chance(count, 0.15), self._uniform(count, 1.8, 3.5), self._uniform(count, 0.97, 1.4))
        gap_y = torch.where(self._chance(count, 0.15), self._uniform(count, 1.6, 3.0), self._uniform(count, 1.03, 1.5))
        line = torch.minimum(self._logarithmic(count, 0.45, 2.4), 0.12 * height)
        step = PX_PER_MM / self.settings.px_per_mm * torch.exp(self.settings.scale_sd * self._normal(count))
        angle = 2 * math.pi * torch.rand(count, generator=self._generator, device=self.device)
        return _Plan(height, width, width * gap_x, height * gap_y, line, angle, step)

    def _surface(self, plan: _Plan) -> tuple[Tensor, Tensor]:
        """Millimetres along and across the bands for every pixel of every view, shaken by the hand: (B, S, S) each."""
        count, side = len(plan.angle), self.settings.side_px
        at = torch.arange(side, device=self.device) - (side - 1) / 2
        y, x = torch.meshgrid(at, at, indexing="ij")
        cos, sin = torch.cos(plan.angle)[:, None, None], torch.sin(plan.angle)[:, None, None]
        pixel = (plan.step / PX_PER_MM)[:, None, None]
        squeeze = torch.exp(0.04 * self._normal(count, 1, 1))
        wide = self._noise(count, 2, 5) * self._logarithmic(count, 0.1, 1.2)[:, None]
        fine = self._noise(count, 2, 28) * self._logarithmic(count, 0.02, 0.22)[:, None]
        move = wide + fine
        return (cos * x - sin * y) * pixel * squeeze + move[:, 0], (sin * x + cos * y) * pixel / squeeze + move[:, 1]

    def _cells(self, plan: _Plan, u: Tensor, v: Tensor) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """Place in the cell, 0..1 along and across where the motif is, and column and row of the cell."""
        count = len(u)
        v = v + plan.pitch_y * self._uniform(
            count, 0.15, 0.85
        )  # the middle of the view lies in a cell of the family asked for
        row = torch.floor(v / plan.pitch_y)
        brick = torch.where(self._chance(count, 0.25), 0.5 * plan.pitch_x, torch.zeros_like(plan.pitch_x))
        u = u + plan.pitch_x * self._uniform(count, 0.15, 0.85) + brick * row
        column = torch.floor(u / plan.pitch_x)
        p = (u - (column + 0.5) * plan.pitch_x) / plan.width
        q = (v - (row + 0.5) * plan.pitch_y) / plan.height
        seed = self._uniform(count, 0, 100)
        care = self._logarithmic(count, 0.1, 1.0)
        shake = [_hashed(row, column, seed + 17.0 * k) * care for k in range(4)]
        turn, grow = 0.12 * shake[2], 1 + 0.10 * shake[3]
        aspect = plan.width / plan.height
        p, q = p + 0.05 * shake[0], q + 0.05 * shake[1]
        p, q = (p + turn * q / aspect) * grow, (q - turn * p * aspect) * grow
        return *self._symmetry(p, q, row, column), row, column

    def _symmetry(self, p: Tensor, q: Tensor, row: Tensor, column: Tensor) -> tuple[Tensor, Tensor]:
        """Mirror and turn alternate cells, and whole sherds: both in 0..1 inside the cell afterwards."""
        count = len(p)
        mode = torch.randint(6, (count, 1, 1), generator=self._generator, device=self.device)
        odd, second = (column + row).remainder(2) > 0, column.remainder(4) > 1
        over = ((mode == 3) & odd) | ((mode == 4) & odd) | ((mode == 5) & odd) | self._chance(count, 0.5)
        down = ((mode == 2) & odd) | ((mode == 4) & odd) | ((mode == 5) & second) | self._chance(count, 0.5)
        return torch.where(over, -p, p) + 0.5, torch.where(down, -q, q) + 0.5

    def _ink(
        self, plan: _Plan, cells: tuple[Tensor, ...], first: Tensor, second: Tensor, u: Tensor, v: Tensor
    ) -> tuple[Tensor, Tensor, Tensor]:
        """Share of a pixel that is drawn, that of the framing lines, and whose cell it is (0, 1 or -1): (B, S, S)."""
        p, q, row, _ = cells
        count = len(p)
        inside = (p >= 0) & (p <= 1) & (q >= 0) & (q <= 1)
        kind = self._uniform(count, 0, 1)
        other = (row.remainder(2) > 0) & (kind < 0.6)
        plain = other & (kind > 0.3)
        grid = torch.stack([p, q], dim=-1) * 2 - 1
        near = (
            torch.where(other[:, None], self._look_up(second, grid), self._look_up(first, grid)) * plan.height[:, None]
        )
        near = torch.where(inside[:, None], near, torch.full_like(near, 99.0))
        ink = self._drawn(near[:, 0], near[:, 1], plan, u, v)
        ink = torch.where(plain, torch.zeros_like(ink), ink)
        negative = self._chance(count, 0.12) & inside & ~plain
        ink = torch.where(negative, 1 - ink, ink)
        owner = torch.where(inside & ~plain, other.long(), -torch.ones_like(other, dtype=torch.long))
        return ink, self._frames(plan, p, q), owner

    def _look_up(self, tile: Tensor, grid: Tensor) -> Tensor:
        """Distances (B, 2, S, S) in cell heights."""
        maps = (self.tiles[tile].float() - 128) * (FAR / 127)
        return functional.grid_sample(maps, grid, mode="bilinear", padding_mode="border", align_corners=False)

    def _drawn(self, fill: Tensor, line: Tensor, plan: _Plan, u: Tensor, v: Tensor) -> Tensor:
        count = len(fill)
        half, edge = plan.line / 2, EDGE_MM
        way = self._uniform(count, 0, 1)
        shapes = (0.5 - fill / edge).clamp(0, 1)
        rims = (0.5 - (fill.abs() - half) / edge).clamp(0, 1)
        lean = self._uniform(count, 0, math.pi)
        along = u * torch.cos(lean) + v * torch.sin(lean)
        gap = plan.line * self._uniform(count, 1.8, 3.2)
        stripes = (0.5 - ((along.remainder(gap) - gap / 2).abs() - 0.4 * half) / edge).clamp(0, 1)
        across = v * torch.cos(lean) - u * torch.sin(lean)
        apart = torch.hypot(along.remainder(gap) - gap / 2, across.remainder(gap) - gap / 2)
        dots = (0.5 - (apart - 0.6 * half) / edge).clamp(0, 1)
        ink = torch.where(way < 0.5, shapes, rims)
        ink = torch.where((way > 0.72) & (way < 0.9), torch.maximum(rims, shapes * stripes), ink)
        ink = torch.where(way > 0.9, torch.maximum(rims * (way > 0.95), shapes * dots), ink)
        strokes = (0.5 - (line - half) / edge).clamp(0, 1)
        double = (0.5 - ((line - plan.line).abs() - 0.35 * half) / edge).clamp(0, 1)
        return torch.maximum(ink, torch.where(self._chance(count, 0.1), double, strokes))

    def _frames(self, plan: _Plan, p: Tensor, q: Tensor) -> Tensor:
        count = len(p)
        room_y = (plan.pitch_y / plan.height) / 2
        from_edge = (room_y - (q - 0.5).abs()).abs() * plan.height
        half = plan.line / 2 * self._uniform(count, 0.7, 1.4)
        once = (0.5 - (from_edge - half) / EDGE_MM).clamp(0, 1)
        twice = (0.5 - ((from_edge - 3.2 * half).abs() - half) / EDGE_MM).clamp(0, 1)
        frame = torch.where(self._chance(count, 0.4), torch.maximum(once, twice), once) * self._chance(count, 0.55)
        room_x = (plan.pitch_x / plan.width) / 2
        from_side = (room_x - (p - 0.5).abs()).abs() * plan.width
        panel = (0.5 - (from_side - half) / EDGE_MM).clamp(0, 1) * self._chance(count, 0.12)
        return torch.maximum(frame, panel)

    def _matter(self, ink: Tensor, frame: Tensor) -> tuple[Tensor, Tensor]:
        """Linear colour (B, 3, S, S) and relief in mm (B, S, S): paste, paint or cut, wear and clouds."""
        count = len(ink)
        way = self._uniform(count, 0, 1)
        painted, raised = way < 0.62, way > 0.9
        wear = self._uniform(count, 0, 0.8) * torch.sigmoid(
            2.5 * self._noise(count, 1, 30)[:, 0] - self._uniform(count, -1, 3)
        )
        both = torch.maximum(ink, frame)
        ground, paint, other = self._colour(count), self._paint(count), self._paint(count)
        paint_of_frame = torch.where(self._chance(count, 0.2)[:, None], other, paint)
        cover = (both * (1 - wear))[:, None]
        tint = torch.where((frame > ink)[:, None], paint_of_frame, paint)
        strength = torch.where(painted, torch.ones_like(way), self._uniform(count, -0.1, 0.25).clamp(min=0))[:, None]
        colour = ground * (1 - cover * strength) + tint * cover * strength
        soft = functional.avg_pool2d(both[:, None], 3, 1, 1)[:, 0]
        sign = torch.where(raised, torch.ones_like(way), -torch.ones_like(way))
        relief = torch.where(painted, torch.zeros_like(way), sign * self._uniform(count, 0.15, 0.9)) * soft
        grain = self._noise(count, 1, 112)[:, 0] * self._uniform(count, 0, 0.05)
        grain = grain + self._noise(count, 1, 40)[:, 0] * self._uniform(count, 0, 0.06)
        cloud = self._noise(count, 1, 4)[:, 0] * self._uniform(count, 0, 0.35)
        return colour * torch.exp(grain + cloud)[:, None], relief + 0.25 * grain

    def _colour(self, count: int) -> Tensor:
        red = self._logarithmic(count, 0.07, 0.6)
        green = red * self._uniform(count, 0.45, 0.97)
        return torch.stack([red, green, green * self._uniform(count, 0.4, 0.97)], dim=1)

    def _paint(self, count: int) -> Tensor:
        dark = self._colour(count) * self._uniform(count, 0.05, 0.45)[:, None]
        light = self._uniform(count, 0.5, 0.85)[:, None] * torch.ones_like(dark)
        return torch.where(self._chance(count, 0.25)[:, None], light, dark)


def _hashed(row: Tensor, column: Tensor, seed: Tensor) -> Tensor:
    """A fixed number in -1..1 for every cell of every sherd."""
    value = torch.sin(row * 12.9898 + column * 78.233 + seed) * 43758.5453
    return 2 * (value - torch.floor(value)) - 1


def _shares(owner: Tensor, mask: Tensor) -> Tensor:
    """Share of each sherd covered by cells of its first and second family, (B, 2)."""
    half = CELL // 2
    seen, inside = owner[:, half::CELL, half::CELL].flatten(1), mask[:, half::CELL, half::CELL].flatten(1)
    total = inside.sum(dim=1).clamp(min=1)
    return torch.stack([((seen == k) & inside).sum(dim=1) / total for k in (0, 1)], dim=1)
