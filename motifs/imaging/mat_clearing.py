"""A photograph of the mat with the printing taken off, as if the sherds lay on plain paper that fills the frame.

The light on the paper is a smooth surface, fitted in mm of the mat through what is known to be unprinted. Printing that
looks as it should is replaced by paper under that light; printing that something covers is left as it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np

from motifs.imaging.colour import to_linear, to_srgb8
from motifs.imaging.mat_design import CROSS_MM, LINE_MM, MARKER_MM, MARKER_MODULES, Box, MatDesign, marker_squares
from motifs.imaging.plane import plane_mm, plane_px, smooth_grid

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.imaging.mat_reading import MatReading

PAPER: Final = 0.85
"""Reflectance taken for white paper (uncoated; common practice, L* 93.9)."""

_PX_PER_MM: Final = 4
_BLACK: Final = 0.03  # reflectance of printed black, of that of the paper
_PAGE_EDGE_MM: Final = 2.0
_SPILL_MM: Final = 0.9  # blur carries printing so far over its edge
_AS_PRINTED: Final = 0.2  # of the square root of the paper's light
_COVER_MM: Final = 2.5  # a difference narrower than this is a misfit of the print, not a thing on it
_STROKE_MM: Final = 1.7  # writing and the code's squares have paper within this
_LIGHT_ORDER: Final = 3
_TUKEY: Final = 4.685  # Tukey's biweight at 95 % efficiency
_CLIPPED: Final = 250
_NOISE_SEED: Final = 20_07


@dataclass(frozen=True, slots=True)
class PaperLight:
    """Linear light of the bare paper: coefficients, (terms, 3), of its logarithm in positions on the mat; width_mm of that."""

    coefficients: NDArray[np.float64]
    design: MatDesign

    def at(self, places_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Light, (..., 3), at places (..., 2) in mm; beyond the page as at its edge."""
        inside = np.clip(places_mm, 0.0, (self.design.width, self.design.height))
        return np.asarray(np.exp(_terms(inside, self.design) @ self.coefficients), dtype=np.float64)


def _terms(places_mm: NDArray[np.float64], design: MatDesign) -> NDArray[np.float64]:
    x = 2.0 * places_mm[..., 0] / design.width - 1.0
    y = 2.0 * places_mm[..., 1] / design.height - 1.0
    powers = [(i, j) for i in range(_LIGHT_ORDER + 1) for j in range(_LIGHT_ORDER + 1 - i)]
    return np.stack([x**i * y**j for i, j in powers], axis=-1)


@lru_cache(maxsize=4)
def _printing(design: MatDesign) -> tuple[NDArray[np.float32], NDArray[np.uint8]]:
    """Reflectance over that of the paper, (h, w), and what is printed there: 0 nothing, 1 solid, 2 fine, 3 writing."""
    shape = (round(design.height * _PX_PER_MM), round(design.width * _PX_PER_MM))
    reflectance, kind = np.ones(shape, dtype=np.float32), np.zeros(shape, dtype=np.uint8)

    def fill(target: NDArray[np.float32] | NDArray[np.uint8], box: Box, value: float) -> None:
        left, top = round(box.x * _PX_PER_MM), round(box.y * _PX_PER_MM)
        right, bottom = round((box.x + box.width) * _PX_PER_MM), round((box.y + box.height) * _PX_PER_MM)
        target[max(0, top) : bottom, max(0, left) : right] = value

    fill(kind, Box(design.code.x, design.words_zone().y, design.width - 30.0 - design.code.x, 16.0), 3)
    fill(kind, design.code.grown(_SPILL_MM), 3)
    fill(kind, Box(design.bar.x - 3, design.bar.y - 1.5, design.bar.width + 6, design.bar.height + 8), 3)
    for x, y in design.crosses():
        fill(kind, Box(x - CROSS_MM / 2, y - LINE_MM / 2, CROSS_MM, LINE_MM).grown(0.5), 2)
        fill(kind, Box(x - LINE_MM / 2, y - CROSS_MM / 2, LINE_MM, CROSS_MM).grown(0.5), 2)
    for words in design.cell_names():
        fill(kind, words.box, 2)
    for block in design.bar_blocks():
        fill(reflectance, block, _BLACK)
    fill(kind, design.bar.grown(_SPILL_MM), 1)
    for patch in design.patches:
        fill(reflectance, patch.box, float(to_linear(np.array([patch.level], dtype=np.uint8))[0]))
        fill(kind, patch.box.grown(_SPILL_MM), 1)
    step = MARKER_MM / MARKER_MODULES
    for marker in design.markers:
        for row, column in np.argwhere(marker_squares(marker.number)).tolist():
            fill(reflectance, Box(marker.box.x + column * step, marker.box.y + row * step, step, step), _BLACK)
        fill(kind, marker.box.grown(_SPILL_MM), 1)
    return reflectance, kind


