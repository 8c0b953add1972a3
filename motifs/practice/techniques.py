"""From marks in millimetres to what a technique leaves on clay: convex patches of line, dent, cord or comb.

Everything here is geometry. Which patches become paint and which become relief is decided in `surface`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import gaussian_filter1d

from motifs.practice.hands import Hand, shaken
from motifs.practice.marks import Dot, Fill, Marks, Stroke, hatch, resampled

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.practice.arrays import FloatArray

STEP_MM = 0.9
_ANGLES = np.linspace(0, 2 * np.pi, 12, endpoint=False)
CIRCLE = np.stack([np.cos(_ANGLES), np.sin(_ANGLES)], axis=1)


@dataclass(frozen=True, slots=True)
class Technique:
    """How a mark is made.

    depth_mm: 0 for paint, < 0 pressed or cut in, > 0 raised. width_scale: times the hand's line width. softness:
    blur of the relief, in line widths. burr: height of the lip beside a cut over its depth. print_shape: "line", "dots",
    "dentate" or "cord". teeth: parallel lines of a comb. fill_by: "solid", "hatch", "dots" or "outline".
    tint: change of L* inside the mark (dirt in a cut, sheen of a burnished line).
    """

    name: str
    depth_mm: float = 0.0
    width_scale: float = 1.0
    softness: float = 0.2
    burr: float = 0.0
    print_shape: str = "line"
    teeth: int = 1
    fill_by: str = "solid"
    tint: float = 0.0


TECHNIQUES: dict[str, Technique] = {
    one.name: one
    for one in (
        Technique("painted"),
        Technique("painted in two colours"),
        Technique("light on dark"),
        Technique("negative"),
        Technique("incised", -0.55, 0.6, 0.22, 0.28, fill_by="hatch", tint=-5.0),
        Technique("grooved", -0.8, 1.5, 0.35, 0.1, fill_by="outline", tint=-2.0),
        Technique("punctated", -0.9, 1.1, 0.18, 0.3, "dots", fill_by="dots", tint=-4.0),
        Technique("stamped", -0.7, 1.2, 0.12, 0.15, "dentate", fill_by="solid", tint=-3.0),
        Technique("cord-impressed", -0.7, 1.25, 0.14, 0.12, "cord", fill_by="hatch", tint=-3.0),
        Technique("combed", -0.4, 0.42, 0.25, 0.25, "line", 4, "outline", tint=-3.0),
        Technique("applied", 1.9, 1.9, 0.26, 0.0, fill_by="solid"),
        Technique("burnished lines", -0.03, 1.3, 0.25, 0.0, fill_by="hatch", tint=-7.0),
    )
}
TECHNIQUE_SHARES: dict[str, float] = {
    "painted": 0.34,
    "painted in two colours": 0.12,
    "light on dark": 0.08,
    "negative": 0.05,
    "incised": 0.13,
    "grooved": 0.05,
    "punctated": 0.05,
    "stamped": 0.05,
    "cord-impressed": 0.04,
    "combed": 0.03,
    "applied": 0.03,
    "burnished lines": 0.03,
}
"""How often each technique is drawn (a choice made for practice, not a count from any assemblage)."""


@dataclass(slots=True)
class Patches:
    """What a technique leaves, in mm of the zone: convex patches (K, T, 2) by number of corners, and filled shapes."""

    convex: list[FloatArray] = field(default_factory=list)
    filled: list[tuple[FloatArray, ...]] = field(default_factory=list)

    def add(self, other: Patches) -> None:
        """Append another one's patches."""
        self.convex += other.convex
        self.filled += other.filled


def draw_marks(rng: np.random.Generator, marks: Marks, hand: Hand, technique: Technique, width_mm: float) -> Patches:
    """Carry out marks (in mm) by a technique and a hand.

    Parameters
    ----------
    rng : Generator
    marks : Strokes, Fills and Dots in mm
    hand, technique : who and how
    width_mm : line width before the technique's own scale

    Returns
    -------
    Patches
        In the same mm coordinates.
    """
    width = width_mm * technique.width_scale
    paths = [(mark.points, mark.weight) for mark in marks if isinstance(mark, Stroke)]
    out = Patches()
    for mark in marks:
        if isinstance(mark, Fill):
            paths += _fill(rng, mark, hand, technique, width, out)
        elif isinstance(mark, Dot):
            wobble = 1 + 0.25 * hand.looseness * rng.standard_normal((12, 1))
            out.convex.append((mark.centre + CIRCLE * max(mark.radius, 0.35 * width) * wobble)[None])
    if technique.teeth > 1:
        paths = [one for path, weight in paths for one in _comb(path, weight, technique.teeth, width)]
    out.convex += _print(rng, paths, hand, technique, width)
    return out


