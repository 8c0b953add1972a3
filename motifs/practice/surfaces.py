"""The look of the developed surface: clay, temper, paint, relief, firing, wear. Linear light, relief in mm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.practice.arrays import FloatArray, Map, as_map, blurred, layered_noise, smooth_noise, soft_step
from motifs.practice.colours import lab_to_linear, mixed
from motifs.practice.techniques import CIRCLE, Technique

if TYPE_CHECKING:
    from motifs.practice.decorating import Sheet
    from motifs.practice.wares import Coats, Lab, Paste, Wear


@dataclass(frozen=True, slots=True)
class Surface:
    """albedo: (H, W, 3) float32, linear 0..1. relief_mm: (H, W) float32. ink: (H, W) bool."""

    albedo: Map
    relief_mm: Map
    ink: np.ndarray[tuple[int, int], np.dtype[np.bool_]]


def _linear(lab: Lab) -> Map:
    return as_map(lab_to_linear(lab))


def make_surface(
    rng: np.random.Generator,
    sheet: Sheet,
    technique: Technique,
    paste: Paste,
    coats: Coats,
    wear: Wear,
    px_per_mm: float,
    line_width_mm: float,
) -> Surface:
    """Build the surface of a decorated pot from its cover maps."""
    albedo, relief = _clay(rng, sheet.first.shape, paste, px_per_mm)
    keep = _paint_left(rng, sheet.first.shape, wear, px_per_mm)
    if coats.slip_lab is not None:
        thin = soft_step(keep, 0.25, 0.3)
        albedo = mixed(albedo, _linear(coats.slip_lab), thin * np.float32(0.94))
    if technique.depth_mm == 0.0:
        albedo = _painted(rng, albedo, sheet, technique, coats, keep, px_per_mm)
    else:
        relief += _relief(rng, sheet.first, technique, px_per_mm, line_width_mm)
        albedo *= np.exp(np.float32(technique.tint / 38.0) * sheet.first)[..., None]
    albedo = _fired_and_used(rng, albedo, wear, px_per_mm)
    albedo, relief = _buried(rng, albedo, relief, wear, px_per_mm)
    cover = sheet.first if technique.name != "negative" else (1 - sheet.first) * sheet.field
    ink = np.maximum(cover, sheet.second) > 0.5
    return Surface(np.clip(albedo, 0.003, 1.0), relief, ink)


def _clay(rng: np.random.Generator, shape: tuple[int, int], paste: Paste, px_per_mm: float) -> tuple[Map, Map]:
    """Return albedo and relief of the plain vessel wall."""
    ppm = px_per_mm
    mottle = layered_noise(rng, shape, (45 * ppm, 14 * ppm, 3 * ppm), 0.5) * np.float32(paste.mottle_l / 38.0)
    fine = rng.standard_normal(shape, dtype=np.float32)
    tone = np.exp(mottle + np.float32(0.035) * blurred(fine, 0.12 * ppm) * np.float32(0.35 * ppm))
    albedo = tone[..., None] * _linear(paste.lab)
    relief = layered_noise(rng, shape, (16 * ppm, 4 * ppm, 1.2 * ppm), 0.45) * np.float32(2.5 * paste.roughness_mm)
    relief += blurred(fine, 0.22 * ppm) * np.float32(paste.roughness_mm * 0.5 * ppm)
    relief += _tool_marks(rng, shape, paste, ppm)
    for count, size, colour, height in (
        (paste.temper_per_cm2, paste.temper_mm, paste.temper_lab, 0.02),
        (paste.voids_per_cm2, 0.8, (12.0, 2.0, 3.0), -0.35),
    ):
        _grains(rng, albedo, relief, count, size, colour, height, ppm)
    return albedo, relief


def _tool_marks(rng: np.random.Generator, shape: tuple[int, int], paste: Paste, ppm: float) -> Map:
    """Return the relief (mm) left by wiping, brushing or burnishing, level round the pot, or by a cord-wrapped paddle."""
    if paste.texture == "cord-marked":
        return _cord_marks(rng, shape, ppm)
    depth = {"smoothed": 0.01, "wiped": 0.05, "brushed": 0.11, "burnished": 0.012}[paste.texture]
    pitch = {"smoothed": 2.0, "wiped": 0.9, "brushed": 0.8, "burnished": 2.6}[paste.texture]
    return smooth_noise(rng, shape, 40 * ppm, pitch * ppm) * np.float32(depth)


def _cord_marks(rng: np.random.Generator, shape: tuple[int, int], ppm: float) -> Map:
    """Return the relief (mm) of parallel twisted cords, their direction changing from blow to blow."""
    rows, columns = shape
    x = np.arange(columns, dtype=np.float32)[None] / ppm
    y = np.arange(rows, dtype=np.float32)[:, None] / ppm
    pitch, lean = float(rng.uniform(1.8, 3.2)), float(rng.uniform(-0.7, 0.7))
    # A whole number of cords goes round the pot, so that the pattern closes.
    around = 2 * np.pi * max(round(columns / ppm / pitch), 1) / (columns / ppm)
    stray = smooth_noise(rng, shape, 35 * ppm) * np.float32(1.6)
    phase = around * x + around * lean * y + stray
    twist = np.sin(2.6 * around * y + 0.6 * phase)
    return as_map(np.float32(-0.22) * np.clip(np.sin(phase), 0, 1) * (1 + 0.35 * twist))


def _grains(
    rng: np.random.Generator,
    albedo: Map,
    relief: Map,
    per_cm2: float,
    size_mm: float,
    lab: Lab,
    height_mm: float,
    ppm: float,
) -> None:
    """Scatter angular grains (or voids) over the surface; sizes are log-normal."""
    rows, columns = relief.shape
    count = int(rng.poisson(per_cm2 * rows * columns / (10 * ppm) ** 2))
    if count == 0:
        return
    radius = np.minimum(size_mm / 2 * np.exp(rng.normal(0, 0.4, count)), 0.9) * ppm
    centre = rng.uniform([0, 0], [columns, rows], (count, 2))
    outline = CIRCLE[::2] * rng.uniform(0.6, 1.25, (count, 6, 1)) * radius[:, None, None]
    fixed = np.round((centre[:, None] + outline) * 16).astype(np.int32)
    mask = np.zeros((rows, columns), np.uint8)
    seen = rng.integers(60, 250, count)
    for one, strength in zip(fixed, seen.tolist(), strict=True):
        cv2.fillConvexPoly(mask, one, (float(strength),), cv2.LINE_8, 4)
    cover = as_map(mask) / np.float32(255)
    albedo[:] = mixed(albedo, _linear(lab), cover * np.float32(0.85))
    relief += blurred(cover, 0.12 * ppm) * np.float32(height_mm)


def _paint_left(rng: np.random.Generator, shape: tuple[int, int], wear: Wear, ppm: float) -> Map:
    """Return 0..1, how much of the paint survives: lost in patches and in pinholes."""
    patches = layered_noise(rng, shape, (30 * ppm, 8 * ppm, 2 * ppm, 0.7 * ppm), 0.75)
    edge = -2.6 + 3.4 * wear.paint_loss
    return soft_step(patches, edge, 0.5)


def _painted(
    rng: np.random.Generator, albedo: Map, sheet: Sheet, technique: Technique, coats: Coats, keep: Map, ppm: float
) -> Map:
    """Lay paint over the clay, streaky as a brush leaves it."""
    streaks = 1 + np.float32(0.06) * smooth_noise(rng, keep.shape, 3 * ppm, 0.5 * ppm)
    body = np.clip(coats.strength * streaks, 0.0, 1.0) * keep
    first = sheet.first
    if technique.name == "negative":
        first = (1 - first) * blurred(sheet.field.astype(np.float32), 0.2 * ppm)
    albedo = mixed(albedo, _linear(coats.paint_lab), first * body)
    if sheet.second.max() > 0:
        albedo = mixed(albedo, _linear(coats.second_lab), sheet.second * body)
    return albedo


def _relief(rng: np.random.Generator, cover: Map, technique: Technique, ppm: float, line_width_mm: float) -> Map:
    """Return the relief (mm) of cut, pressed or raised marks, with the lip beside a cut."""
    width_px = line_width_mm * technique.width_scale * ppm
    soft = blurred(cover, technique.softness * width_px)
    press = 1 + np.float32(0.18) * smooth_noise(rng, cover.shape, 18 * ppm)
    relief = soft * press * np.float32(technique.depth_mm)
    if technique.burr > 0:
        lip = np.clip(blurred(cover, 0.55 * width_px) - soft, 0.0, None)
        relief += lip * np.float32(-technique.depth_mm * technique.burr)
    return as_map(relief)


def _fired_and_used(rng: np.random.Generator, albedo: Map, wear: Wear, ppm: float) -> Map:
    """Darken by fire clouds and soot. A cloud lowers L* by cloud_l at its heart and greys the colour."""
    rows, columns = albedo.shape[:2]
    dark = np.zeros((rows, columns), np.float32)
    for _ in range(wear.fire_clouds):
        dark = np.maximum(dark, _cloud(rng, (rows, columns), ppm))
    if wear.soot > 0:
        level = np.linspace(-0.6, 1.4, rows, dtype=np.float32)[:, None]
        soot = np.clip(level + 0.35 * layered_noise(rng, (rows, columns), (50 * ppm, 12 * ppm, 3 * ppm)), 0.0, 1.0)
        dark = np.maximum(dark, soot * np.float32(wear.soot))
    if dark.max() == 0:
        return albedo
    grey = albedo @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    albedo = mixed(albedo, np.repeat(grey[..., None], 3, axis=2), dark * np.float32(0.65))
    return as_map(albedo * np.exp(dark * np.float32(-wear.cloud_l / 22.0))[..., None])


def _cloud(rng: np.random.Generator, shape: tuple[int, int], ppm: float) -> Map:
    """Return one soft dark patch, 0..1, 25 to 80 mm across, closed round the pot."""
    rows, columns = shape
    size = rng.uniform(25, 80, 2) * ppm / 2
    x = np.arange(columns, dtype=np.float32) - np.float32(rng.uniform(0, columns))
    x = (x + columns / 2) % columns - columns / 2
    y = np.arange(rows, dtype=np.float32) - np.float32(rng.uniform(0, rows))
    apart = (x[None] / size[0]) ** 2 + (y[:, None] / size[1]) ** 2
    apart = apart * np.exp(np.float32(0.3) * smooth_noise(rng, shape, 22 * ppm))
    return as_map(np.exp(-(apart**1.5)))


def _buried(rng: np.random.Generator, albedo: Map, relief: Map, wear: Wear, ppm: float) -> tuple[Map, Map]:
    """Rub the surface and lay lime crust on it."""
    shape = relief.shape
    if wear.abrasion > 0.02:
        rubbed = soft_step(
            layered_noise(rng, shape, (20 * ppm, 5 * ppm, 1.1 * ppm), 0.8), 2.4 - 2.2 * wear.abrasion, 0.7
        )
        albedo = mixed(albedo, albedo.mean(axis=(0, 1)) * np.float32(1.05), rubbed * np.float32(0.35))
        relief = as_map(relief * (1 - np.float32(0.5) * rubbed))
    if wear.crust > 0.01:
        crust = soft_step(
            layered_noise(rng, shape, (35 * ppm, 9 * ppm, 2 * ppm, 0.7 * ppm), 0.7), 2.6 - 2.2 * wear.crust, 0.35
        )
        tone = 1 + np.float32(0.08) * smooth_noise(rng, shape, 1.0 * ppm)
        lime = tone[..., None] * _linear((82.0, 1.0, 8.0))
        albedo = mixed(albedo, lime, crust * np.float32(0.8))
        relief = as_map(relief + crust * (0.18 + np.float32(0.06) * smooth_noise(rng, shape, 0.8 * ppm)))
    return albedo, relief


def mean_colour(surface: Surface, mask: np.ndarray[tuple[int, int], np.dtype[np.bool_]]) -> FloatArray:
    """Return the median linear colour (3,) of the masked part of a surface."""
    return np.asarray(np.median(surface.albedo[mask], axis=0), np.float64)
