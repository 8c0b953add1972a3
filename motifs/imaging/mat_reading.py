"""Reading the photo mat: markers, the plane of the page with slant and lens, what its code says.

The markers are found by OpenCV (after Garrido-Jurado et al. 2014, Pattern Recognition 47). All their corners together
give one homography and a radial term for the lens, by robust least squares, with one more unknown for blur and blooming, which
move the four corners of every marker towards its middle or away from it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np
from scipy.optimize import least_squares

from motifs.imaging.mat_design import DICTIONARY, MATS, Box, MatDesign
from motifs.imaging.plane import plane_mm, plane_px, smooth_grid
from motifs.records import Plane

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

CHECKED_RELATIVE_SD: Final = 0.0015
"""What is left unknown of a print whose bar was checked with a ruler to a quarter of a millimetre: 0.25 / 100 / sqrt(3)."""

_LEAST_MARKERS: Final = 3
_LENS_MARKERS: Final = 7  # from here on the markers tell the lens from the slant
_NEAR_MM: Final = 8.0  # a marker farther from its place is something else that looks like one
_SOFT_MM: Final = 0.15
_LENS_SD: Final = 0.1  # what a lens may bend at the corner of the photograph, relative
_SMALL_SIDE_PX: Final = 1600
_ABOVE_PX_PER_MM: Final = 6.0
_CODE_PX_PER_MM: Final = (8.0, 16.0, 6.0, 12.0, 10.0)
_EDGE_MM: Final = 3.0
_CODE_QUIET_MM: Final = 3.0


@dataclass(frozen=True, slots=True)
class MatReading:
    """A mat that was found.

    seen: numbers of the markers read. misfit_mm: root mean square distance of their corners from where they belong.
    relative_sd: standard uncertainty of lengths in the field, the print included. lot, site: as its code says, or None.
    """

    design: MatDesign
    plane: Plane
    seen: frozenset[int]
    misfit_mm: float
    relative_sd: float
    lot: str | None = None
    site: str | None = None


def find_mat(rgb: NDArray[np.uint8], working: NDArray[np.uint8], fine: NDArray[np.uint8]) -> MatReading | None:
    """Find the project's photo mat on a photograph.

    Parameters
    ----------
    rgb
        (H, W, 3) uint8, the whole photograph.
    working, fine
        (h, w, 3) uint8, smaller copies of it: for a first look, and for reading.

    Returns
    -------
    MatReading or None
        None where fewer than three of its markers are seen.
    """
    if not _markers(working):
        return None
    fits = [fit for fit in (_fit(design, _seen_on(fine, rgb), rgb.shape) for design in MATS) if fit is not None]
    if not fits:
        return None
    rough = max(fits, key=lambda fit: len(fit.seen))
    # Looked at from straight above, markers far away or at a slant are as plain as the others.
    mat = _fit(rough.design, _seen_from_above(rgb, rough), rgb.shape)
    mat = mat if mat is not None and len(mat.seen) >= len(rough.seen) else rough
    lot, site = _read_code(rgb, mat)
    return replace(mat, lot=lot, site=site)


def _seen_on(fine: NDArray[np.uint8], rgb: NDArray[np.uint8]) -> dict[int, NDArray[np.float64]]:
    """Markers in px of the photograph, found on a smaller copy, or on an enlarged one where it is small."""
    side = max(fine.shape[:2])
    if side < _SMALL_SIDE_PX:
        fine = np.asarray(cv2.resize(fine, None, fx=2.0, fy=2.0, interpolation=cv2.INTER_CUBIC), dtype=np.uint8)
    zoom = np.array([rgb.shape[1] / fine.shape[1], rgb.shape[0] / fine.shape[0]])
    return {number: (corners + 0.5) * zoom - 0.5 for number, corners in _markers(fine).items()}


def _seen_from_above(rgb: NDArray[np.uint8], rough: MatReading) -> dict[int, NDArray[np.float64]]:
    """Markers in px of the photograph, found on the rectified page."""
    page = Box(0.0, 0.0, rough.design.width, rough.design.height)
    above = look_down(rgb, rough.plane, page, _ABOVE_PX_PER_MM)
    return {
        number: plane_px(rough.plane, (corners + 0.5) / _ABOVE_PX_PER_MM) for number, corners in _markers(above).items()
    }


def _markers(image: NDArray[np.uint8]) -> dict[int, NDArray[np.float64]]:
    """Corners, (4, 2) px clockwise from the upper left, of every marker by its number; one seen twice is dropped."""
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.cornerRefinementWinSize = 4
    settings.relativeCornerRefinmentWinSize = 0.25
    # Bits are read off a finer picture of each marker and nearer to the middle of a bit: small blurred ones want it.
    settings.perspectiveRemovePixelPerCell = 8
    settings.perspectiveRemoveIgnoredMarginPerCell = 0.25
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    grey = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary, settings).detectMarkers(grey)
    listed = [] if numbers is None else [int(number) for number in np.asarray(numbers).ravel()]
    return {
        number: np.asarray(quad, dtype=np.float64).reshape(4, 2)
        for number, quad in zip(listed, corners, strict=True)
        if listed.count(number) == 1
    }


def _fit(design: MatDesign, found: dict[int, NDArray[np.float64]], shape: tuple[int, ...]) -> MatReading | None:
    """The plane of one design through the markers that belong to it; None when too few agree."""
    places = {marker.number: marker.box.corners() for marker in design.markers}
    numbers = sorted(found.keys() & places.keys())
    if len(numbers) < _LEAST_MARKERS:
        return None
    seen = np.concatenate([found[number] for number in numbers])
    true = np.concatenate([places[number] for number in numbers])
    first, agree = cv2.findHomography(seen, true, cv2.RANSAC, _NEAR_MM)
    if not np.shape(first):
        return None
    kept = np.asarray(agree).reshape(-1, 4).sum(axis=1) >= 3
    if kept.sum() < _LEAST_MARKERS:
        return None
    chosen = np.repeat(kept, 4)
    plane, misfit, relative_sd = _refined(
        np.asarray(first, dtype=np.float64), seen[chosen], true[chosen], shape, design
    )
    numbers = [number for number, is_kept in zip(numbers, kept, strict=True) if is_kept]
    return MatReading(design, plane, frozenset(numbers), misfit, relative_sd)


def _refined(
    first: NDArray[np.float64],
    seen: NDArray[np.float64],
    true: NDArray[np.float64],
    shape: tuple[int, ...],
    design: MatDesign,
) -> tuple[Plane, float, float]:
    """Plane through all corners, root mean square misfit in mm, and standard uncertainty of lengths, relative."""
    height, width = shape[:2]
    centre, radius = (0.5 * (width - 1), 0.5 * (height - 1)), 0.5 * float(np.hypot(width, height))
    # Positions scaled to about one, so that all unknowns are of one size.
    inner = np.array([[radius, 0, centre[0]], [0, radius, centre[1]], [0, 0, 1.0]])
    outer = np.array([[design.width, 0, 0], [0, design.width, 0], [0, 0, 1.0]])
    scaled = np.linalg.inv(outer) @ first @ inner
    middles = np.repeat(true.reshape(-1, 4, 2).mean(axis=1), 4, axis=0)
    bends = 0 if len(true) < 4 * _LENS_MARKERS else 2

    def plane_of(unknowns: NDArray[np.float64]) -> Plane:
        matrix = outer @ np.append(unknowns[:8], 1.0).reshape(3, 3) @ np.linalg.inv(inner)
        k1, k2 = (float(unknowns[8]), float(unknowns[9])) if bends else (0.0, 0.0)
        return Plane(tuple((matrix / matrix[2, 2]).ravel().tolist()), centre, radius, k1, k2)

    def misfits(unknowns: NDArray[np.float64]) -> NDArray[np.float64]:
        off = plane_mm(plane_of(unknowns), seen) - places(unknowns)
        return np.concatenate([off.ravel() / _SOFT_MM, unknowns[8:-1] / _LENS_SD])

    def places(unknowns: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(middles + (true - middles) * (1.0 - unknowns[-1]), dtype=np.float64)

    start = np.concatenate([(scaled / scaled[2, 2]).ravel()[:8], np.zeros(bends + 1)])
    solved = least_squares(misfits, start, loss="soft_l1", x_scale="jac")
    plane = plane_of(solved.x)
    off = plane_mm(plane, seen) - places(solved.x)
    misfit = float(np.sqrt((off**2).sum(axis=1).mean()))
    spare = max(1, off.size - len(start))
    spread = float((solved.fun[: off.size] ** 2).sum() / spare)
    covariance = np.linalg.pinv(solved.jac.T @ solved.jac) * spread
    doubt = _length_sd(plane_of, solved.x, covariance, plane, design.field)
    return plane, misfit, float(np.hypot(doubt, CHECKED_RELATIVE_SD))


def _length_sd(
    plane_of: Callable[[NDArray[np.float64]], Plane],
    unknowns: NDArray[np.float64],
    covariance: NDArray[np.float64],
    plane: Plane,
    field: Box,
) -> float:
    """Relative standard uncertainty of 50 mm lengths all over the field, root mean square, from that of the fit."""
    x, y = np.meshgrid(np.linspace(0.1, 0.9, 4), np.linspace(0.1, 0.9, 3))
    middles = np.stack([field.x + x.ravel() * field.width, field.y + y.ravel() * field.height], axis=1)
    ends = [plane_px(plane, middles + side) for side in ((-25.0, 0), (25.0, 0), (0, -25.0), (0, 25.0))]
    values, vectors = np.linalg.eigh(covariance)
    total = 0.0
    for value, vector in zip(values, vectors.T, strict=True):
        moved = plane_of(unknowns + np.sqrt(max(float(value), 0.0)) * vector)
        for a, b in (ends[:2], ends[2:]):
            length = np.hypot(*(plane_mm(moved, b) - plane_mm(moved, a)).T)
            total += float(((length / 50.0 - 1.0) ** 2).mean()) / 2.0
    return float(np.sqrt(total))


def look_down(rgb: NDArray[np.uint8], plane: Plane, box: Box, px_per_mm: float) -> NDArray[np.uint8]:
    """A part of the plane seen straight from above, (h, w, 3) uint8, at a fixed resolution."""
    width, height = (max(1, round(side * px_per_mm)) for side in (box.width, box.height))
    # The way from the plane to the photograph is smooth: every eighth place is worked out, the others lie between.
    at = smooth_grid(lambda places: plane_px(plane, places / px_per_mm + (box.x, box.y)), width, height)
    seen = cv2.remap(rgb, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(seen, dtype=np.uint8)


def _read_code(rgb: NDArray[np.uint8], mat: MatReading) -> tuple[str | None, str | None]:
    """Lot and site of the square code, read where it must be; None for what it does not say."""
    code = mat.design.code
    for px_per_mm in _CODE_PX_PER_MM:
        picture = look_down(rgb, mat.plane, code.grown(_CODE_QUIET_MM), px_per_mm)
        near, far = _CODE_QUIET_MM * px_per_mm, (_CODE_QUIET_MM + code.width) * px_per_mm
        corners = np.array([[(near, near), (far, near), (far, far), (near, far)]], dtype=np.float32)
        for text in _decoded(picture, corners):
            lot, site = _meaning(text)
            if lot is not None or site is not None:
                return lot, site
    return None, None


def _decoded(picture: NDArray[np.uint8], corners: NDArray[np.float32]) -> Iterator[str]:
    """What the decoder makes of the code: at its known corners, then where it finds it itself."""
    reader = cv2.QRCodeDetector()
    for is_known in (True, False):
        try:
            answer = reader.decode(picture, corners) if is_known else reader.detectAndDecode(picture)
            yield str(answer[0])
        except (cv2.error, UnicodeDecodeError):  # a damaged code: OpenCV's decoder gives up this way on some
            continue


def _meaning(text: str) -> tuple[str | None, str | None]:
    try:
        said = json.loads(text)
    except (ValueError, RecursionError):
        return None, None
    if not isinstance(said, dict):
        return None, None
    lot, site = said.get("lot"), said.get("site")
    return (lot if isinstance(lot, str) else None), (site if isinstance(site, str) else None)


def is_over_the_edge(mat: MatReading, outline_px: NDArray[np.float32]) -> bool:
    """Whether an outline comes so near the edge of the page that a part of the thing may lie beyond it."""
    at = plane_mm(mat.plane, outline_px)
    beyond = np.array([mat.design.width, mat.design.height]) - _EDGE_MM
    return bool((at < _EDGE_MM).any() or (at > beyond).any())
