"""The hand that decorates: line width, tremor, spacing, pressure, slips, and how it draws each motif."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import gaussian_filter1d

from motifs.practice.marks import Dot, Fill, Mark, Marks, Stroke, affine, mapped

if TYPE_CHECKING:
    from motifs.practice.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class Hand:
    """Habits of one decorator.

    line_width_mm: mean width. width_spread: relative spread within a stroke (pressure). tremor_mm: standard deviation
    of the line's wander. spacing_spread: relative spread of the repeats' widths. squeeze: relative width of the last
    repeat of a band (1 = regular). wander_mm: how far a band strays from level. slip_rate: share of repeats with a
    mistake. lean_deg: mean slant of the motifs. style: (4,) in -1..1, see families. looseness: how much the style
    varies between repeats.
    """

    line_width_mm: float
    width_spread: float
    tremor_mm: float
    spacing_spread: float
    squeeze: float
    wander_mm: float
    slip_rate: float
    lean_deg: float
    style: tuple[float, float, float, float]
    looseness: float


def draw_hand(rng: np.random.Generator) -> Hand:
    """Draw a hand, from practised to clumsy. Line widths of 0.5 to 3 mm (common practice for painted ware)."""
    clumsy = float(rng.beta(1.6, 2.6))
    style = rng.uniform(-1, 1, 4)
    return Hand(
        line_width_mm=float(np.exp(rng.uniform(np.log(0.8), np.log(2.6)))),
        width_spread=0.06 + 0.25 * clumsy,
        tremor_mm=0.08 + 0.5 * clumsy,
        spacing_spread=0.015 + 0.12 * clumsy,
        squeeze=float(rng.uniform(0.55, 1.2)),
        wander_mm=0.2 + 1.8 * clumsy,
        slip_rate=0.01 + 0.08 * clumsy,
        lean_deg=float(rng.normal(0, 3)),
        style=(float(style[0]), float(style[1]), float(style[2]), float(style[3])),
        looseness=0.08 + 0.3 * clumsy,
    )


def another_hand(rng: np.random.Generator, hand: Hand, difference: float) -> Hand:
    """Draw a hand like another one; difference 1 gives lines 15 to 30 % wider or narrower, 0 the same hand."""
    other = draw_hand(rng)
    way = 1.0 if rng.random() < 0.5 else -1.0
    width = hand.line_width_mm * (1 + way * float(rng.uniform(0.15, 0.30)) * difference)
    share = min(0.6 * difference, 1.0)
    style = np.asarray(hand.style) * (1 - share) + np.asarray(other.style) * share
    return replace(
        hand,
        line_width_mm=float(np.clip(width, 0.5, 4.0)),
        width_spread=_between(hand.width_spread, other.width_spread, share),
        tremor_mm=_between(hand.tremor_mm, other.tremor_mm, share),
        spacing_spread=_between(hand.spacing_spread, other.spacing_spread, share),
        squeeze=other.squeeze,
        wander_mm=_between(hand.wander_mm, other.wander_mm, share),
        lean_deg=_between(hand.lean_deg, other.lean_deg, share),
        style=(float(style[0]), float(style[1]), float(style[2]), float(style[3])),
        looseness=_between(hand.looseness, other.looseness, share),
    )


def _between(a: float, b: float, share: float) -> float:
    return a + (b - a) * share


def shaken(rng: np.random.Generator, path: FloatArray, hand: Hand) -> FloatArray:
    """Move the points of a path (mm, about 1 mm apart) by the hand's tremor, fast and slow."""
    fast = gaussian_filter1d(rng.standard_normal(path.shape), 1.2, axis=0, mode="nearest") * 1.6
    slow = gaussian_filter1d(rng.standard_normal(path.shape), 6.0, axis=0, mode="nearest") * 4.0
    return np.asarray(path + hand.tremor_mm * (0.35 * fast + 0.75 * slow))


def slipped(rng: np.random.Generator, marks: Marks, aspect: float, hand: Hand) -> Marks:
    """Return one repeat as this hand draws it this time: a little turned and shifted, seldom with a mistake."""
    angle = np.radians(hand.lean_deg * 0.4 + rng.normal(0, 8 * hand.looseness))
    size = 1 + rng.normal(0, 0.12 * hand.looseness)
    c, s = np.cos(angle) * size, np.sin(angle) * size
    middle = np.array([aspect / 2, 0.5])
    turn = np.array([[c, -s], [s, c]])
    shift = middle - turn @ middle + rng.normal(0, 0.05 * hand.looseness, 2)
    marks = affine(marks, np.column_stack([turn, shift]))
    if rng.random() >= hand.slip_rate or len(marks) == 0:
        return marks
    return _mistake(rng, marks)


def _mistake(rng: np.random.Generator, marks: Marks) -> Marks:
    """Leave a mark out, cut a stroke short, or draw it twice beside itself."""
    which = int(rng.integers(len(marks)))
    mark = marks[which]
    rest: list[Mark] = [one for k, one in enumerate(marks) if k != which]
    if isinstance(mark, Stroke) and len(mark.points) >= 2:
        if rng.random() < 0.5:
            rest.append(Stroke(mark.points[: max(2, int(len(mark.points) * 0.7))], mark.weight))
        else:
            rest += [mark, *mapped((mark,), lambda p: p + rng.normal(0, 0.05, 2))]
    elif isinstance(mark, Fill | Dot) and len(marks) == 1:
        rest.append(mark)
    return tuple(rest)
