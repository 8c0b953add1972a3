"""The wall of one pot as functions of place (u round the pot, v down from the rim, in mm)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tests.outsider.optics import Image, lab_to_linear
from tests.outsider.style_two.designs import DistanceCell, distance_cell
from tests.outsider.style_two.grain import Tile, fleck_tile, grain_tile

if TYPE_CHECKING:
    from tests.outsider.style_two.recipes import PotRecipe

Cloud = tuple[float, float, float, float]


@dataclass(frozen=True)
class Wall:
    """A pot ready to be looked at anywhere."""

    recipe: PotRecipe
    cells: tuple[DistanceCell, ...]
    clouds: tuple[Cloud, ...]
    coarse: Tile
    middle: Tile
    fine: Tile
    flecks: Tile
    edge_radii_mm: float

    def colour(self, u: Image, v: Image) -> Image:
        """Reflectance of the surface, (..., 3) linear."""
        clay = self.recipe.paste
        tone = clay.blotch * (0.8 * self.coarse.at(u, v) + 0.6 * self.middle.at(v, u)) + 0.8 * self.fine.at(u, v)
        albedo = lab_to_linear(clay.lab) * (1 + tone * 0.026)[..., None]
        fleck = self.flecks.at(u, v)[..., None]
        albedo = albedo * (1 - fleck) + lab_to_linear(clay.fleck_lab) * fleck
        soot = self._soot(u, v)[..., None]
        albedo = albedo * (1 - soot) + lab_to_linear((20, 2, 4)) * soot
        return self._coloured(albedo, u, v).astype(np.float32)

    def relief(self, u: Image, v: Image) -> Image:
        """Height of the surface over the smooth wall, mm."""
        clay, maker = self.recipe.paste, self.recipe.maker
        bumps = clay.roughness_mm * (self.fine.at(v, u) + 1.5 * self.middle.at(u, v)) + 0.06 * self.coarse.at(u, v)
        if self.recipe.technique == "painted":
            return bumps
        distance, half = self.distance(u, v)
        groove = np.clip(1 - (distance / np.maximum(half, 0.1)) ** 2, 0, 1)
        lip = np.exp(-(((distance - 1.2 * half) / 0.3) ** 2))
        return bumps - np.float32(maker.depth_mm) * groove + np.float32(0.18 * maker.depth_mm) * lip

    def distance(self, u: Image, v: Image) -> tuple[Image, Image]:
        """Distance to the nearest stroke and half the stroke's width there, mm."""
        maker = self.recipe.maker
        x = u + np.float32(maker.wobble_mm) * (self.middle.at(u, v) + 0.8 * self.coarse.at(v, u))
        y = v + np.float32(maker.wobble_mm) * (self.middle.at(v + 31, u) + 0.8 * self.coarse.at(u + 17, v))
        nearest = np.full(u.shape, 99, np.float32)
        for register, cell in zip(self.recipe.registers, self.cells, strict=True):
            drift = np.float32(maker.drift * cell.pitch_mm) * self.coarse.at(u, np.full_like(u, register.top_mm))
            nearest = np.minimum(nearest, cell.at(x + drift, y - np.float32(register.top_mm)))
            for line in range(self.recipe.borders):
                for edge in (
                    register.top_mm - 0.6 - 2.6 * line,
                    register.top_mm + register.height_mm + 0.6 + 2.6 * line,
                ):
                    nearest = np.minimum(nearest, np.abs(y - np.float32(edge)))
        half = np.float32(maker.width_mm / 2) * (1 + np.float32(maker.width_sd) * self.coarse.at(u + 7, v + 3))
        return nearest, half

    def zone(self, v: Image) -> np.ndarray:
        """0 outside registers, k inside register k - 1."""
        zones = np.zeros(v.shape, np.uint8)
        for number, register in enumerate(self.recipe.registers, 1):
            zones[(v >= register.top_mm) & (v < register.top_mm + register.height_mm)] = number
        return zones

    def _soot(self, u: Image, v: Image) -> Image:
        soot = np.zeros(u.shape, np.float32)
        girth = np.float32(self.recipe.girth_mm)
        for cu, cv_, reach, depth in self.clouds:
            du = np.abs(np.mod(u - np.float32(cu) + girth / 2, girth) - girth / 2)
            far = np.hypot(du, v - np.float32(cv_)) / np.float32(reach) + 0.15 * self.coarse.at(u, v)
            soot = np.maximum(soot, np.float32(depth) / (1 + np.exp(np.minimum((far - 1) * 6, 60))))
        return soot

    def _coloured(self, albedo: Image, u: Image, v: Image) -> Image:
        distance, half = self.distance(u, v)
        if self.recipe.technique == "incised":
            return albedo * (1 - 0.3 * np.clip(1.1 - distance / half, 0, 1))[..., None]
        cover = np.clip((half - distance) / 0.12 + 0.5, 0, 1)
        patch = self.middle.at(u + 50, v) + 0.9 * self.fine.at(u, v + 50)
        limit = np.float32(2.2 - 9.0 * self.recipe.wear)
        cover = cover * 0.93 / (1 + np.exp(np.minimum((patch - limit) * 4, 60)))
        return albedo * (1 - cover[..., None]) + lab_to_linear(self.recipe.colour_lab) * cover[..., None]


def build_wall(recipe: PotRecipe, rng: np.random.Generator) -> Wall:
    """Draw everything by chance that is fixed for a pot."""
    span = recipe.girth_mm / 4
    cells = tuple(distance_cell(r.design, recipe.girth_mm / r.repeats, r.height_mm) for r in recipe.registers)
    clouds = tuple(
        (
            rng.uniform(0, recipe.girth_mm),
            rng.uniform(0, recipe.height_mm),
            rng.uniform(9, 30),
            recipe.sooting * rng.uniform(0.4, 1),
        )
        for _ in range(recipe.clouds)
    )
    return Wall(
        recipe=recipe,
        cells=cells,
        clouds=clouds,
        coarse=grain_tile(span, 9.0, rng),
        middle=grain_tile(span, 2.0, rng),
        fine=grain_tile(span, 0.45, rng, stretch=float(rng.uniform(1, 4))),
        flecks=fleck_tile(span, recipe.paste.flecks_per_mm2, recipe.paste.fleck_mm, rng),
        edge_radii_mm=float(rng.uniform(0.3, 0.9)),
    )
