"""Motifs nobody designed: random splines and branching rules, each fixed by the seed in its name."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.interpolate import CubicSpline

from motifs.practice.marks import Fill, Mark, Marks, Stroke, dot_at

if TYPE_CHECKING:
    from motifs.practice.arrays import FloatArray

Variant = tuple[str, float, Callable[..., Marks], dict[str, Any]]


def spline_figure(s: FloatArray, seed: int, aspect: float) -> Marks:
    """One or two smooth random lines, open, closed, filled, mirrored or turned about the middle, with a few dots."""
    rng = np.random.default_rng([77, seed])
    kind = ("open", "closed", "filled", "mirrored", "turned")[seed % 5]
    out: list[Mark] = []
    for _ in range(1 if kind in ("filled", "turned") else int(rng.integers(1, 3))):
        path = _fitted(_random_path(rng, s, kind in ("closed", "filled")), aspect)
        if kind == "mirrored":
            path = path * [0.5, 1.0]
            out += [Stroke(path), Stroke(path * [-1, 1] + [aspect, 0])]
        elif kind == "turned":
            out += _turned_copies(path, aspect, (2, 3, 5)[(seed // 5) % 3])
        else:
            out.append(Fill((path,)) if kind == "filled" else Stroke(path))
    for _ in range(int(rng.integers(0, 3))):
        out.append(dot_at(rng.uniform([0.12 * aspect, 0.12], [0.88 * aspect, 0.88]), 0.045))
    return tuple(out)


def _random_path(rng: np.random.Generator, s: FloatArray, closed: bool) -> FloatArray:
    """Return a smooth random path; the hand's style shifts its knots a little."""
    count = int(rng.integers(5, 9)) if closed else int(rng.integers(4, 7))
    if closed:
        angle = np.sort(rng.uniform(0, 2 * np.pi, count))
        knots = rng.uniform(0.25, 1.0, (count, 1)) * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    else:
        knots = np.cumsum(rng.normal(0, 1, (count, 2)), axis=0)
        knots /= np.ptp(knots, axis=0).max()
    return _through(knots + 0.03 * np.resize(s, knots.shape), closed)


def _fitted(path: FloatArray, aspect: float) -> FloatArray:
    """Stretch a path to fill its cell, by up to 2.5 times more in one direction than in the other."""
    size = np.maximum(np.ptp(path, axis=0), 1e-6)
    scale = np.array([0.84 * aspect, 0.84]) / size
    scale = np.minimum(scale, 2.5 * scale.min())
    middle = (path.min(axis=0) + path.max(axis=0)) / 2
    return np.asarray((path - middle) * scale + [aspect / 2, 0.5])


def _turned_copies(path: FloatArray, aspect: float, copies: int) -> list[Mark]:
    """Return copies of a path turned about the middle of the cell."""
    middle = np.array([aspect / 2, 0.5])
    arm = (path - path[0]) / max(float(np.hypot(*(path - path[0]).T).max()), 1e-6) * 0.42
    out: list[Mark] = []
    for k in range(copies):
        angle = 2 * np.pi * k / copies
        turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        out.append(Stroke(arm @ turn + middle))
    return out


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


RULES = ("F[+F]F[-F]", "F[+F][-F]", "F+F-F", "FF[+F]", "F[+F]F", "F-F+F+F-F", "F+F--F+F", "[+F]F[-F]F", "F[++F]F[--F]")
STARTS = ("F", "F+F+F+F", "F++F++F", "F--F", "[F]+[F]++[F]")


def branching_figure(s: FloatArray, seed: int, aspect: float) -> Marks:
    """Drawing of a small rewriting system: F draws, + and - turn, brackets branch (Lindenmayer 1968)."""
    rng = np.random.default_rng([78, seed])
    for _ in range(60):
        word, angle_deg = _random_word(rng)
        size, length = _extent(_turtle(word, angle_deg))
        if size.min() > 0.45 * size.max() and length > 3.5 * size.max():
            break
    paths = _turtle(word, angle_deg + 1.5 * float(s[1]))
    ends = np.concatenate(paths)
    low, size = ends.min(axis=0), np.maximum(np.ptp(ends, axis=0), 1e-6)
    scale = min(0.88 * aspect / size[0], 0.88 / size[1])
    offset = (np.array([aspect, 1.0]) - size * scale) / 2
    return tuple(Stroke((path - low) * scale + offset) for path in paths)


def _random_word(rng: np.random.Generator) -> tuple[str, float]:
    """Return a word after two or three rewritings by one or two rules, and the angle of its turns."""
    rule = RULES[int(rng.integers(len(RULES)))]
    if rng.random() < 0.4:
        rule += RULES[int(rng.integers(len(RULES)))]
    word = STARTS[int(rng.integers(len(STARTS)))]
    for _ in range(3):
        longer = word.replace("F", rule)
        word = longer if longer.count("F") < 90 else word
    return word, float(rng.choice([25, 30, 36, 45, 60, 72, 90]))


def _extent(paths: list[FloatArray]) -> tuple[FloatArray, float]:
    """Return width and height of a drawing and the length of its lines."""
    size = np.ptp(np.concatenate(paths), axis=0)
    return size, float(sum(np.hypot(*np.diff(path, axis=0).T).sum() for path in paths))


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
for _seed in range(80):
    _aspect = (0.8, 1.0, 1.3, 1.6)[(_seed // 5) % 4]
    SPLINE_VARIANTS.append((f"spline-{_seed:03d}", _aspect, spline_figure, {"seed": _seed, "aspect": _aspect}))
for _seed in (*range(23), *range(24, 30), 31, 32):
    _aspect = (0.8, 1.0, 1.3)[_seed % 3]
    BRANCHING_VARIANTS.append((f"branching-{_seed:03d}", _aspect, branching_figure, {"seed": _seed, "aspect": _aspect}))
