"""Motifs nobody designed: random splines and branching rules, each fixed by the seed in its name."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.interpolate import CubicSpline

from motifs.practice.arrays import FloatArray
from motifs.practice.marks import Fill, Mark, Marks, Stroke, dot

Variant = tuple[str, float, Callable[..., Marks], dict[str, Any]]


def spline_figure(s: FloatArray, seed: int, aspect: float) -> Marks:
    """One or two smooth random lines, perhaps closed, filled or mirrored, with a few dots."""
    rng = np.random.default_rng([77, seed])
    kind = ("open", "closed", "filled", "mirrored")[seed % 4]
    out: list[Mark] = []
    for _ in range(int(rng.integers(1, 3))):
        knots = rng.uniform([0.08 * aspect, 0.08], [0.92 * aspect, 0.92], size=(int(rng.integers(4, 7)), 2))
        if kind == "mirrored":
            knots[:, 0] *= 0.5
        knots = knots + 0.02 * np.resize(s, knots.shape)
        closed = kind in ("closed", "filled")
        path = _through(knots, closed)
        out.append(Fill((path,)) if kind == "filled" else Stroke(path))
        if kind == "mirrored":
            out.append(Stroke(path * [-1, 1] + [aspect, 0]))
    for _ in range(int(rng.integers(0, 4))):
        out.append(dot(*rng.uniform([0.1 * aspect, 0.1], [0.9 * aspect, 0.9]), 0.045))
    return tuple(out)


def _through(knots: FloatArray, closed: bool) -> FloatArray:
    """Return a smooth path through knots, kept inside their box."""
    if closed:
        middle = knots.mean(axis=0)
        knots = knots[np.argsort(np.arctan2(*(knots - middle).T[::-1]))]
        knots = np.concatenate([knots, knots[:1]])
    at = np.arange(len(knots), dtype=float)
    smooth = CubicSpline(at, knots, bc_type="periodic" if closed else "natural")
    path = smooth(np.linspace(0.0, at[-1], 12 * (len(knots) - 1) + 1))
    return np.asarray(np.clip(path, knots.min(axis=0) - 0.04, knots.max(axis=0) + 0.04))


def branching_figure(s: FloatArray, seed: int, aspect: float) -> Marks:
    """Drawing of a small rewriting system: F draws, + and - turn, brackets branch (Lindenmayer 1968)."""
    rng = np.random.default_rng([78, seed])
    angle_deg = float(rng.choice([20, 25, 30, 36, 45, 60, 72, 90])) + 1.5 * s[1]
    pieces = ["F[+F]F[-F]", "F[+F][-F]", "F+F-F", "FF[+F]", "F[+F]F", "F-F+F+F-F", "F+F--F+F", "[+F]F[-F]F", "F[++F]F[--F]"]
    rule = pieces[int(rng.integers(len(pieces)))] + pieces[int(rng.integers(len(pieces)))] * int(rng.random() < 0.4)
    word = "F" if rng.random() < 0.6 else "F+F+F+F"
    for _ in range(2):
        word = word.replace("F", rule) if len(word) * len(rule) < 500 else word
    paths = _turtle(word, angle_deg)
    allpoints = np.concatenate(paths)
    low, size = allpoints.min(axis=0), np.maximum(np.ptp(allpoints, axis=0), 1e-6)
    scale = min(0.88 * aspect / size[0], 0.88 / size[1])
    offset = (np.array([aspect, 1.0]) - size * scale) / 2
    return tuple(Stroke((path - low) * scale + offset) for path in paths)


def _turtle(word: str, angle_deg: float) -> list[FloatArray]:
    """Follow a word and return the paths drawn, starting upwards."""
    place, heading = np.zeros(2), -np.pi / 2
    stack: list[tuple[FloatArray, float]] = []
    paths: list[list[FloatArray]] = [[place]]
    for letter in word:
        if letter == "F":
            place = place + np.array([np.cos(heading), np.sin(heading)])
            paths[-1].append(place)
        elif letter in "+-":
            heading += np.radians(angle_deg) * (1 if letter == "+" else -1)
        elif letter == "[":
            stack.append((place, heading))
        else:
            place, heading = stack.pop()
            paths.append([place])
    return [np.array(path) for path in paths if len(path) > 1]


SPLINE_VARIANTS: list[Variant] = []
BRANCHING_VARIANTS: list[Variant] = []
for _seed in range(60):
    _aspect = (0.7, 1.0, 1.3, 1.6)[(_seed // 4) % 4]
    SPLINE_VARIANTS.append((f"spline-{_seed:03d}", _aspect, spline_figure, {"seed": _seed, "aspect": _aspect}))
for _seed in range(30):
    _aspect = (0.7, 1.0, 1.4)[_seed % 3]
    BRANCHING_VARIANTS.append((f"branching-{_seed:03d}", _aspect, branching_figure, {"seed": _seed, "aspect": _aspect}))
