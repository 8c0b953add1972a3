"""One sherd of style two: where it lay on the wall, and how it looks when it lies on a tray."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from tests.outsider.optics import Image, lab_to_linear
from tests.outsider.style_two.cracking import GRID_PX_PER_MM, Labels

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tests.outsider.style_two.wall import Wall

RIM_MM = 3


@dataclass(frozen=True)
class Piece:
    """inside_mm: signed distance to the break (positive inside) on a grid of GRID_PX_PER_MM; middle: its centre (u, v)."""

    index: int
    wall: Wall
    inside_mm: Image
    middle: tuple[float, float]
    motifs: dict[str, float]
    area_mm2: float
    chip_seed: int


@dataclass(frozen=True)
class Lamp:
    """Direction to the light (unit, z up) and the share of light that comes from everywhere."""

    toward: tuple[float, float, float]
    ambient: float


@dataclass(frozen=True)
class Look:
    """A sherd as the camera sees it under unit light: radiance (h, w, 3), coverage (h, w) 0..1."""

    radiance: Image
    cover: Image


def cut_pieces(wall: Wall, labels: Labels, rng: np.random.Generator) -> list[Piece]:
    """All sherds of a broken wall, abraded."""
    pieces = [_cut(wall, labels, int(number), rng) for number in np.unique(labels)]
    return [piece for piece in pieces if piece is not None]


def _cut(wall: Wall, labels: Labels, number: int, rng: np.random.Generator) -> Piece | None:
    here = labels == number
    columns = here.any(0)
    shift = labels.shape[1] // 2 if columns[0] and columns[-1] else 0
    here = np.roll(here, shift, 1)
    ys, xs = np.flatnonzero(here.any(1)), np.flatnonzero(here.any(0))
    border = round(RIM_MM * GRID_PX_PER_MM)
    patch = np.pad(here[ys[0] : ys[-1] + 1, xs[0] : xs[-1] + 1], border)
    inside = _abrade(patch, rng)
    if (inside > 0).sum() < 110 * GRID_PX_PER_MM**2:
        return None
    middle = ((xs[0] + xs[-1]) / 2 - shift, (ys[0] + ys[-1]) / 2)
    v = (np.arange(patch.shape[0], dtype=np.float32) - border + ys[0])[:, None] / GRID_PX_PER_MM + np.zeros(
        patch.shape, np.float32
    )
    zones = wall.zone(v)[inside > 0]
    motifs = {
        r.design: float((zones == k).mean()) for k, r in enumerate(wall.recipe.registers, 1) if (zones == k).any()
    }
    area = float((inside > 0).sum()) / GRID_PX_PER_MM**2
    return Piece(
        number,
        wall,
        inside,
        (middle[0] / GRID_PX_PER_MM, middle[1] / GRID_PX_PER_MM),
        motifs,
        area,
        int(rng.integers(1 << 30)),
    )


def _abrade(patch: NDArray[np.bool_], rng: np.random.Generator) -> Image:
    count, parts, stats, _ = cv2.connectedComponentsWithStats(patch.astype(np.uint8), connectivity=4)
    if count > 2:
        patch = parts == 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax())
    solid = patch.astype(np.uint8)
    signed = cv2.distanceTransform(solid, cv2.DIST_L2, 5) - cv2.distanceTransform(1 - solid, cv2.DIST_L2, 5)
    loss = cv2.GaussianBlur(rng.normal(size=patch.shape).astype(np.float32), (0, 0), 5) * 5
    rounded = cv2.GaussianBlur(signed.astype(np.float32), (0, 0), 1.6)
    return (rounded / GRID_PX_PER_MM - rng.uniform(0.25, 0.5) - 0.1 * np.abs(loss)).astype(np.float32)


def look_at(piece: Piece, px_per_mm: float, lamp: Lamp, rng: np.random.Generator) -> Look:
    """Turn a sherd by chance, project its curved wall on the tray plane and shade it."""
    angle = rng.uniform(0, 2 * np.pi)
    x, y = _tray_grid(piece, angle, px_per_mm)
    along, across = np.float32(np.cos(angle)), np.float32(np.sin(angle))
    p, q = x * along + y * across, -x * across + y * along
    recipe = piece.wall.recipe
    radius = np.float32(recipe.girth_mm / 2 / np.pi)
    bend = np.float32(recipe.bend_mm)
    p, q = np.clip(p, -0.95 * radius, 0.95 * radius), np.clip(q, -0.95 * bend, 0.95 * bend)
    du, dv = radius * np.arcsin(p / radius), bend * np.arcsin(q / bend)
    inside = _inside(piece, du, dv, rng)
    u, v = du + np.float32(piece.middle[0]), dv + np.float32(piece.middle[1])
    height = np.sqrt(radius**2 - p**2) + np.sqrt(bend**2 - q**2) + piece.wall.relief(u, v)
    worn = np.clip(1 - inside / piece.wall.edge_radii_mm, 0, 1)
    shade = _shade(height - 0.5 * worn**2, px_per_mm, lamp, recipe.paste.gloss)
    albedo = piece.wall.colour(u, v)
    bare = np.clip(worn * 1.3 - 0.35, 0, 0.9)[..., None]
    albedo = albedo * (1 - bare) + lab_to_linear(recipe.paste.core_lab) * bare
    cover = np.clip(inside * np.float32(px_per_mm) + 0.5, 0, 1)
    return _cropped(albedo * shade[..., None], cover)


def _tray_grid(piece: Piece, angle: float, px_per_mm: float) -> tuple[Image, Image]:
    rows, columns = np.nonzero(piece.inside_mm > -0.5)
    local = (
        np.stack([columns, rows], 1) / GRID_PX_PER_MM - (np.array(piece.inside_mm.shape[::-1]) - 1) / 2 / GRID_PX_PER_MM
    )
    turned = local @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    low, high = turned.min(0) - 1, turned.max(0) + 1
    steps = np.ceil((high - low) * px_per_mm).astype(int)
    x = (low[0] + np.arange(steps[0]) / px_per_mm).astype(np.float32)
    y = (low[1] + np.arange(steps[1]) / px_per_mm).astype(np.float32)
    grid_x, grid_y = np.meshgrid(x, y)
    return grid_x, grid_y


def _inside(piece: Piece, du: Image, dv: Image, rng: np.random.Generator) -> Image:
    shape = piece.inside_mm.shape
    x = du * np.float32(GRID_PX_PER_MM) + np.float32((shape[1] - 1) / 2)
    y = dv * np.float32(GRID_PX_PER_MM) + np.float32((shape[0] - 1) / 2)
    inside = cv2.remap(piece.inside_mm, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=-9.0)
    chips = np.random.default_rng(piece.chip_seed)
    ragged = piece.wall.fine.at(du + chips.uniform(0, 50), dv)
    return (inside - 0.07 * np.abs(ragged)).astype(np.float32)


def _shade(height_mm: Image, px_per_mm: float, lamp: Lamp, gloss: float) -> Image:
    """Lambert with ambient light and a weak highlight; 1 for a level surface."""
    height_mm = cv2.GaussianBlur(height_mm.astype(np.float32), (0, 0), 0.7)
    down, right = np.gradient(height_mm, 1 / px_per_mm)
    size = np.sqrt(1 + down**2 + right**2)
    lx, ly, lz = lamp.toward
    facing = np.clip((-right * lx - down * ly + lz) / size, 0, None)
    middle = np.array([lx, ly, lz + 1])
    middle /= np.linalg.norm(middle)
    mirror = np.clip((-right * middle[0] - down * middle[1] + middle[2]) / size, 0, 1) ** 24
    return (lamp.ambient * (0.5 + 0.5 / size) + (1 - lamp.ambient) * facing / lz + gloss * mirror).astype(np.float32)


def _cropped(radiance: Image, cover: Image) -> Look:
    # Only the largest part lies on the tray: a crumb that wear cut off is not this sherd.
    _, parts, stats, _ = cv2.connectedComponentsWithStats((cover > 0.5).astype(np.uint8), connectivity=4)
    main = (parts == 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax())).astype(np.uint8)
    cover = cover * cv2.dilate(main, np.ones((3, 3), np.uint8))
    ys, xs = np.flatnonzero((cover > 0).any(1)), np.flatnonzero((cover > 0).any(0))
    box = np.s_[ys[0] : ys[-1] + 1, xs[0] : xs[-1] + 1]
    return Look(np.clip(radiance[box], 0, 1.5).astype(np.float32), cover[box].astype(np.float32))
