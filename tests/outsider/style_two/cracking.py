"""Cracks that start at an edge, wander and stop at the next edge, one after another."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, gaussian_filter1d

from tests.outsider.truth import fracture_contacts

GRID_PX_PER_MM = 4.0
LEAST_MM2 = 170.0
Labels = NDArray[np.int32]


def crack_wall(girth_mm: float, height_mm: float, pieces: int, rng: np.random.Generator) -> Labels:
    """Piece numbers over the developed wall at GRID_PX_PER_MM; closes in x."""
    shape = (round(height_mm * GRID_PX_PER_MM), round(girth_mm * GRID_PX_PER_MM))
    labels = _sectors(shape, int(rng.integers(4, 7)), rng)
    count, failures = int(labels.max()) + 1, 0
    while count < pieces and failures < 200:
        areas = np.bincount(labels.ravel(), minlength=count).astype(float)
        weights = np.where(areas > 2.4 * LEAST_MM2 * GRID_PX_PER_MM**2, areas**1.7, 0)
        if weights.sum() == 0:
            break
        chosen = int(rng.choice(count, p=weights / weights.sum()))
        if _split(labels, chosen, count, rng):
            count += 1
        else:
            failures += 1
    return labels


def contacts_of(labels: Labels) -> dict[tuple[int, int], float]:
    """Shared fracture length in mm of every touching pair."""
    return fracture_contacts(labels, GRID_PX_PER_MM)


def _sectors(shape: tuple[int, int], count: int, rng: np.random.Generator) -> Labels:
    """First cracks, from rim to base."""
    height, width = shape
    starts = (np.arange(count) + rng.uniform(0.2, 0.8, count)) * width / count
    wander = gaussian_filter1d(rng.normal(size=(count, height)), 25, axis=1, mode="nearest") * 5 * 9
    wander += np.cumsum(rng.normal(0, 0.35, (count, height)), axis=1)
    lines = np.sort(np.clip(starts[:, None] + wander, 1, width - 2), axis=0)
    x = np.arange(width)
    rows = [np.searchsorted(lines[:, y], x) % count for y in range(height)]
    return np.array(rows, np.int32)


def _split(labels: Labels, chosen: int, new: int, rng: np.random.Generator) -> bool:
    """Grow one crack through a piece; give whether it came apart in two large enough parts."""
    width = labels.shape[1]
    here = labels == chosen
    columns = here.any(0)
    shift = width // 2 if columns[0] and columns[-1] else 0
    here = np.roll(here, shift, 1)
    ys, xs = np.flatnonzero(here.any(1)), np.flatnonzero(here.any(0))
    box = np.s_[ys[0] : ys[-1] + 1, xs[0] : xs[-1] + 1]
    part = np.pad(here[box], 1)
    barrier = _walk(part, rng)
    count, areas = cv2.connectedComponents((part & ~barrier).astype(np.uint8), connectivity=4)
    sizes = np.bincount(areas.ravel(), minlength=count)[1:]
    if len(sizes) < 2 or np.sort(sizes)[-2] < LEAST_MM2 * GRID_PX_PER_MM**2:
        return False
    largest = 1 + np.argsort(sizes)[-2:]
    keep = np.isin(areas, largest)
    nearest = distance_transform_edt(~keep, return_distances=False, return_indices=True)
    side = areas[tuple(nearest)]
    taken = np.zeros_like(here)
    taken[box] = (part & (side == largest[0]))[1:-1, 1:-1]
    labels[np.roll(taken, -shift, 1)] = new
    return True


def _walk(part: NDArray[np.bool_], rng: np.random.Generator) -> NDArray[np.bool_]:
    """The shortest of a few cracks: a break takes the easy way, across rather than along."""
    edge = part & ~cv2.erode(part.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    starts = np.argwhere(edge)
    middle = np.argwhere(part).mean(0) + rng.normal(0, 0.12, 2) * np.array(part.shape)
    paths = [_wander(part, starts[rng.integers(len(starts))].astype(float), middle, rng) for _ in range(5)]
    barrier = np.zeros(part.shape, np.uint8)
    shortest = min(paths, key=len)
    cv2.polylines(barrier, [np.round(shortest[:, ::-1]).astype(np.int32)], False, 1, 2)
    return barrier > 0


def _wander(
    part: NDArray[np.bool_], place: NDArray[np.float64], middle: NDArray[np.float64], rng: np.random.Generator
) -> NDArray[np.float64]:
    """Steps of one pixel from a place at the edge through the middle until the part is left; (row, column)."""
    toward = middle - place
    course, swing, path = np.arctan2(toward[0], toward[1]), rng.normal(0, 0.2), [place]
    for _ in range(2 * sum(part.shape)):
        swing = 0.97 * swing + rng.normal(0, 0.08)
        heading = course + swing + rng.normal(0, 0.4)
        place = place + np.array([np.sin(heading), np.cos(heading)])
        path.append(place)
        row, column = round(float(place[0])), round(float(place[1]))
        if not (0 <= row < part.shape[0] and 0 <= column < part.shape[1]) or (len(path) > 6 and not part[row, column]):
            break
    return np.array(path)
