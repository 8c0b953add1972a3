"""Breaking a developed wall: warped Voronoi cells, lost pieces, abraded edges."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from tests.outsider.style_one.surface import Surface, cyclic_noise
from tests.outsider.truth import fracture_contacts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tests.outsider.optics import Image

MIN_AREA_MM2 = 160.0
BORDER_MM = 3.0


@dataclass(frozen=True)
class Piece:
    """One sherd as a flat picture. albedo (h, w, 3) linear, mask (h, w); wall_radius_mm bends it about its y axis."""

    index: int
    albedo: Image
    mask: NDArray[np.bool_]
    px_per_mm: float
    motifs: dict[str, float]
    wall_radius_mm: float

    @property
    def area_mm2(self) -> float:
        """Area after wear."""
        return float(self.mask.sum()) / self.px_per_mm**2


def shatter(
    surface: Surface, pieces: int, rng: np.random.Generator
) -> tuple[list[Piece], dict[tuple[int, int], float]]:
    """Break a wall into about so many pieces; give them and the shared fracture length (mm) of every pair."""
    labels = _crack(surface, pieces, rng)
    labels = _merge_small(labels, surface.px_per_mm)
    contacts = fracture_contacts(labels, surface.px_per_mm)
    cut = [_cut(surface, labels, int(label), rng) for label in np.unique(labels)]
    return [piece for piece in cut if piece is not None], contacts


def _crack(surface: Surface, pieces: int, rng: np.random.Generator) -> NDArray[np.int32]:
    shape, px = surface.zones.shape, surface.px_per_mm
    height, width = shape
    hits = rng.random((max(2, pieces // 10), 2)) * (width, height)
    near = hits[rng.integers(len(hits), size=pieces // 3)] + rng.normal(0, 22 * px, (pieces // 3, 2))
    seeds = np.concatenate([near, rng.random((pieces - len(near), 2)) * (width, height)])
    seeds[:, 0] %= width
    seeds[:, 1] = np.clip(seeds[:, 1], 0, height - 1)
    field = np.full((height, 2 * width), 255, np.uint8)
    origin = np.zeros((height, 2 * width), np.int32)
    for number, (x, y) in enumerate(seeds.astype(int)):
        for turn in ((x + width // 2) % (2 * width), (x + width // 2 + width) % (2 * width)):
            field[y, turn] = 0
            origin[y, turn] = number + 1
    _, nearest = cv2.distanceTransformWithLabels(field, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
    number_of = np.zeros(nearest.max() + 1, np.int32)
    number_of[nearest[field == 0]] = origin[field == 0]
    cells = number_of[nearest]
    return _warp_cells(cells, shape, px, rng) - 1


def _warp_cells(
    cells: NDArray[np.int32], shape: tuple[int, int], px: float, rng: np.random.Generator
) -> NDArray[np.int32]:
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    for cell_mm, depth_mm in ((22, 2.0), (6, 0.7), (1.2, 0.2)):
        x += depth_mm * px * cyclic_noise(shape, cell_mm * px, rng)
        y += depth_mm * px * cyclic_noise(shape, cell_mm * px, rng)
    x = np.mod(x, shape[1]) + shape[1] // 2
    return cv2.remap(cells.astype(np.float32), x, np.clip(y, 0, shape[0] - 1), cv2.INTER_NEAREST).astype(np.int32)


def _merge_small(labels: NDArray[np.int32], px: float) -> NDArray[np.int32]:
    labels = labels.copy()
    while True:
        numbers, areas = np.unique(labels, return_counts=True)
        small = int(areas.argmin())
        if areas[small] >= MIN_AREA_MM2 * px**2 or len(numbers) < 3:
            return labels
        lone = int(numbers[small])
        shared = {pair: length for pair, length in fracture_contacts(labels, px).items() if lone in pair}
        other = next(label for label in max(shared, key=lambda pair: shared[pair]) if label != lone)
        labels[labels == lone] = other


def _cut(surface: Surface, labels: NDArray[np.int32], label: int, rng: np.random.Generator) -> Piece | None:
    px, width = surface.px_per_mm, labels.shape[1]
    here = labels == label
    shift = _seam_shift(here.any(0))
    here = np.roll(here, shift, 1)
    ys, xs = np.flatnonzero(here.any(1)), np.flatnonzero(here.any(0))
    border = round(BORDER_MM * px)
    rows = np.clip(np.arange(ys[0] - border, ys[-1] + border + 1), 0, labels.shape[0] - 1)
    columns = np.arange(xs[0] - border, xs[-1] + border + 1)
    mask = np.zeros((len(rows), len(columns)), bool)
    mask[border:-border, border:-border] = here[ys[0] : ys[-1] + 1, xs[0] : xs[-1] + 1]
    mask = _wear(mask, px, rng)
    if mask.sum() < 0.6 * MIN_AREA_MM2 * px**2:
        return None
    grid = np.ix_(rows, (columns - shift) % width)
    zones = surface.zones[grid][mask]
    motifs = {name: float((zones == k).mean()) for k, name in enumerate(surface.names, 1) if (zones == k).any()}
    return Piece(label, surface.albedo[grid], mask, px, motifs, width / px / (2 * np.pi))


def _seam_shift(columns: NDArray[np.bool_]) -> int:
    """Roll that brings a piece away from the seam: half a girth when it lies across it."""
    return len(columns) // 2 if columns[0] and columns[-1] else 0


def _wear(mask: NDArray[np.bool_], px: float, rng: np.random.Generator) -> NDArray[np.bool_]:
    """Abraded edge: 0.2 to 0.8 mm gone, corners rounded; the largest remaining part."""
    depth = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5)
    loss = px * np.clip(0.4 + 0.2 * cyclic_noise(mask.shape, 6 * px, rng), 0.15, 0.9)
    soft = cv2.GaussianBlur((depth > loss).astype(np.float32), (0, 0), 0.5 * px)
    count, parts, stats, _ = cv2.connectedComponentsWithStats((soft > 0.5).astype(np.uint8), connectivity=4)
    if count < 2:
        return np.zeros_like(mask)
    return np.asarray(parts == 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax()))