def paper_light(fine: NDArray[np.uint8], mat: MatReading, zoom: tuple[float, float]) -> PaperLight:
    """Fit the light on the bare paper.

    Parameters
    ----------
    fine
        (H, W, 3) uint8, the photograph or a smaller copy.
    mat
        As read off the photograph.
    zoom
        Px of the photograph a px of `fine`, across and down.

    Returns
    -------
    PaperLight
    """
    design = mat.design
    _, kind = _printing(design)
    clear = cv2.dilate((kind > 0).astype(np.uint8), np.ones((9, 9), dtype=np.uint8)) == 0
    edge = round(4.0 * _PX_PER_MM)
    clear[:edge], clear[-edge:], clear[:, :edge], clear[:, -edge:] = False, False, False, False
    ys, xs = np.nonzero(clear)
    chosen = np.random.default_rng(_NOISE_SEED).permutation(len(xs))[:6000]
    places = (np.stack([xs[chosen], ys[chosen]], axis=1) + 0.5) / _PX_PER_MM
    smooth = np.asarray(cv2.blur(fine, (5, 5)), dtype=np.uint8)
    colours, seen = _sampled(smooth, mat, places, zoom)
    places, logs = places[seen], np.log(np.maximum(to_linear(colours[seen]), 1e-3).astype(np.float64))
    zone = design.field
    middle, half = (zone.x + zone.width / 2, zone.y + zone.height / 2), (zone.width / 2, zone.height / 2)
    beyond = np.abs(places - middle) > half
    return PaperLight(_robust(_terms(places, design), logs, np.asarray(beyond.any(axis=1))), design)


