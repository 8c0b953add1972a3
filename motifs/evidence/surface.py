"""Divide the face of a sherd into ground (bare paste or slip) and ink (whatever was painted or cut into it).

Method: log-ratio colour is smoothed over less than a line's width, the slow shading of the curved wall is fitted
as a quadratic surface and taken out, and the rest is split in two along its strongest axis. The split counts as decoration
only if the two modes are apart, and if the step between them is sharp: fire clouds and shadows are soft.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.evidence.colour import linear_to_log_ratio, srgb_to_linear

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.records import SherdCrop

WORK_PX_PER_MM = 5.0
MIN_FACE_MM2 = 12.0


@dataclass(frozen=True, slots=True)
class Face:
    """The face of a sherd, clear of its broken edges, at WORK_PX_PER_MM.

    linear: (h, w, 3) float32 linear sRGB; inner: (h, w) bool, the face; ink, ground: (h, w) bool, disjoint parts of inner
    (both clear of the step between them); coverage: (h, w) float32 0..1, how far each pixel is ink; ink_is_known: False
    when the face shows no decoration that could be told from its ground; contrast: distance of the modes in log-ratio units.
    """

    linear: NDArray[np.float32]
    inner: NDArray[np.bool_]
    ink: NDArray[np.bool_]
    ground: NDArray[np.bool_]
    coverage: NDArray[np.float32]
    ink_is_known: bool
    contrast: float
    px_per_mm: float


def read_face(crop: SherdCrop) -> Face | None:
    """Return the divided face of a crop, or None when less than MIN_FACE_MM2 is clear of the edge."""
    linear, mask = _at_working_scale(crop)
    inner = _clear_of_edge(mask, WORK_PX_PER_MM)
    if inner.sum() < MIN_FACE_MM2 * WORK_PX_PER_MM**2:
        return None
    colour = linear_to_log_ratio(_blur_inside(linear, inner, 0.14 * WORK_PX_PER_MM)).astype(np.float32)
    flat = _flatten(colour, inner)
    split = _split_in_two(flat, inner)
    if split is None:
        return _plain_face(linear, inner)
    ink, coverage, contrast = split
    step = _step_band(ink, inner)
    return Face(linear, inner, ink & ~step & inner, inner & ~ink & ~step, coverage, True, contrast, WORK_PX_PER_MM)


def _plain_face(linear: NDArray[np.float32], inner: NDArray[np.bool_]) -> Face:
    nothing = np.zeros_like(inner)
    return Face(linear, inner, nothing, inner, nothing.astype(np.float32), False, 0.0, WORK_PX_PER_MM)


def _at_working_scale(crop: SherdCrop) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    factor = WORK_PX_PER_MM / crop.px_per_mm
    linear = srgb_to_linear(crop.image)
    mask = crop.mask.astype(np.float32)
    size = (max(3, round(mask.shape[1] * factor)), max(3, round(mask.shape[0] * factor)))
    small = np.asarray(cv2.resize(linear, size, interpolation=cv2.INTER_AREA), np.float32)
    return small, np.asarray(cv2.resize(mask, size, interpolation=cv2.INTER_AREA) > 0.5)


def _clear_of_edge(mask: NDArray[np.bool_], px_per_mm: float) -> NDArray[np.bool_]:
    """Keep clear of worn edges: 1.2 mm in, or less on a crumb, so that a third of it is left."""
    padded = cv2.copyMakeBorder(mask.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    depth = cv2.distanceTransform(padded, cv2.DIST_L2, 5)[1:-1, 1:-1] / px_per_mm
    inside = depth[mask]
    if inside.size == 0:
        return mask
    margin = min(1.2, float(np.quantile(inside, 0.65)))
    return np.asarray(depth > margin)


def _blur_inside(image: NDArray[np.float32], inner: NDArray[np.bool_], sigma_px: float) -> NDArray[np.float32]:
    weight = inner.astype(np.float32)
    total = cv2.GaussianBlur(image * weight[..., None], (0, 0), sigma_px)
    share = cv2.GaussianBlur(weight, (0, 0), sigma_px)
    return np.asarray(total / np.maximum(share, 1e-3)[..., None], np.float32)


def _flatten(colour: NDArray[np.float32], inner: NDArray[np.bool_], rounds: int = 3) -> NDArray[np.float32]:
    """Take the quadratic shading out of the first component, fitted with the two modes kept apart."""
    rows, columns = np.nonzero(inner)
    span = max(inner.shape)
    x, y = columns / span - 0.5, rows / span - 0.5
    terms = np.stack([x, y, x * x, y * y, x * y], axis=1).astype(np.float32)
    terms -= terms.mean(axis=0)
    values = colour[inner].copy()
    step = max(1, len(values) // 6000)
    for _ in range(rounds):
        thin_terms, thin = terms[::step], values[::step, 0]
        label = (thin > _two_means(thin)).astype(np.float32)
        design = np.column_stack([np.ones_like(label), label, thin_terms])
        weight = _half_weights(thin, label)
        # Normal equations: seven columns, well apart, at a tenth of the time of a decomposition of the whole.
        weighted = design * weight[:, None]
        fitted = np.linalg.lstsq(weighted.T @ weighted, weighted.T @ (thin * weight), rcond=None)[0]
        values[:, 0] -= terms @ fitted[2:]
    flat = np.zeros_like(colour)
    flat[inner] = values
    return flat


def _half_weights(values: NDArray[np.float32], label: NDArray[np.float32]) -> NDArray[np.float32]:
    """Down-weight values far from the centre of their mode (Huber)."""
    weight = np.ones_like(values)
    for side in (0.0, 1.0):
        members = label == side
        if members.sum() > 3:
            centre = np.median(values[members])
            spread = 1.4826 * np.median(np.abs(values[members] - centre)) + 1.0
            weight[members] = np.minimum(1.0, 1.5 * spread / np.maximum(np.abs(values[members] - centre), 1e-6))
    return np.asarray(np.sqrt(weight), np.float32)


def _two_means(values: NDArray[np.floating]) -> float:
    """Otsu's threshold of one-dimensional values (Otsu 1979)."""
    low, high = np.quantile(values, [0.002, 0.998])
    if high - low < 1e-6:
        return float(high)
    counts, edges = np.histogram(values, bins=128, range=(low, high))
    centres = (edges[:-1] + edges[1:]) / 2
    weight = np.cumsum(counts)
    total = np.cumsum(counts * centres)
    below = np.maximum(weight, 1)
    above = np.maximum(weight[-1] - weight, 1)
    between = weight * (weight[-1] - weight) * (total / below - (total[-1] - total) / above) ** 2
    best = np.flatnonzero(between >= between.max() * (1 - 1e-9))
    return float(centres[best].mean())


