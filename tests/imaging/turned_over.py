"""Outlines of broken pots and of the same sherds turned over: mirrored, turned, rough, a little larger or smaller."""

from __future__ import annotations

from functools import cache
from types import SimpleNamespace

import numpy as np

from motifs.practice import break_pot


@cache
def broken_outlines(seed: int, pieces: int, *, least_mm2: float = 250.0) -> tuple[np.ndarray, ...]:
    """Outlines (mm) of the pieces of one practice pot, without crumbs; breaking asks for its girth and height only."""
    pot = SimpleNamespace(circumference_mm=540.0 + 20 * seed, height_mm=170.0)
    broken = break_pot(pot, seed, pieces=pieces)
    return tuple(piece.polygon_mm for piece in broken if piece.area_mm2 >= least_mm2)


def turned_over(
    outline: np.ndarray, rng: np.random.Generator, *, rough_mm: float, bevel_mm: float, scale_sd: float
) -> np.ndarray:
    """The sherd's back as photographed: worn and chipped differently, its broken edge slanting in, at any turn and place."""
    points = outline.astype(float) - outline.mean(axis=0)
    along = np.linspace(0, 2 * np.pi, len(points), endpoint=False)
    normal = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    normal = np.column_stack([normal[:, 1], -normal[:, 0]])
    normal /= np.maximum(np.hypot(*normal.T), 1e-9)[:, None]
    wave = sum(rng.normal() / k * np.cos(k * along + rng.uniform(0, 2 * np.pi)) for k in range(1, 9))
    wave = (wave - wave.mean()) / max(wave.std(), 1e-9)
    fine = rng.normal(0, 1, len(points))
    moved = points + normal * (bevel_mm * 0.5 * wave + rough_mm * fine)[:, None]
    moved *= rng.normal(1, scale_sd)
    moved[:, 0] *= -1
    angle = rng.uniform(0, 2 * np.pi)
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    start = rng.integers(len(points))
    return np.roll(moved @ spin.T, start, axis=0)[:: rng.choice([1, -1])] + rng.uniform(-200, 200, 2)