def _sampled(
    image: NDArray[np.uint8], mat: MatReading, places_mm: NDArray[np.float64], zoom: tuple[float, float]
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """Colours, (N, 3), of an image at places of the mat, and whether they lie inside it, (N,)."""
    at = np.rint((plane_px(mat.plane, places_mm) + 0.5) / zoom - 0.5).astype(int)
    size = np.array([image.shape[1], image.shape[0]])
    seen = np.asarray(((at >= 0) & (at < size)).all(axis=1))
    inside = np.clip(at, 0, size - 1)
    return image[inside[:, 1], inside[:, 0]], seen


def _robust(terms: NDArray[np.float64], logs: NDArray[np.float64], border: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Iteratively reweighted least squares, biweight (Beaton & Tukey 1974), started from the border, where no sherd lies."""
    level = logs.sum(axis=1)
    # Where a shadow or a hand lies over the border, its brighter half is the paper.
    bright = level >= float(np.median(level[border] if border.any() else level)) - 0.5
    weights: NDArray[Any] = np.where(border & bright, 1.0, 0.01)
    ridge = 1e-5 * np.eye(terms.shape[1]) * len(logs)
    ridge[0, 0] = 1e-9
    coefficients: NDArray[Any] = np.zeros((terms.shape[1], 3))
    for _ in range(12):
        weighted = terms * weights[:, None]
        coefficients = np.linalg.solve(weighted.T @ terms + ridge, weighted.T @ logs)
        signed = logs - terms @ coefficients
        residual = np.abs(signed).max(axis=1)
        trusted = residual[weights > 0.5]
        scale = max(1.4826 * float(np.median(trusted if trusted.size else residual)), 0.01)
        # Shadows only darken: what lies under the surface is trusted less.
        residual = np.where(signed.mean(axis=1) < 0, 1.8 * residual, residual)
        weights = np.square(np.clip(1.0 - np.square(residual / (_TUKEY * scale)), 0.0, None)) + 1e-6
    return np.asarray(coefficients, dtype=np.float64)


def clear_printing(
    fine: NDArray[np.uint8], mat: MatReading, light: PaperLight, zoom: tuple[float, float]
) -> NDArray[np.uint8]:
    """Take the printing and what lies beyond the page off a photograph of the mat.

    Parameters
    ----------
    fine, mat, zoom
        As in `paper_light`.
    light
        Of the bare paper.

    Returns
    -------
    ndarray
        (H, W, 3) uint8, a new image.
    """
    height, width = fine.shape[:2]
    places = smooth_grid(lambda px: plane_mm(mat.plane, px * zoom - 0.5), width, height)
    paper = smooth_light(light, places)
    reflectance, kind = _printing(mat.design)
    at = places * _PX_PER_MM - 0.5
    expected = cv2.remap(reflectance, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderValue=1.0)
    what = np.asarray(cv2.remap(kind, at[..., 0], at[..., 1], cv2.INTER_NEAREST, borderValue=0), dtype=np.uint8)
    inner = (places > _PAGE_EDGE_MM) & (places < np.array([mat.design.width, mat.design.height]) - _PAGE_EDGE_MM)
    root = np.sqrt(to_linear(fine) / paper)
    px_per_mm = float(np.median(1.0 / np.maximum(np.abs(np.diff(places[:, width // 2, 1])), 1e-6)))
    solid = _uncovered(root, np.asarray(expected, dtype=np.float32), what == 1, px_per_mm)
    reach = _disc(_STROKE_MM * px_per_mm)
    written = (what == 3) & (cv2.dilate(root.min(axis=2), reach) > 0.85)
    painted = solid | written | ~inner.all(axis=2)
    return _painted(fine, paper, root, painted, (what == 2) & ~painted)


def smooth_light(light: PaperLight, places_mm: NDArray[np.float32]) -> NDArray[np.float32]:
    """Light of the paper at every pixel, (H, W, 3), worked out on a coarse grid."""
    height, width = places_mm.shape[:2]
    coarse = np.asarray(cv2.resize(places_mm, (96, 72), interpolation=cv2.INTER_AREA), dtype=np.float64)
    grid = light.at(coarse).astype(np.float32)
    return np.asarray(cv2.resize(grid, (width, height), interpolation=cv2.INTER_LINEAR), dtype=np.float32)


def _disc(radius_px: float) -> NDArray[np.uint8]:
    side = 2 * max(1, round(radius_px)) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side)), dtype=np.uint8)


def _uncovered(
    root: NDArray[np.float32], expected: NDArray[np.float32], zone: NDArray[np.bool_], px_per_mm: float
) -> NDArray[np.bool_]:
    """Solid printing that looks as it should; narrow misfits along its edges belong to it."""
    differs = zone & (np.abs(root - np.sqrt(expected)[..., None]).max(axis=2) > _AS_PRINTED)
    covered = cv2.morphologyEx(differs.astype(np.uint8), cv2.MORPH_OPEN, _disc(0.5 * _COVER_MM * px_per_mm))
    covered = cv2.dilate(covered, _disc(0.5 * _COVER_MM * px_per_mm))
    looks_right: NDArray[Any] = zone & ~((covered > 0) & differs)
    return looks_right


def _painted(
    fine: NDArray[np.uint8],
    paper: NDArray[np.float32],
    root: NDArray[np.float32],
    painted: NDArray[np.bool_],
    lines: NDArray[np.bool_],
) -> NDArray[np.uint8]:
    """The image with bare paper, as grainy as the paper is, where it is painted, and thin lines closed from beside them."""
    bare = np.abs(root - 1.0).max(axis=2) < 0.1
    grain = (
        1.4826 * float(np.median(np.abs(np.diff(root[..., 1], axis=1))[bare[:, 1:] & bare[:, :-1]])) / np.sqrt(2.0)
        if bare.any()
        else 0.0
    )
    noise = np.random.default_rng(_NOISE_SEED).standard_normal(fine.shape[:2], dtype=np.float32)
    cleared = np.array(fine, copy=True)
    cleared[painted] = to_srgb8((paper * np.square(1.0 + grain * noise)[..., None])[painted])
    return np.asarray(cv2.inpaint(cleared, lines.astype(np.uint8), 2.0, cv2.INPAINT_TELEA), dtype=np.uint8)
