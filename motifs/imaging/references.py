"""What on a photograph tells its scale and its light: typed, mat, bar, ruler; card, mat, bar, backdrop. Best first."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.imaging.bar_figures import length_by_figures
from motifs.imaging.card_fit import GREY_PATCHES, REFERENCE_LINEAR, fit_colours
from motifs.imaging.colour_card import ColourCard, find_card
from motifs.imaging.light import gain_at
from motifs.imaging.mat_clearing import PAPER, clear_printing, paper_light
from motifs.imaging.mat_light import mat_white
from motifs.imaging.mat_reading import find_mat
from motifs.imaging.plane import local_px_per_mm
from motifs.imaging.ruler import find_ruler
from motifs.imaging.scale_bar import find_bar, needs_figures, scale_of_bar
from motifs.imaging.standpoint import height_warning, standpoint
from motifs.records import Scale

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.imaging.mat_reading import MatReading
    from motifs.records import LightField, PhotoImage

TYPED_RELATIVE_SD: Final = 0.005
"""Standard uncertainty taken for a scale that a person typed, relative (common practice, no source)."""

NO_SCALE: Final = "no scale bar was found, nor a mat or ruler; lengths in mm are unknown until a scale is given"

FIVE_BLOCKS: Final = (
    "the scale bar shows 5 blocks and no figures that could be read; blocks of 1 cm were taken, give the bar's length if it "
    "is another (100 mm where they are 2 cm)"
)

_TYPED_OFF: Final = 0.02
_CARD_AGREES_DE: Final = 3.0
_SLANT: Final = 0.015  # change of scale from end to end of a ruler
_PATCHES_AGREE_DE: Final = 6.0
_MISFIT_MM: Final = 0.6


@dataclass(frozen=True, slots=True)
class References:
    """What was found.

    fine: (h, w, 3) uint8, the smaller copy of the photograph to search for sherds, without the printing of a mat. scale: or
    None. white: linear light (3,) of white paper and the (x, y) px of the photograph where it was read, or None; white_from:
    "card", "mat" or "bar". card: a colour card, or None. zones_px: (N, 2) polygons that hold no sherd. bar_corners_px: (4, 2) of the bar, or None. residual_de: of grey patches, or None. is_doubtful: the bar is
    of no usual kind.
    """

    fine: NDArray[np.uint8]
    scale: Scale | None
    white: tuple[NDArray[np.float64], tuple[float, float]] | None = None
    white_from: str = "none"
    bar_corners_px: NDArray[np.float32] | None = None
    mat: MatReading | None = None
    card: ColourCard | None = None
    zones_px: tuple[NDArray[np.float64], ...] = ()
    residual_de: float | None = None
    is_doubtful: bool = False
    warnings: tuple[str, ...] = field(default=())

    @property
    def lot(self) -> str | None:
        """The lot that the mat's code names."""
        return None if self.mat is None else self.mat.lot

    @property
    def site(self) -> str | None:
        """The site that the mat's code names."""
        return None if self.mat is None else self.mat.site


def find_references(
    photo: PhotoImage,
    working: NDArray[np.uint8],
    fine: NDArray[np.uint8],
    *,
    px_per_mm: float | None = None,
    bar_mm: float | None = None,
) -> References:
    """Find what tells the scale and the light.

    Parameters
    ----------
    photo
        The photograph.
    working, fine
        (h, w, 3) uint8, smaller copies: for a first look, and for reading.
    px_per_mm, bar_mm
        As typed, or None.
    """
    mat = find_mat(photo.rgb, working, fine)
    found = _of_mat(photo, fine, mat) if mat is not None else _of_bar(photo, working, fine, bar_mm)
    if px_per_mm is None and (found.scale is None or found.is_doubtful):
        found = _of_ruler(photo, fine) or found
    card = find_card(working, (photo.rgb.shape[1] / working.shape[1], photo.rgb.shape[0] / working.shape[0]))
    if card is not None:
        found = _with_card(found, card)
    if px_per_mm is None:
        return found
    typed = Scale(px_per_mm=px_per_mm, source="typed", relative_sd=TYPED_RELATIVE_SD)
    return replace(found, scale=typed, warnings=(*_disagreement(found.scale, px_per_mm), *found.warnings))


def _of_ruler(photo: PhotoImage, fine: NDArray[np.uint8]) -> References | None:
    """A ruler's ticks tell the scale where their long ones tell what a tick is worth."""
    ruler = find_ruler(fine)
    if ruler is None or ruler.unit is None:
        return None
    zoom = photo.rgb.shape[1] / fine.shape[1]
    scale = Scale(ruler.period_px * zoom / ruler.unit.mm, source="ruler", relative_sd=ruler.relative_sd)
    warnings = [f"the scale was read off a ruler whose ticks were taken for {ruler.unit.words}"]
    if abs(ruler.drift) > _SLANT:
        warnings.append(
            f"the scale changes by {abs(ruler.drift):.1%} along the ruler: the camera looked at a slant; "
            "lengths away from the ruler are less sure, the photo mat would correct it"
        )
    near = height_warning(None if photo.focal_px is None else photo.focal_px / scale.px_per_mm)
    zone = (ruler.corners_px + 0.5) * zoom - 0.5
    return References(fine, scale, zones_px=(zone,), warnings=tuple([*warnings, near] if near else warnings))