def _split_in_two(
    flat: NDArray[np.float32], inner: NDArray[np.bool_]
) -> tuple[NDArray[np.bool_], NDArray[np.float32], float] | None:
    """Ink mask, ink coverage and contrast, or None when the face is plain."""
    values = flat[inner]
    centred = values - np.median(values, axis=0)
    limit = np.quantile(np.abs(centred), 0.995, axis=0) + 1e-6
    centred = np.clip(centred, -limit, limit)
    axis = np.linalg.eigh(np.cov(centred.T))[1][:, -1]
    along = np.zeros(inner.shape, np.float32)
    along[inner] = centred @ axis.astype(np.float32)
    cut = _two_means(along[inner])
    upper = _cleaned((along > cut) & inner, inner)
    lower = inner & ~upper
    if min(upper.sum(), lower.sum()) < 0.02 * inner.sum():
        return None
    gap = _mode_gap(along, upper, lower)
    contrast = float(np.linalg.norm(np.median(values[upper[inner]], axis=0) - np.median(values[lower[inner]], axis=0)))
    if gap < 2.2 or contrast < 12.0 or _softness_mm(along, upper, inner) > 0.9:
        return None
    ink, ground = (upper, lower) if _is_ink(upper, lower) else (lower, upper)
    return ink, _coverage(along, ink, ground), contrast


