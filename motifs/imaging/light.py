"""Light of a photograph: flat field, colour cast and exposure, and their removal.

A pixel's linear light is reflectance times illumination. The backdrop's smooth surface gives the
illumination up to one colour; that colour comes from something whose reflectance is known: the white blocks of
the scale bar, or a backdrop that looks neutral.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np

from motifs.imaging.colour import delta_e, linear_to_lab, to_linear
from motifs.records import LightField

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.imaging.backdrop import Surface
    from motifs.records import ColourFit

GRID: Final = (48, 64)
"""Rows and columns of the gain grid."""

BAR_WHITE: Final = 0.85
"""Reflectance taken for the white of a printed scale bar (uncoated paper; common practice, L* 93.9)."""

_NEUTRAL_RATIO: Final = 1.9
"""A backdrop whose strongest linear channel is at most this times its weakest counts as neutral.

A cast of plus and minus 30 % on opposite channels gives 1.3 / 0.7 = 1.86.
"""

_LEAST_WHITE: Final = 0.004
_LEAST_GAIN: Final = 1e-4
_WHITE_BACKDROP: Final = 0.80
_GREY_BACKDROP: Final = 0.20
_WHITE_FROM: Final = 0.33
_GREY_FROM: Final = 0.07


@dataclass(frozen=True, slots=True)
class White:
    """White paper as the camera saw it: linear light (3,), where (x, y) in px of the surface, and on what."""

    light: NDArray[np.float64]
    at_px: tuple[float, float]
    source: str  # "card" | "mat" | "bar"


def light_factor(surface: Surface, white: White | None) -> tuple[NDArray[np.float64], str]:
    """What to multiply the surface by, (3,), so that light over it is reflectance; and what fixed it.

    Parameters
    ----------
    surface
        Light over the backdrop.
    white
        Unclipped white paper, or None.

    Returns
    -------
    tuple
        The factor and the white's source, "backdrop" or "none".
    """
    # Under a light without one of the primaries nothing can be white, nor can its colour be undone.
    if white is not None and float(white.light.min()) > _LEAST_WHITE:
        x, y = white.at_px
        seen = surface.at(np.array(x), np.array(y))
        return np.asarray(white.light, dtype=np.float64) / BAR_WHITE / seen, white.source
    return _factor_from_backdrop(surface.middle())


def light_field(
    surface: Surface,
    factor: NDArray[np.float64],
    reference: str,
    backdrop_rgb: NDArray[np.uint8],
    backdrop_at: tuple[NDArray[np.intp], NDArray[np.intp]],
) -> LightField:
    """Build the light field and report how even the backdrop becomes under it.

    Parameters
    ----------
    surface, factor, reference
        Light over the backdrop and its absolute level, from `light_factor`.
    backdrop_rgb
        (N, 3) uint8 samples of the backdrop.
    backdrop_at
        Their x and y in px of the surface, (N,) each.
    """
    gain = np.maximum(surface.grid(GRID[1], GRID[0]) * factor, _LEAST_GAIN).astype(np.float32)
    lab = linear_to_lab(to_linear(backdrop_rgb) / (surface.at(*backdrop_at) * factor))
    centre = np.median(lab, axis=0) if len(lab) else linear_to_lab(1.0 / factor[None])[0]
    residual = float(np.median(delta_e(lab, np.broadcast_to(centre, lab.shape)))) if len(lab) else 0.0
    return LightField(
        gain=gain,
        reference=reference,
        backdrop_lab=(float(centre[0]), float(centre[1]), float(centre[2])),
        residual_de=residual,
    )


def _factor_from_backdrop(middle: NDArray[np.floating[Any]]) -> tuple[NDArray[np.float64], str]:
    """Divide-by factor over the surface when no white is known."""
    colour = np.asarray(middle, dtype=np.float64)
    luminance = float(colour @ np.array([0.2126, 0.7152, 0.0722]))
    if float(colour.max()) > _NEUTRAL_RATIO * float(colour.min()):
        # A coloured backdrop says nothing of the lamp: only flatten, keep colour and exposure.
        return 1.0 / colour, "none"
    if luminance >= _WHITE_FROM:
        target = _WHITE_BACKDROP
    elif luminance >= _GREY_FROM:
        target = _GREY_BACKDROP
    else:
        target = luminance  # black says which colour the light has, hardly how much of it there is
    return np.full(3, 1.0 / target), "backdrop"


def gain_at(
    light: LightField, x_px: NDArray[np.floating[Any]], y_px: NDArray[np.floating[Any]], size_px: tuple[int, int]
) -> NDArray[np.float32]:
    """Gain, (h, w, 3), at pixel positions ((h, w) each) of a photograph of size_px (width, height)."""
    rows, columns = light.gain.shape[:2]
    map_x = ((np.asarray(x_px) + 0.5) * columns / size_px[0] - 0.5).astype(np.float32)
    map_y = ((np.asarray(y_px) + 0.5) * rows / size_px[1] - 0.5).astype(np.float32)
    gain = cv2.remap(light.gain, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(gain, dtype=np.float32)


def corrected(linear: NDArray[np.float32], gain: NDArray[np.float32], light: LightField) -> NDArray[np.float32]:
    """Take the light out of linear sRGB, (..., 3): divide by the gain, then what a colour card added."""
    even = np.asarray(linear / gain, dtype=np.float32)
    return even if light.colour is None else apply_fit(light.colour, even)


def apply_fit(fit: ColourFit, linear: NDArray[np.floating[Any]]) -> NDArray[np.float32]:
    """Apply a fit of tone and colours to linear sRGB, (..., 3)."""
    lifted = np.maximum(linear, 0.0) ** np.array(fit.exponent, dtype=np.float32)
    mixed = lifted @ np.array(fit.matrix, dtype=np.float32).reshape(3, 3).T + np.array(fit.offset, dtype=np.float32)
    return np.asarray(mixed, dtype=np.float32)
