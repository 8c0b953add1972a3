"""Where the camera stood, and what a face above or below the plane of the scale does to lengths."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.imaging.plane import homography

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.records import Plane

_LEAST_SLANT: Final = 0.08  # share of perspective under which the focal length cannot be told from the picture
_USUAL_MM: Final = (600.0, 1200.0)
_NEAR_MM: Final = 1000.0


@dataclass(frozen=True, slots=True)
class Standpoint:
    """distance_mm: of the lens from the plane, along its normal. tilt_deg: of the view from straight down. None: not known."""

    distance_mm: float | None
    tilt_deg: float | None


def standpoint(plane: Plane, middle_mm: NDArray[np.float64], focal_px: float | None) -> Standpoint:
    """Where the camera stood.

    The homography of a plane is K [r1 r2 t] up to a factor; square pixels and a centred axis are taken, and the focal
    length of the camera's own record, or from the two conditions on r1 and r2 (Zhang 2000, IEEE PAMI 22) where the view is
    slanted enough.

    Parameters
    ----------
    plane
        Of the sherds.
    middle_mm
        (2,) a place in it.
    focal_px
        From the camera, or None.
    """
    to_px = np.linalg.inv(homography(plane))
    centred = np.array([[1, 0, -plane.centre_px[0]], [0, 1, -plane.centre_px[1]], [0, 0, 1.0]]) @ to_px
    focal = _focal_from(centred, plane.radius_px) if focal_px is None else focal_px
    if focal is None:
        return Standpoint(None, None)
    rotated = np.diag([1 / focal, 1 / focal, 1.0]) @ centred
    rotated /= 0.5 * (np.linalg.norm(rotated[:, 0]) + np.linalg.norm(rotated[:, 1]))
    if (rotated @ np.array([*middle_mm, 1.0]))[2] < 0:
        rotated = -rotated
    normal = np.cross(rotated[:, 0], rotated[:, 1])
    normal /= np.linalg.norm(normal)
    return Standpoint(abs(float(normal @ rotated[:, 2])), float(np.degrees(np.arccos(min(1.0, abs(float(normal[2])))))))


def _focal_from(centred: NDArray[np.float64], radius_px: float) -> float | None:
    """Focal length in px; None where the view is nearly straight down."""
    first, second = centred[:, 0], centred[:, 1]
    # first . W . second = 0 and first . W . first = second . W . second with W = diag(1/f2, 1/f2, 1): linear in 1/f2.
    left = np.array([first[:2] @ second[:2], first[:2] @ first[:2] - second[:2] @ second[:2]])
    right = -np.array([first[2] * second[2], first[2] ** 2 - second[2] ** 2])
    slant = radius_px * float(np.hypot(first[2], second[2])) / float(np.sqrt(np.abs(np.linalg.det(centred[:2, :2]))))
    inverse = float(left @ right / max(float(left @ left), 1e-30))
    if slant < _LEAST_SLANT or inverse <= 0:
        return None
    focal = 1.0 / np.sqrt(inverse)
    return float(focal) if 0.5 * radius_px < focal < 20.0 * radius_px else None


def height_warning(distance_mm: float | None) -> str | None:
    """Say what height does on this very photograph, where it matters: the error of a length is dz / Z.

    Z is the distance of the camera from the plane, dz the height of a face over it. None where Z is not known, or is so
    large that 10 mm make less than one per cent.
    """
    if distance_mm is None or distance_mm > _NEAR_MM:
        return None
    return (
        f"the camera was about {distance_mm:.0f} mm away: a face 10 mm above or below the plane of the scale is measured "
        f"{1000.0 / distance_mm:.1f} % too large or too small; lay scale and faces level, or go farther away"
    )


def height_note() -> str:
    """Say what height does on any photograph."""
    near, far = (f"{1000.0 / z:.1f} % from {z:.0f} mm away" for z in _USUAL_MM)
    return (
        "Lengths hold in the plane of the scale; a face 10 mm above or below it is measured too large or too small by "
        f"{near}, {far}."
    )