def _coverage(along: NDArray[np.float32], ink: NDArray[np.bool_], ground: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Share of ink in each pixel: where it lies between the two modes."""
    full, bare = float(np.median(along[ink])), float(np.median(along[ground]))
    share = np.clip((along - bare) / (full - bare), 0, 1)
    share[~(ink | ground)] = 0
    near = cv2.dilate(ink.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    return np.where(near, share, 0).astype(np.float32)


def _cleaned(mask: NDArray[np.bool_], inner: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Remove islands of either kind smaller than a dot of 0.8 mm2: temper grains and pits."""
    smallest = 0.8 * WORK_PX_PER_MM**2
    result = mask.copy()
    for part, becomes in ((mask, False), (inner & ~mask, True)):
        count, labels, stats, _ = cv2.connectedComponentsWithStats(part.astype(np.uint8), connectivity=8)
        small = np.flatnonzero(stats[:, cv2.CC_STAT_AREA] < smallest)
        small = small[small > 0]
        if count > 1 and small.size:
            result[np.isin(labels, small)] = becomes
    return result & inner


def _mode_gap(along: NDArray[np.float32], upper: NDArray[np.bool_], lower: NDArray[np.bool_]) -> float:
    high, low = along[upper], along[lower]
    spread = np.sqrt((_robust_sd(high) ** 2 + _robust_sd(low) ** 2) / 2) + 1e-6
    return float((np.median(high) - np.median(low)) / spread)


def _robust_sd(values: NDArray[np.floating]) -> float:
    return float(1.4826 * np.median(np.abs(values - np.median(values)))) if values.size else 0.0


def _softness_mm(along: NDArray[np.float32], upper: NDArray[np.bool_], inner: NDArray[np.bool_]) -> float:
    """Width of the step between the modes: their distance over the slope at the boundary, in mm."""
    edge = cv2.morphologyEx(upper.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    edge &= cv2.erode(inner.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    if edge.sum() < 12:
        return 99.0
    gx, gy = cv2.Sobel(along, cv2.CV_32F, 1, 0) / 8, cv2.Sobel(along, cv2.CV_32F, 0, 1) / 8
    slope = float(np.median(np.hypot(gx, gy)[edge])) * WORK_PX_PER_MM
    return float((np.median(along[upper]) - np.median(along[inner & ~upper])) / max(slope, 1e-6))


def _is_ink(part: NDArray[np.bool_], other: NDArray[np.bool_]) -> bool:
    """Tell whether `part` rather than `other` is the ink: strokes are thin and cover less; the ground is wide."""
    thickness = _thickness(part) / max(_thickness(other), 1e-6)
    share = part.sum() / max(other.sum(), 1)
    return bool(thickness**2 * share < 1.0)


def _thickness(part: NDArray[np.bool_]) -> float:
    depth = cv2.distanceTransform(part.astype(np.uint8), cv2.DIST_L2, 5)
    inside = depth[part]
    return float(np.quantile(inside, 0.9)) if inside.size else 0.0


def _step_band(ink: NDArray[np.bool_], inner: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Pixels within 0.3 mm of the step, where neither colour is pure; narrower when the ink is thin."""
    edge = cv2.morphologyEx(ink.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    wide = cv2.dilate(edge.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    if (ink & ~wide).sum() >= 0.25 * ink.sum() and (inner & ~ink & ~wide).sum() >= 0.25 * (inner & ~ink).sum():
        return np.asarray(wide)
    return np.asarray(edge if (ink & ~edge).sum() >= 20 else np.zeros_like(edge))
