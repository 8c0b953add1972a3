"""Rendered 24-patch colour cards with known light: drawn here from colour-science's published reflectances under D65."""

from __future__ import annotations

import colour
import cv2
import numpy as np

from tests.imaging.shapes import coverage, encoded, linear


def card_linear() -> np.ndarray:
    """Linear sRGB, (24, 3), of the card's patches (colour-science, reference values after November 2014, D50 to D65)."""
    card = colour.CCS_COLOURCHECKERS["ColorChecker24 - After November 2014"]
    xyz = np.array([colour.xyY_to_XYZ(value) for value in card.data.values()])
    adapted = colour.adaptation.chromatic_adaptation_VonKries(
        xyz,
        colour.xy_to_XYZ(card.illuminant),
        colour.xy_to_XYZ(colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]),
        transform="Bradford",
    )
    return np.clip(colour.XYZ_to_RGB(adapted, "sRGB"), 0.0, 1.0)


def lay_card(scene: np.ndarray, middle_px, patch_px: float, angle_deg: float, slant: float = 0.0) -> np.ndarray:
    """Lay a card on a scene, (H, W, 3) linear: 6 by 4 patches in a dark frame, turned and a little slanted."""
    out = np.array(scene)
    turn = np.deg2rad(angle_deg)
    step = 1.18 * patch_px

    def put(points):
        at = np.asarray(points, float)
        at = at * (1 + slant * at[:, :1] / (6 * step))
        return at @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) + middle_px

    def fill(x, y, width, height, value):
        quad = put([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])
        alpha = coverage(quad, out.shape[:2])[..., None]
        out[:] = out * (1 - alpha) + np.asarray(value) * alpha

    fill(-3.2 * step, -2.2 * step, 6.4 * step, 4.4 * step, linear((38, 38, 38)))
    for index, value in enumerate(card_linear()):
        row, column = divmod(index, 6)
        fill((column - 3) * step + 0.09 * patch_px, (row - 2) * step + 0.09 * patch_px, patch_px, patch_px, value)
    return out


def seen_through(scene: np.ndarray, matrix=None, exponent=1.0, noise=0.004, seed=0, blur_px=0.7) -> np.ndarray:
    """A camera with a mixing matrix and a tone exponent; returns (H, W, 3) uint8."""
    rng = np.random.default_rng(seed)
    mixed = np.clip(scene @ np.asarray(np.eye(3) if matrix is None else matrix).T, 0, None) ** exponent
    lit = cv2.GaussianBlur(mixed, (0, 0), blur_px) if blur_px else mixed
    lit = lit + noise * np.sqrt(np.maximum(lit, 0.001)) * rng.standard_normal(lit.shape)
    return np.rint(encoded(np.clip(lit, 0, 1)) * 255).astype(np.uint8)
