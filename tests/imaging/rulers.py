"""Rendered rulers with known period: white plastic, engraved steel, wood; at any angle, a little slanted."""

from __future__ import annotations

import cv2
import numpy as np

from tests.imaging.shapes import fractal, linear

MATERIALS = {
    "plastic": ((236, 234, 226), (30, 30, 32), 0.01),
    "steel": ((150, 152, 154), (92, 93, 95), 0.05),
    "wood": ((202, 164, 108), (58, 42, 30), 0.08),
    "black": ((34, 34, 36), (220, 220, 216), 0.02),
}
FINE = 20  # px per mm of the drawing


def draw_ruler(material="plastic", length_mm=150.0, breadth_mm=26.0, kind="mm", seed=0) -> np.ndarray:
    """A ruler's face, (h, w, 3) linear, FINE px/mm; kind: mm, half, inch16, plain (every tick alike)."""
    rng = np.random.default_rng(seed)
    body, ink, grain = MATERIALS[material]
    shape = (round(breadth_mm * FINE), round(length_mm * FINE))
    texture = fractal(rng, (shape[0], max(8, shape[1] // 20)), 8, 3)
    texture = cv2.resize(texture.astype(np.float32), shape[::-1])
    face = linear(body) * np.exp(grain * texture)[..., None]
    step = {"mm": 1.0, "half": 0.5, "inch16": 25.4 / 16, "plain": 1.0}[kind]
    width = round(0.2 * FINE)
    for k in range(int((length_mm - 8) / step) + 1):
        x = round((4 + k * step) * FINE)
        if kind in {"mm", "half"}:
            unit = 1 if kind == "mm" else 2
            reach = 6.0 if k % (10 * unit) == 0 else 4.6 if k % (5 * unit) == 0 else 3.2 if k % unit == 0 else 2.2
        elif kind == "inch16":
            reach = 9.0 if k % 16 == 0 else 7.0 if k % 8 == 0 else 5.6 if k % 4 == 0 else 4.4 if k % 2 == 0 else 3.2
        else:
            reach = 3.2
        face[: round(reach * FINE), x : x + width] = linear(ink)
        if kind == "mm" and k % 10 == 0:
            layer = np.zeros(shape, np.uint8)
            cv2.putText(layer, str(k // 10), (x - FINE, round(10.5 * FINE)), cv2.FONT_HERSHEY_SIMPLEX, 2.4, 255, 5)
            face[layer > 0] = linear(ink)
    return face.astype(np.float32)


def lay_ruler(
    scene: np.ndarray, face: np.ndarray, middle_px, px_per_mm: float, angle_deg: float, slant=0.0
) -> np.ndarray:
    """Lay a ruler's face on a scene, (H, W, 3) linear, at px_per_mm, turned; slant: relative change of scale end to end."""
    # Brought near to its final size first, so that its ticks are averaged and not skipped.
    zoom = px_per_mm / FINE
    near = min(1.0, 2 * zoom)
    small = cv2.resize(face, None, fx=near, fy=near, interpolation=cv2.INTER_AREA)
    scale = zoom / near
    turn = np.deg2rad(angle_deg)
    rotate = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1.0]])
    centre = np.array([[1, 0, -small.shape[1] / 2], [0, 1, -small.shape[0] / 2], [0, 0, 1.0]])
    lean = np.array([[1, 0, 0], [0, 1, 0], [slant / (2 * small.shape[1] * scale), 0, 1.0]])
    put = (
        np.array([[1, 0, middle_px[0]], [0, 1, middle_px[1]], [0, 0, 1.0]])
        @ rotate
        @ lean
        @ np.diag([scale, scale, 1])
        @ centre
    )
    fold = 2
    grow = np.array([[fold, 0, 0.5 * fold - 0.5], [0, fold, 0.5 * fold - 0.5], [0, 0, 1.0]])
    size = (scene.shape[1] * fold, scene.shape[0] * fold)
    seen = cv2.warpPerspective(small, grow @ put, size, flags=cv2.INTER_LINEAR)
    alpha = cv2.warpPerspective(np.ones(small.shape[:2], np.float32), grow @ put, size, flags=cv2.INTER_LINEAR)
    seen, alpha = (cv2.resize(layer, scene.shape[1::-1], interpolation=cv2.INTER_AREA) for layer in (seen, alpha))
    return scene * (1 - alpha[..., None]) + seen
