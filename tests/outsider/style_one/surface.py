"""The developed wall of a pot as a picture of reflectance: paste, temper, fire clouds, strokes of paint."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d

from tests.outsider.optics import Image, lab_to_linear
from tests.outsider.style_one.figures import FIGURES, Points

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tests.outsider.style_one.recipes import Band, Paste, PotRecipe

PAD_MM = 60
STEP_MM = 0.3


@dataclass(frozen=True)
class Surface:
    """Developed wall. albedo: (H, W, 3) linear; zones: (H, W) 0 = no motif, k = motif k of names; closes in x."""

    albedo: Image
    zones: NDArray[np.uint8]
    names: tuple[str, ...]
    px_per_mm: float


def cyclic_noise(shape: tuple[int, int], cell_px: float, rng: np.random.Generator) -> Image:
    """Smooth noise of unit SD that closes in x; cell_px is its grain."""
    rows, columns = max(2, round(shape[0] / cell_px)), max(2, round(shape[1] / cell_px))
    low = rng.normal(size=(rows + 4, columns)).astype(np.float32)
    low = np.concatenate([low[:, -2:], low, low[:, :2]], 1)
    wide = round(shape[1] * (columns + 4) / columns)
    high = cv2.resize(low, (wide, round(shape[0] * (rows + 4) / rows)), interpolation=cv2.INTER_CUBIC)
    top, left = (high.shape[0] - shape[0]) // 2, (wide - shape[1]) // 2
    part = high[top : top + shape[0], left : left + shape[1]]
    return (part / max(float(part.std()), 1e-6)).astype(np.float32)


def make_surface(recipe: PotRecipe, px_per_mm: float, rng: np.random.Generator) -> Surface:
    """Draw the whole wall of a pot at a resolution in px/mm."""
    shape = (round(recipe.height_mm * px_per_mm), round(recipe.girth_mm * px_per_mm))
    paste = _paste_albedo(recipe.paste, shape, px_per_mm, rng)
    ink = _all_strokes(recipe, shape, px_per_mm, rng)
    albedo = _lay_paint(recipe, paste, ink, px_per_mm, rng)
    zones = np.zeros(shape, np.uint8)
    for index, band in enumerate(recipe.bands, 1):
        zones[round(band.top_mm * px_per_mm) : round((band.top_mm + band.height_mm) * px_per_mm)] = index
    return Surface(albedo, zones, tuple(band.motif for band in recipe.bands), px_per_mm)


def _paste_albedo(paste: Paste, shape: tuple[int, int], px: float, rng: np.random.Generator) -> Image:
    lightness = paste.mottle * (0.7 * cyclic_noise(shape, 9 * px, rng) + 0.5 * cyclic_noise(shape, 1.2 * px, rng))
    lightness += 0.9 * cyclic_noise(shape, max(1.5, 0.25 * px), rng)
    lightness += _temper(paste, shape, px, rng)
    lightness -= _fire_clouds(paste, shape, px, rng)
    steps = np.arange(-60, 46)
    table = lab_to_linear([(np.clip(paste.lab[0] + step, 6, 97), *_fade(paste, step)) for step in steps])
    position = np.clip(lightness + 60, 0, len(steps) - 1.001)
    low = position.astype(np.int32)
    part = (position - low)[..., None]
    return table[low] * (1 - part) + table[low + 1] * part


def _fade(paste: Paste, step: int) -> tuple[float, float]:
    """Sooted clay loses chroma with lightness."""
    keep = float(np.clip(1 + 0.03 * min(step, 0), 0.3, 1))
    return paste.lab[1] * keep, paste.lab[2] * keep


def _temper(paste: Paste, shape: tuple[int, int], px: float, rng: np.random.Generator) -> Image:
    grains = np.zeros(shape, np.uint8)
    count = rng.poisson(paste.temper_per_mm2 * shape[0] * shape[1] / px**2)
    centres = rng.random((count, 2)) * (shape[1], shape[0])
    radii = np.clip(rng.lognormal(np.log(paste.temper_mm / 2), 0.4, count), 0.08, 1.2) * px
    for (x, y), radius in zip(centres, radii, strict=True):
        axes = (max(int(radius * 16), 6), max(int(radius * rng.uniform(8, 16)), 6))
        cv2.ellipse(grains, (int(x * 16), int(y * 16)), axes, rng.uniform(0, 180), 0, 360, 255, -1, cv2.LINE_AA, 4)
    return grains.astype(np.float32) / 255 * np.float32(paste.temper_contrast)


def _fire_clouds(paste: Paste, shape: tuple[int, int], px: float, rng: np.random.Generator) -> Image:
    y, x = np.mgrid[0 : shape[0] : 8, 0 : shape[1] : 8].astype(np.float32)
    cloud = np.zeros_like(x)
    for _ in range(paste.clouds):
        cx, cy, reach = rng.random() * shape[1], rng.random() * shape[0], rng.uniform(10, 32) * px
        dx = np.abs(x - cx)
        dx = np.minimum(dx, shape[1] - dx)
        cloud = np.maximum(cloud, np.exp(-((dx**2 + (y - cy) ** 2) / (2 * reach**2))) * rng.uniform(0.5, 1))
    return cv2.resize(cloud, (shape[1], shape[0])) * np.float32(paste.cloud_depth)


def _all_strokes(recipe: PotRecipe, shape: tuple[int, int], px: float, rng: np.random.Generator) -> Image:
    pad = round(PAD_MM * px)
    canvas = np.zeros((shape[0], shape[1] + 2 * pad), np.uint8)
    for band in recipe.bands:
        _fill_band(canvas, band, recipe, px, rng)
        _frame_band(canvas, band, recipe, px, rng)
    folded = canvas[:, pad : pad + shape[1]].copy()
    folded[:, :pad] = np.maximum(folded[:, :pad], canvas[:, pad + shape[1] :])
    folded[:, -pad:] = np.maximum(folded[:, -pad:], canvas[:, :pad])
    return folded.astype(np.float32) / 255


def _fill_band(canvas: NDArray[np.uint8], band: Band, recipe: PotRecipe, px: float, rng: np.random.Generator) -> None:
    figure, hand = FIGURES[band.motif](), recipe.hand
    repeats = max(3, round(recipe.girth_mm / band.repeat_mm))
    pitch = recipe.girth_mm / repeats
    inset = 0.06 * band.height_mm + hand.line_mm / 2
    for index in range(repeats):
        width = pitch * (1 + rng.normal(0, hand.spacing))
        corner = np.array(
            [index * pitch + PAD_MM + rng.normal(0, hand.spacing) * pitch, band.top_mm + inset + rng.normal(0, 0.25)]
        )
        size = np.array([width, band.height_mm - 2 * inset])
        for stroke in figure.strokes:
            _draw_stroke(canvas, stroke * size + corner, recipe, px, rng)
        for fill in figure.fills:
            shaky = _tremble(fill * size + corner, hand.tremor_mm, rng)
            cv2.fillPoly(canvas, [np.round(shaky * px * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)


def _frame_band(canvas: NDArray[np.uint8], band: Band, recipe: PotRecipe, px: float, rng: np.random.Generator) -> None:
    for line in range(recipe.framing_lines):
        for y in (band.top_mm - 1.2 - 2.4 * line, band.top_mm + band.height_mm + 1.2 + 2.4 * line):
            x = np.linspace(PAD_MM, PAD_MM + recipe.girth_mm, 60)
            _draw_stroke(
                canvas,
                np.stack([x, y + 0.4 * np.sin(2 * np.pi * x / recipe.girth_mm + rng.uniform(0, 6))], 1),
                recipe,
                px,
                rng,
            )


def _resample(points: Points, step: float) -> Points:
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    fine = np.linspace(0, along[-1], max(3, int(along[-1] / step)))
    return np.stack([np.interp(fine, along, points[:, 0]), np.interp(fine, along, points[:, 1])], 1)


def _tremble(points: Points, tremor_mm: float, rng: np.random.Generator) -> Points:
    fine = _resample(points, STEP_MM)
    noise = gaussian_filter1d(rng.normal(size=fine.shape), 5, axis=0, mode="nearest")
    slow = gaussian_filter1d(rng.normal(size=fine.shape), 20, axis=0, mode="nearest")
    return fine + tremor_mm * (noise * 2.5 + slow * 6)


def _draw_stroke(
    canvas: NDArray[np.uint8], points: Points, recipe: PotRecipe, px: float, rng: np.random.Generator
) -> None:
    path = _tremble(points, recipe.hand.tremor_mm, rng)
    push = gaussian_filter1d(rng.normal(size=len(path)), 8, mode="nearest") * 5
    half = recipe.hand.line_mm / 2 * np.clip(1 + recipe.hand.pressure * push, 0.5, 1.7)
    for (x, y), radius in zip(np.round(path * px * 16).astype(int), np.round(half * px * 16).astype(int), strict=True):
        cv2.circle(canvas, (int(x), int(y)), int(radius), 255, -1, cv2.LINE_AA, 4)


def _lay_paint(recipe: PotRecipe, paste: Image, ink: Image, px: float, rng: np.random.Generator) -> Image:
    shape = (ink.shape[0], ink.shape[1])
    if recipe.is_incised:
        return paste * (1 - 0.58 * ink[..., None] * (0.9 + 0.1 * cyclic_noise(shape, px, rng)[..., None]))
    thin = cyclic_noise(shape, 2.2 * px, rng) + 0.8 * cyclic_noise(shape, 0.5 * px, rng)
    worn = 1 / (1 + np.exp((np.quantile(thin[::7, ::7], 1 - recipe.paint.wear) - thin) * 6))
    cover = ink * recipe.paint.cover * (1 - 0.9 * worn) * (1 + 0.04 * cyclic_noise(shape, 1.5 * px, rng))
    alpha = np.clip(cover, 0, 1)[..., None].astype(np.float32)
    return paste * (1 - alpha) + lab_to_linear(recipe.paint.lab) * alpha
