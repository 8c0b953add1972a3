"""The whole reading of a tray photograph on one screen: backdrop, bar, foreground, pieces, outlines, light."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.errors import InputError, NoSherdFound
from motifs.imaging.backdrop import Surface, fit_surface
from motifs.imaging.foreground import Foreground, find_foreground
from motifs.imaging.light import White, light_factor, light_field
from motifs.imaging.mat_reading import is_over_the_edge
from motifs.imaging.pieces import CRUMB_MM, CRUMB_SHARE, Piece, find_pieces
from motifs.imaging.references import References, find_references, finished_light
from motifs.imaging.refine import FINE_SIDE_PX, FittedOutline, refine_outlines
from motifs.records import FoundSherd, LightField, PhotoImage, TrayReading

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.imaging.mat_reading import MatReading

WORKING_SIDE_PX: Final = 1200
"""Longer side of the working image on which pieces are searched; outlines are then fitted on the photograph."""

TOUCHES_FRAME: Final = "touches the frame"
OVER_THE_MAT: Final = "reaches over the edge of the mat"
LOW_CONTRAST: Final = "low contrast with the backdrop"

_HANGS_ON: Final = 0.4  # share of a piece that lies on a card or a ruler
_HOLDS: Final = 0.3  # share of a card or of a ruler's ticks that lies on one piece: it is the card, or the ruler
_LEAST_CLEAR: Final = 0.8  # share of an outline that must run along a clear edge to pass without a look


SPECK_SHARE = 0.002
"""Of the largest piece's area: below it a piece is dust even where the scale is known."""
UNSCALED_CRUMB_SHARE = 0.03
"""Of the largest piece's area: below it a piece counts as a crumb where there is no scale."""


def read_tray(photo: PhotoImage, *, px_per_mm: float | None = None, bar_mm: float | None = None) -> TrayReading:
    """Read scale, light and sherds off a tray photograph.

    Parameters
    ----------
    photo
        The photograph.
    px_per_mm
        Scale typed by the analyst; wins over a bar.
    bar_mm
        Length of the scale bar in mm where it is known; without it blocks of 1 cm (or 5 mm, from their number)
        are taken.

    Returns
    -------
    TrayReading

    Raises
    ------
    NoSherdFound
        Nothing stands out from the backdrop.
    InputError
        A typed scale or bar length is not a positive number.
    """
    _check_length("px_per_mm", px_per_mm)
    _check_length("bar_mm", bar_mm)
    working, zoom = _smaller(photo.rgb, WORKING_SIDE_PX)
    fine, _ = _smaller(photo.rgb, FINE_SIDE_PX)
    references = find_references(photo, working, fine, px_per_mm=px_per_mm, bar_mm=bar_mm)
    if references.mat is not None:
        fine = references.fine
        working, _ = _smaller(fine, max(working.shape))
    scale = references.scale
    surface = fit_surface(working)
    factor, reference = light_factor(surface, _white(references, zoom))
    foreground = find_foreground(working, surface, 1.0 / factor)
    foreground = _without_zones(foreground, [(zone + 0.5) / zoom - 0.5 for zone in references.zones_px])
    crumb_px = CRUMB_MM * scale.px_per_mm / zoom if scale else CRUMB_SHARE * max(working.shape)
    corners = None if references.bar_corners_px is None else (references.bar_corners_px + 0.5) / zoom - 0.5
    pieces, crumbs = find_pieces(foreground, corners, crumb_px)
    outlines = _outlines(photo, fine, working, surface, foreground, pieces)
    found = [_found(photo, piece, outline) for piece, outline in zip(pieces, outlines, strict=True)]
    if references.mat is not None:
        found = [_beside_the_mat(sherd, references.mat) for sherd in found]
    sherds = _without_specks(found, is_scaled=scale is not None)
    crumbs += len(found) - len(sherds)
    if not sherds:
        raise NoSherdFound(
            f"{photo.file_name}: no sherd stands out from the backdrop; photograph the sherds on a plain backdrop "
            "that differs from them in colour."
        )
    light = light_field(surface, factor, reference, *_backdrop_samples(working, foreground))
    light, doubts = finished_light(light, references, (photo.rgb.shape[1], photo.rgb.shape[0]))
    return TrayReading(
        scale=scale,
        light=light,
        sherds=sherds,
        crumbs=crumbs,
        warnings=(*references.warnings, *_light_warnings(light), *doubts),
        lot=references.lot,
        site=references.site,
    )


