"""Sherds that nothing joins: laid beside the others at the height of their part of the vessel, or below as loose ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

POSITIONS: Final = (
    "lip",
    "rim",
    "collar",
    "neck",
    "shoulder",
    "upper body",
    "carination",
    "body",
    "maximum diameter",
    "lower body",
    "base angle",
    "footring",
    "foot",
    "base",
)
"""Parts of a vessel from the rim down, in the words of the vocabulary."""
GAP_MM: Final = 10.0
ROW_MM: Final = 400.0


@dataclass(frozen=True, slots=True)
class Put:
    """by: "joins", "band" or "loose" of every sherd. shift_mm: (n, 2) how far each is moved from where its group was laid."""

    by: tuple[str, ...]
    shift_mm: NDArray[np.float64]


def lay_beside(
    laid: Sequence[NDArray[np.float64]],
    group: NDArray[np.intp],
    parts: Sequence[str | None],
    is_locked: Sequence[bool],
    *,
    is_upright: bool,
) -> Put:
    """Say where every group goes.

    Parameters
    ----------
    laid : (N, 2) outlines, each group about its own origin.
    group : (n,) numbers; group 0 stays, if it has two sherds or more.
    parts : part of the vessel of each sherd, one of POSITIONS, or None.
    is_locked : laid by a person; a group with such a sherd stays where she put it.
    is_upright : whether group 0 has its rim up; without, no height means anything.
    """
    shift = np.zeros((len(laid), 2))
    by = ["loose"] * len(laid)
    groups = [np.flatnonzero(group == number).tolist() for number in range(int(group.max(initial=-1)) + 1)]
    main = groups[0] if groups and len(groups[0]) > 1 else []
    for k in main:
        by[k] = "joins"
    heights = _heights(laid, main, parts) if is_upright else {}
    right, foot = _corner(laid, main)
    columns: dict[int, float] = {}
    x = left = -np.inf if not main else float(min(laid[k][:, 0].min() for k in main))
    x = left = 0.0 if not np.isfinite(left) else left
    y, tallest = foot + GAP_MM * 2, 0.0
    for members in groups if not main else groups[1:]:
        if any(is_locked[k] for k in members):
            continue
        low, high = _extent([laid[k] for k in members])
        part = next((parts[k] for k in members if parts[k] is not None), None)
        if part is not None and heights:
            row = round(_height_of(part, heights) / 40.0)
            at = np.array([columns.get(row, right + 2 * GAP_MM), _height_of(part, heights) - (high - low)[1] / 2])
            columns[row] = float(at[0] + (high - low)[0] + GAP_MM)
            word = "band"
        else:
            if x > left and x + (high - low)[0] > left + ROW_MM:
                x, y, tallest = left, y + tallest + GAP_MM, 0.0
            at = np.array([x, y])
            x, tallest = float(x + (high - low)[0] + GAP_MM), max(tallest, float((high - low)[1]))
            word = "loose"
        for k in members:
            shift[k] = at - low
            by[k] = word
    return Put(tuple(by), shift)


def _heights(laid: Sequence[NDArray[np.float64]], main: Sequence[int], parts: Sequence[str | None]) -> dict[int, float]:
    """Mean height of each part that is known among the joined sherds, by its place in POSITIONS."""
    found: dict[int, list[float]] = {}
    for k in main:
        part = parts[k]
        if part is not None:
            found.setdefault(POSITIONS.index(part), []).append(float(laid[k][:, 1].mean()))
    return {place: float(np.mean(values)) for place, values in sorted(found.items())}


def _height_of(part: str, heights: dict[int, float]) -> float:
    """Height of a part, between those that are known."""
    return float(np.interp(POSITIONS.index(part), list(heights), list(heights.values())))


def _corner(laid: Sequence[NDArray[np.float64]], main: Sequence[int]) -> tuple[float, float]:
    if not main:
        return 0.0, -2 * GAP_MM
    _, high = _extent([laid[k] for k in main])
    return float(high[0]), float(high[1])


def _extent(outlines: Sequence[NDArray[np.float64]]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    points = np.concatenate(list(outlines))
    return points.min(axis=0), points.max(axis=0)
