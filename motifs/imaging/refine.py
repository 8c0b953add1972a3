"""Outlines fitted to the photograph: the best closed path through profiles across the first guess.

Profiles are sampled along the normals of the guess. Each place on a profile has a cost: what lies inside should not
look like backdrop or shadow, what lies outside should not look like foreground, and the outline itself
should run along an edge. The closed path of least cost is found by dynamic programming (Amini, Weymouth & Jain
1990, for active contours). It is then moved to where linear light passes half-way between both sides, which is
where the edge of a blurred step lies.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from scipy.ndimage import find_objects

from motifs.imaging.backdrop_colour import BackdropColour, distances
from motifs.imaging.colour import linear_to_lab, to_linear

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.imaging.backdrop import Surface

FINE_SIDE_PX: Final = 2400
"""Longer side of the image the profiles are sampled from; larger photographs are averaged down to it."""

_MAX_POINTS: Final = 640
_INWARD: Final = 8.0  # reach of a profile in px of the working image
_OUTWARD: Final = 4.0
_STEPS: Final = 25
_WRAP: Final = 24  # profiles repeated on either side so that the path closes on itself
_MAX_JUMP: Final = 2
_BEND_COST: Final = 0.10
_EDGE_WEIGHT: Final = 2.2
_CLEAR_STEP: Final = 4.0  # L*a*b* units across an edge that is seen without effort
_STEADY: Final = 6.0  # cost of leaving the guess where it must stay


@dataclass(frozen=True, slots=True)
class FittedOutline:
    """points: (N, 2) float32. clear_share: 0..1, the share of the outline that runs along a clear edge."""

    points: NDArray[np.float32]
    clear_share: float


@dataclass(frozen=True, slots=True)
class _Bundle:
    """Profiles of one outline: base (n, 2) and normal (n, 2) in px of the working image; held (n,) bool."""

    base: NDArray[np.float64]
    normal: NDArray[np.float64]
    held: NDArray[np.bool_]


def refine_outlines(
    fine: NDArray[np.uint8],
    working_size: tuple[int, int],
    surface: Surface,
    colour: BackdropColour,
    labels: NDArray[np.int32],
) -> list[FittedOutline]:
    """Fit the outlines of all labelled pieces.

    Parameters
    ----------
    fine
        (H, W, 3) uint8, the photograph or a smaller copy of at most ``FINE_SIDE_PX``.
    working_size
        (width, height) of the working image, on which everything else is given.
    surface, colour
        Backdrop light and colour.
    labels
        (h, w) int32, 1..n for the pieces, 0 elsewhere.

    Returns
    -------
    list
        Outlines in px of the working image, in the order of the labels.
    """
    boxes = find_objects(labels)
    bundles = [_bundle(labels, label, box) for label, box in enumerate(boxes, start=1)]
    if not bundles:
        return []
    offsets = np.linspace(-_INWARD, _OUTWARD, _STEPS)
    profiles = [_sample(fine, working_size, surface, colour, bundle, offsets) for bundle in bundles]
    costs = [
        _costs(lab, colour, colour.sd_at(bundle.base, working_size), bundle.held, offsets)
        for (_, lab), bundle in zip(profiles, bundles, strict=True)
    ]
    paths = _least_paths(costs)
    outlines = []
    for bundle, (flat, lab), path in zip(bundles, profiles, paths, strict=True):
        shift = _half_way(flat, path, offsets)
        shift = np.where(bundle.held, 0.0, shift)
        shift = _smooth_closed(shift, 0.8)
        outline = _cleaned(bundle.base + shift[:, None] * bundle.normal, working_size)
        outlines.append(FittedOutline(outline, _clear_share(lab, path, bundle.held)))
    return outlines


def _bundle(labels: NDArray[np.int32], label: int, box: tuple[slice, slice]) -> _Bundle:
    top, left = box[0].start, box[1].start
    part = np.pad((labels[box] == label).astype(np.uint8), 1)
    # The contour through pixel centres lies half a pixel inside; a blurred level line lies on the edge.
    contour = max(cv2.findContours(part, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0], key=len)[:, 0]
    points = _even_closed(contour.astype(np.float64))
    base = np.stack([_smooth_closed(points[:, k], 2.0) for k in (0, 1)], axis=1)
    tangent = np.roll(base, -2, axis=0) - np.roll(base, 2, axis=0)
    length = np.maximum(np.hypot(tangent[:, 0], tangent[:, 1]), 1e-9)[:, None]
    # findContours runs clockwise on the screen (y down), so the outside lies to the left of the tangent.
    normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1) / length
    if _signed_area(base) < 0:
        normal = -normal
    base = base + np.array([left - 1, top - 1])
    raw = points + np.array([left - 1, top - 1])
    held = _held(labels, label, raw, normal)
    base[held] = raw[held]
    return _Bundle(base, normal, held)


def _signed_area(points: NDArray[np.float64]) -> float:
    x, y = points[:, 0], points[:, 1]
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _even_closed(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Resample a closed polygon at even steps of about one px, at most `_MAX_POINTS`."""
    closed = np.vstack([points, points[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    count = int(np.clip(round(along[-1]), 12, _MAX_POINTS))
    at = np.linspace(0.0, along[-1], count, endpoint=False)
    return np.stack([np.interp(at, along, closed[:, k]) for k in (0, 1)], axis=1)


def _smooth_closed(values: NDArray[np.float64], sigma: float) -> NDArray[np.float64]:
    reach = int(3 * sigma) + 1
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    padded = np.concatenate([values[-reach:], values, values[:reach]]) if len(values) > reach else values
    if len(values) <= reach:
        return values
    return np.convolve(padded, kernel / kernel.sum(), mode="valid")


def _held(
    labels: NDArray[np.int32], label: int, base: NDArray[np.float64], normal: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Where the outline must stay: along the frame, and along the cut between touching sherds."""
    height, width = labels.shape
    at_frame = (base < 1.0).any(axis=1) | (base > np.array([width, height]) - 2.0).any(axis=1)
    beside = np.zeros(len(base), dtype=bool)
    for reach in (1.5, 3.0):
        ahead = np.rint(base + reach * normal).astype(int)
        x, y = np.clip(ahead[:, 0], 0, width - 1), np.clip(ahead[:, 1], 0, height - 1)
        beside |= (labels[y, x] != 0) & (labels[y, x] != label)
    held: NDArray[np.bool_] = at_frame | beside
    return held


def _sample(
    fine: NDArray[np.uint8],
    working_size: tuple[int, int],
    surface: Surface,
    colour: BackdropColour,
    bundle: _Bundle,
    offsets: NDArray[np.float64],
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Flattened linear light and L*a*b* on the profiles, (n, steps, 3) each."""
    places = bundle.base[:, None] + offsets[None, :, None] * bundle.normal[:, None]
    zoom = np.array([fine.shape[1] / working_size[0], fine.shape[0] / working_size[1]])
    at = ((places + 0.5) * zoom - 0.5).astype(np.float32)
    pixels = cv2.remap(fine, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    light = surface.at(bundle.base[:, 0], bundle.base[:, 1])[:, None]
    flat = to_linear(np.asarray(pixels, dtype=np.uint8)) * (colour.level.astype(np.float32) / light)
    flat = _blur_along(flat)
    return flat, linear_to_lab(flat)


def _blur_along(profiles: NDArray[np.float32]) -> NDArray[np.float32]:
    """Average each profile with its neighbours (1 2 1): noise goes, the edge across stays."""
    mean: NDArray[np.float32] = (
        0.25 * np.roll(profiles, 1, axis=0) + 0.5 * profiles + 0.25 * np.roll(profiles, -1, axis=0)
    )
    return mean


def _costs(
    lab: NDArray[np.float32],
    colour: BackdropColour,
    sd: NDArray[np.float32],
    held: NDArray[np.bool_],
    offsets: NDArray[np.float64],
) -> NDArray[np.float32]:
    """Cost of putting the outline at each place of each profile, (n, steps)."""
    near, off_curve, _ = distances(lab, colour, sd[:, None])
    # +1 surely foreground, -1 surely backdrop; on the shadow curve only weakly backdrop.
    foreground = np.clip(off_curve / 4.0 - 1.0, -1.0, 1.0)
    on_curve_only = (near > 5.0) & (foreground < 0)
    lean = np.where(on_curve_only, 0.15 * foreground, foreground)
    inside = np.cumsum(np.maximum(-lean, 0.0), axis=1)
    outside = np.maximum(lean, 0.0)
    outside = np.cumsum(outside[:, ::-1], axis=1)[:, ::-1]
    region = np.zeros_like(lean)
    region[:, 1:] += inside[:, :-1]
    region[:, :-1] += outside[:, 1:]
    rise = np.zeros(lab.shape[:2], dtype=np.float32)
    rise[:, 1:-1] = np.sqrt(((lab[:, 2:] - lab[:, :-2]) ** 2).sum(axis=2))
    strength = np.minimum(rise / np.maximum(rise.max(axis=1, keepdims=True), 6.0), 1.0)
    cost = 0.35 * region - _EDGE_WEIGHT * strength
    away = np.abs(offsets)[None] * np.where(held, _STEADY, 0.02)[:, None]
    total: NDArray[np.float32] = (cost + away).astype(np.float32)
    return total


def _least_paths(costs: Sequence[NDArray[np.float32]]) -> list[NDArray[np.intp]]:
    """Least-cost closed path through each bundle; all bundles advance together."""
    longest = max(len(cost) for cost in costs) + 2 * _WRAP
    rolls = [np.arange(-_WRAP, longest - _WRAP) % len(cost) for cost in costs]
    stack = np.stack([cost[roll] for cost, roll in zip(costs, rolls, strict=True)], axis=1)
    total = stack[0].copy()
    steps = stack.shape[2]
    back = np.full((longest, len(costs), steps), _MAX_JUMP, dtype=np.int8)
    choice = np.zeros((len(costs), steps), dtype=np.intp)
    jumps = np.arange(-_MAX_JUMP, _MAX_JUMP + 1, dtype=np.float32)
    bends = (np.float32(_BEND_COST) * jumps * jumps)[:, None, None]
    # One window over a padded row for each jump; nothing is allocated inside the loop.
    padded = np.full((len(costs), steps + 2 * _MAX_JUMP), 1e9, dtype=np.float32)
    within = padded[:, _MAX_JUMP : _MAX_JUMP + steps]
    windows = np.moveaxis(sliding_window_view(padded, steps, axis=1), 1, 0)
    options = np.empty((len(jumps), len(costs), steps), dtype=np.float32)
    for row in range(1, longest):
        within[:] = total
        np.add(windows, bends, out=options)
        options.argmin(axis=0, out=choice)
        back[row] = choice
        options.min(axis=0, out=total)
        total += stack[row]
    back -= _MAX_JUMP
    at = total.argmin(axis=1)
    path = np.zeros((longest, len(costs)), dtype=np.intp)
    everyone = np.arange(len(costs))
    for row in range(longest - 1, -1, -1):
        path[row] = at
        at = at + back[row, everyone, at]
    return [path[_WRAP : _WRAP + len(cost), k] for k, cost in enumerate(costs)]


def _clear_share(lab: NDArray[np.float32], path: NDArray[np.intp], held: NDArray[np.bool_]) -> float:
    """Share of the fitted places where both sides differ by more than backdrops vary."""
    rows = np.arange(len(path))
    last = lab.shape[1] - 1
    within = lab[rows, np.clip(path - 3, 0, last)]
    beyond = lab[rows, np.clip(path + 3, 0, last)]
    clear = np.sqrt(((within - beyond) ** 2).sum(axis=1)) > _CLEAR_STEP
    return float(clear[~held].mean()) if (~held).any() else 1.0


def _half_way(flat: NDArray[np.float32], path: NDArray[np.intp], offsets: NDArray[np.float64]) -> NDArray[np.float64]:
    """Offset at which light passes half-way between both sides of the chosen edge."""
    rows = np.arange(len(path))
    last = len(offsets) - 1
    within = [flat[rows, np.clip(path - k, 0, last)] for k in (3, 4)]
    beyond = [flat[rows, np.clip(path + k, 0, last)] for k in (3, 4)]
    inner, outer = np.mean(within, axis=0), np.mean(beyond, axis=0)
    direction = inner - outer
    power = np.maximum((direction**2).sum(axis=1), 1e-12)
    best = offsets[path].copy()
    window = np.arange(-3, 4)
    places = np.clip(path[:, None] + window, 0, last)
    share = ((flat[rows[:, None], places] - outer[:, None]) * direction[:, None]).sum(axis=2) / power[:, None]
    nearest = np.full(len(path), np.inf)
    step = offsets[1] - offsets[0]
    for k in range(len(window) - 1):
        high, low = share[:, k], share[:, k + 1]
        crosses = (high >= 0.5) & (low < 0.5)
        place = offsets[places[:, k]] + step * (high - 0.5) / np.maximum(high - low, 1e-6)
        closer = crosses & (np.abs(place - offsets[path]) < nearest)
        nearest = np.where(closer, np.abs(place - offsets[path]), nearest)
        best = np.where(closer, place, best)
    return best


def _cleaned(outline: NDArray[np.float64], working_size: tuple[int, int]) -> NDArray[np.float32]:
    limit = np.array(working_size, dtype=np.float64) - 0.5
    inside: NDArray[np.float32] = np.clip(outline, -0.5, limit).astype(np.float32)
    return inside