def _without_zones(foreground: Foreground, zones: list[NDArray[np.float64]]) -> Foreground:
    """Leave out colour cards and rulers: their place, and whatever hangs on it for the most part, such as their frame."""
    if not zones:
        return foreground
    held = np.zeros(foreground.mask.shape, dtype=np.uint8)
    for zone in zones:
        cv2.fillPoly(held, [np.rint(zone).astype(np.int32)], 1)
    _, labels = cv2.connectedComponents(foreground.mask.astype(np.uint8), connectivity=4)
    inside = np.bincount(labels[held > 0], minlength=int(labels.max()) + 1)
    belongs = (inside > _HANGS_ON * np.bincount(labels.ravel())) | (inside > _HOLDS * max(1, int(held.sum())))
    belongs[0] = False
    kept = (held == 0) & ~belongs[labels]
    return replace(foreground, mask=foreground.mask & kept, sure=foreground.sure & kept, raw=foreground.raw & kept)


def _without_specks(found: list[FoundSherd], *, is_scaled: bool) -> tuple[FoundSherd, ...]:
    """Leave out what is a speck beside the largest piece; without a scale that is all that tells a crumb from a sherd."""
    largest = max((sherd.area_px for sherd in found), default=0.0)
    least = largest * (SPECK_SHARE if is_scaled else UNSCALED_CRUMB_SHARE)
    return tuple(sherd for sherd in found if sherd.area_px >= least)


def _check_length(name: str, value: float | None) -> None:
    if value is not None and not (math.isfinite(value) and value > 0):
        raise InputError(f"{name} is {value}; give a positive number.")


def _smaller(rgb: NDArray[np.uint8], side_px: int) -> tuple[NDArray[np.uint8], float]:
    """Average an image down to a longer side; also by how much it shrank."""
    height, width = rgb.shape[:2]
    zoom = max(1.0, max(height, width) / side_px)
    size = (max(1, round(width / zoom)), max(1, round(height / zoom)))
    working = rgb if zoom == 1.0 else cv2.resize(rgb, size, interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(working), width / size[0]


def _outlines(
    photo: PhotoImage,
    fine: NDArray[np.uint8],
    working: NDArray[np.uint8],
    surface: Surface,
    foreground: Foreground,
    pieces: list[Piece],
) -> list[FittedOutline]:
    """Outlines of the pieces in px of the photograph."""
    height, width = working.shape[:2]
    labels = np.zeros((height, width), dtype=np.int32)
    for number, piece in enumerate(pieces, start=1):
        left, top, right, bottom = piece.box
        labels[top:bottom, left:right][piece.mask] = number
    found = refine_outlines(fine, (width, height), surface, foreground.colour, labels)
    zoom = np.array([photo.rgb.shape[1] / width, photo.rgb.shape[0] / height])
    return [replace(fitted, points=((fitted.points + 0.5) * zoom - 0.5).astype(np.float32)) for fitted in found]


def _found(photo: PhotoImage, piece: Piece, fitted: FittedOutline) -> FoundSherd:
    outline = fitted.points
    height, width = photo.rgb.shape[:2]
    edge = 1.5 * max(1.0, max(height, width) / WORKING_SIDE_PX)
    touches = bool(
        (outline.min(axis=0) < edge).any() or (outline.max(axis=0) > np.array([width, height]) - 1 - edge).any()
    )
    faint = LOW_CONTRAST if fitted.clear_share < _LEAST_CLEAR else None
    doubts = [text for text in (TOUCHES_FRAME if touches else None, piece.doubt, faint) if text]
    return FoundSherd(
        outline_px=outline,
        area_px=float(cv2.contourArea(outline)),
        touches_frame=touches,
        look="; ".join(doubts) or None,
    )


def _beside_the_mat(sherd: FoundSherd, mat: MatReading) -> FoundSherd:
    """What reaches over the edge of the mat is cut off there: it is marked for a look."""
    if not is_over_the_edge(mat, sherd.outline_px):
        return sherd
    return replace(sherd, touches_frame=True, look="; ".join(filter(None, (OVER_THE_MAT, sherd.look))))


def _white(references: References, zoom: float) -> White | None:
    if references.white is None:
        return None
    light, (x, y) = references.white
    return White(light, ((x + 0.5) / zoom - 0.5, (y + 0.5) / zoom - 0.5), references.white_from)


def _backdrop_samples(
    working: NDArray[np.uint8], foreground: Foreground
) -> tuple[NDArray[np.uint8], tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Colours (N, 3) and places of pixels well away from any foreground."""
    open_at = np.flatnonzero(cv2.dilate(foreground.mask.astype(np.uint8), np.ones((9, 9), dtype=np.uint8)) == 0)
    chosen = np.linspace(0, len(open_at) - 1, min(len(open_at), 4000)).astype(int)
    y, x = np.divmod(open_at[chosen], working.shape[1])
    return working[y, x], (x, y)


def _light_warnings(light: LightField) -> list[str]:
    if light.reference == "none":
        return [
            "the backdrop is coloured and no white reference was found; the light was evened out, its colour was kept"
        ]
    return []