def _fill(
    rng: np.random.Generator, mark: Fill, hand: Hand, technique: Technique, width: float, out: Patches
) -> list[tuple[FloatArray, float]]:
    """Add a filled shape to the patches, or return the strokes that stand for it."""
    closed = [np.concatenate([one, one[:1]]) for one in mark.rings]
    rings = tuple(shaken(rng, resampled(one, STEP_MM), hand)[:-1] for one in closed)
    if technique.fill_by == "solid":
        out.filled.append(rings)
        return []
    if technique.fill_by == "dots":
        rows = hatch(rings, 2.3 * width, 0.0)
        spots = [resampled(row, 2.3 * width)[1:-1] for row in rows]
        centres = np.concatenate([np.zeros((0, 2)), *spots])
        if len(centres):
            out.convex.append(centres[:, None] + CIRCLE * 0.5 * width)
        return [(one, 1.0) for one in closed]
    lines = [(one, 1.0) for one in closed]
    if technique.fill_by == "hatch":
        lines += [(one, 0.9) for one in hatch(rings, 2.6 * width, 40.0 + 10 * hand.style[1])]
    return lines


def _comb(path: FloatArray, weight: float, teeth: int, width: float) -> list[tuple[FloatArray, float]]:
    """Return the parallel lines that a comb leaves along a path."""
    path = resampled(path, STEP_MM)
    ahead = np.gradient(path, axis=0)
    across = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    across /= np.maximum(np.hypot(*across.T), 1e-9)[:, None]
    offsets = (np.arange(teeth) - (teeth - 1) / 2) * 2.2 * width
    return [(path + across * offset, weight) for offset in offsets]


def _print(
    rng: np.random.Generator, paths: list[tuple[FloatArray, float]], hand: Hand, technique: Technique, width: float
) -> list[FloatArray]:
    """Turn all paths into convex patches."""
    if not paths:
        return []
    step = {"line": STEP_MM, "dots": 1.9 * width, "dentate": 1.35 * width, "cord": 0.9 * width}[technique.print_shape]
    fine = [resampled(path, step) for path, _ in paths]
    lengths = np.array([len(one) for one in fine], np.intp)
    weights = np.repeat([weight for _, weight in paths], lengths)
    path = np.concatenate(fine)
    starts = np.cumsum(lengths) - lengths
    if technique.print_shape in {"line", "cord"}:
        path = shaken(rng, path, hand)
    else:
        path = path + rng.normal(0, 0.5 * hand.tremor_mm, path.shape)
    press = gaussian_filter1d(rng.standard_normal(len(path)), 4.0, mode="nearest") * 3.5
    widths = width * weights * np.clip(1 + hand.width_spread * press, 0.45, 1.8)
    if technique.print_shape == "line":
        return [_quads(path, widths, starts, lengths)]
    ahead = np.gradient(path, axis=0) if len(path) > 1 else np.ones_like(path)
    angle = np.arctan2(ahead[:, 1], ahead[:, 0])
    return [_stamps(path, angle, widths, technique.print_shape)]


def _quads(path: FloatArray, widths: FloatArray, starts: NDArray[np.intp], lengths: NDArray[np.intp]) -> FloatArray:
    """Return a quadrilateral for every leg of the strokes, tapered at their ends, (K, 4, 2)."""
    place = np.arange(len(path)) - np.repeat(starts, lengths)
    from_end = np.minimum(place, np.repeat(lengths, lengths) - 1 - place)
    widths = widths * np.where(from_end == 0, 0.72, 1.0)
    legs = np.flatnonzero(place[1:] > 0)
    a, b = path[legs], path[legs + 1]
    ahead = (b - a) / np.maximum(np.hypot(*(b - a).T), 1e-9)[:, None]
    across = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    wa, wb = widths[legs, None] / 2, widths[legs + 1, None] / 2
    a, b = a - ahead * wa * 0.45, b + ahead * wb * 0.45
    return np.stack([a + across * wa, b + across * wb, b - across * wb, a - across * wa], axis=1)


def _stamps(path: FloatArray, angle: FloatArray, widths: FloatArray, print_shape: str) -> FloatArray:
    """Return one small print for every point of a path, turned along it, (K, T, 2)."""
    if print_shape == "dots":
        template = CIRCLE * [0.5, 0.45]
    elif print_shape == "dentate":
        template = np.array([[-0.36, -0.5], [0.36, -0.5], [0.36, 0.5], [-0.36, 0.5]])
    else:
        c, s = np.cos(0.75), np.sin(0.75)
        template = (CIRCLE * [0.6, 0.24]) @ np.array([[c, s], [-s, c]])
    turn = np.stack([np.stack([np.cos(angle), -np.sin(angle)], -1), np.stack([np.sin(angle), np.cos(angle)], -1)], -2)
    return np.asarray(path[:, None] + np.einsum("kij,tj->kti", turn, template) * widths[:, None, None])