def _with_card(found: References, card: ColourCard) -> References:
    """A card tells the light better than anything else; its greys stand in for a clipped white."""
    zones = (*found.zones_px, card.corners_px)
    for patch in GREY_PATCHES[:4]:
        if card.is_usable[patch]:
            white = card.light[patch] / REFERENCE_LINEAR[patch] * PAPER
            x, y = card.places_px[patch].tolist()
            return replace(found, card=card, zones_px=zones, white=(white, (x, y)), white_from="card")
    line = "the greys of the colour card are clipped or uneven; it was not used, expose less"
    return replace(found, zones_px=zones, warnings=(*found.warnings, line))


def finished_light(light: LightField, found: References, size_px: tuple[int, int]) -> tuple[LightField, list[str]]:
    """Add what a card or a mat knows: the fit of colours, the residual of the patches, and what to warn of.

    Parameters
    ----------
    light
        Built on the white of `found`.
    found
        The references.
    size_px
        (width, height) of the photograph.
    """
    if found.card is None or light.reference != "card":
        return replace(light, reference_de=found.residual_de), []
    card = found.card
    x, y = card.places_px.T
    even = (card.light / gain_at(light, x[None], y[None], size_px)[0]).astype(np.float64)
    fit, residual = fit_colours(even[card.is_usable], REFERENCE_LINEAR[card.is_usable])
    warnings = []
    if residual > _CARD_AGREES_DE:
        warnings.append(
            f"the colour card is off by CIEDE2000 {residual:.1f} (median) even after correction; "
            "is it a 24-patch card, clean and evenly lit?"
        )
    return replace(light, colour=fit, reference_de=residual), warnings


def _disagreement(found: Scale | None, typed: float) -> list[str]:
    """Say so where a typed scale is far from what the photograph itself shows."""
    if found is None or abs(typed / found.px_per_mm - 1.0) < max(_TYPED_OFF, 3.0 * found.relative_sd):
        return []
    where = {"mat": "mat", "bar": "scale bar", "ruler": "ruler"}[found.source]
    return [
        f"the scale typed is {abs(typed / found.px_per_mm - 1.0):.1%} off the {where} in the photograph "
        f"({found.px_per_mm:.2f} px/mm); the typed one was taken"
    ]


def _of_mat(photo: PhotoImage, fine: NDArray[np.uint8], mat: MatReading) -> References:
    zoom = (photo.rgb.shape[1] / fine.shape[1], photo.rgb.shape[0] / fine.shape[0])
    light = paper_light(fine, mat, zoom)
    white = mat_white(fine, mat, light, zoom)
    middle = np.array([mat.design.width / 2, mat.design.height / 2])
    scale = Scale(
        px_per_mm=float(local_px_per_mm(mat.plane, middle)),
        source="mat",
        relative_sd=mat.relative_sd,
        plane=mat.plane,
    )
    stand = standpoint(mat.plane, middle, photo.focal_px)
    near = height_warning(stand.distance_mm)
    warnings = [] if near is None else [near]
    if mat.misfit_mm > _MISFIT_MM:
        warnings.append(
            f"the markers of the mat are {mat.misfit_mm:.1f} mm off where they belong; lay the sheet flat, or check its print"
        )
    if white is None:
        warnings.append(
            "no white could be read off the mat: its paper is clipped and its grey patches are covered, or the light lacks "
            "a colour; expose less, colours are not corrected"
        )
    elif white.residual_de is not None and white.residual_de > _PATCHES_AGREE_DE:
        warnings.append(
            f"the mat's grey patches are off by CIEDE2000 {white.residual_de:.1f} (median, tones to the power "
            f"{white.exponent:.2f}): the camera's or the printer's tones; colours of dark sherds are less sure"
        )
    return References(
        fine=clear_printing(fine, mat, light, zoom),
        scale=scale,
        white=None if white is None else (white.light, white.middle_px),
        white_from="none" if white is None else "mat",
        mat=mat,
        residual_de=None if white is None else white.residual_de,
        warnings=tuple(warnings),
    )


def _of_bar(photo: PhotoImage, working: NDArray[np.uint8], fine: NDArray[np.uint8], bar_mm: float | None) -> References:
    bar = find_bar(photo.rgb, working)
    if bar is None:
        return References(fine, None, warnings=(NO_SCALE,))
    told = bar_mm
    if bar_mm is None and needs_figures(bar):
        told = length_by_figures(photo.rgb, bar.corners_px, bar.block_px, bar.hidden_ends)
    scale, warning = scale_of_bar(bar, told)
    assumed = FIVE_BLOCKS if told is None and needs_figures(bar) else None
    distance = None if photo.focal_px is None else photo.focal_px / scale.px_per_mm
    return References(
        fine=fine,
        scale=scale,
        white=None if bar.white is None else (bar.white, bar.white_at_px),
        white_from="none" if bar.white is None else "bar",
        bar_corners_px=bar.corners_px,
        is_doubtful=warning is not None,
        warnings=tuple(line for line in (warning, assumed, height_warning(distance)) if line),
    )
