"""Designs of style two: a few strokes thrown into half a cell and completed by a band symmetry.

A design is a name "d<number>"; the number is the seed of its composition. What is drawn is not a picture
but the distance to the nearest stroke, so that grooves and painted lines of any width come from one field.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from tests.outsider.optics import Image

Points = NDArray[np.float64]
FIELD_PX_PER_MM = 14
DESIGNS = 48


@dataclass(frozen=True)
class DistanceCell:
    """Distance in mm to the nearest stroke over three cells side by side; the middle one is read."""

    field: Image
    pitch_mm: float
    height_mm: float

    def at(self, x_mm: Image, y_mm: Image) -> Image:
        """Distance at a place: x along the band from anywhere, y from the band's top."""
        x = (np.mod(x_mm, np.float32(self.pitch_mm)) + np.float32(self.pitch_mm)) * FIELD_PX_PER_MM
        return cv2.remap(
            self.field, x.astype(np.float32), (y_mm * FIELD_PX_PER_MM).astype(np.float32), cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT, borderValue=99.0,
        )  # fmt: skip


def design_names() -> list[str]:
    """All designs."""
    return [f"d{number}" for number in range(DESIGNS)]


def design_aspect(name: str) -> float:
    """Natural width of a cell over its height."""
    return float(np.random.default_rng(7000 + int(name[1:])).uniform(0.7, 1.6))


def distance_cell(name: str, pitch_mm: float, height_mm: float) -> DistanceCell:
    """Distance field of a design drawn into a cell of pitch_mm x height_mm."""
    strokes = _complete(int(name[1:]))
    size = np.array([pitch_mm, height_mm]) * FIELD_PX_PER_MM
    shape = (int(np.ceil(size[1])) + 1, int(np.ceil(3 * size[0])) + 1)
    paper = np.full(shape, 255, np.uint8)
    for stroke, is_solid in strokes:
        for shift in range(-1, 5):
            points = [np.round((stroke + np.array([shift, 0])) * size).astype(np.int32)]
            if is_solid:
                cv2.fillPoly(paper, points, 0)
            cv2.polylines(paper, points, False, 0)
    field = cv2.distanceTransform(paper, cv2.DIST_L2, cv2.DIST_MASK_PRECISE) / FIELD_PX_PER_MM
    return DistanceCell(field, pitch_mm, height_mm)


def _complete(number: int) -> list[tuple[Points, bool]]:
    rng = np.random.default_rng(9000 + number)
    operation = ("none", "mirror-x", "mirror-y", "half-turn", "glide", "both")[number % 6]
    parts = [
        _throw(kind, rng)
        for kind in rng.choice(
            ["bar", "bent", "arc", "hook", "dot", "wedge", "ring", "comb"], rng.integers(2, 4), replace=False
        )
    ]
    strokes = [item for part in parts for item in part]
    return [(image(points), solid) for points, solid in strokes for image in _images(operation)]


def _images(operation: str):  # type: ignore[no-untyped-def]
    def same(p: Points) -> Points:
        return p

    def across(p: Points) -> Points:
        return p * (-1, 1) + (1, 0)

    def upside(p: Points) -> Points:
        return p * (1, -1) + (0, 1)

    def turned(p: Points) -> Points:
        return across(upside(p))

    def glided(p: Points) -> Points:
        return upside(p) + np.array([0.5, 0])

    return {
        "none": [same], "mirror-x": [same, across], "mirror-y": [same, upside], "half-turn": [same, turned],
        "glide": [same, glided], "both": [same, across, upside, turned],
    }[operation]  # fmt: skip


def _throw(kind: str, rng: np.random.Generator) -> list[tuple[Points, bool]]:
    """One part of a design near a random place of the cell."""
    place = rng.uniform((0.15, 0.2), (0.6, 0.8))
    turn, size = rng.uniform(0, 2 * np.pi), rng.uniform(0.18, 0.4)
    if kind == "comb":
        start = rng.uniform(0.05, 0.3)
        return [
            (np.array([[start + 0.13 * k, 0.05], [start + 0.13 * k + rng.uniform(-0.02, 0.02), size + 0.1]]), False)
            for k in range(4)
        ]
    shape = _SHAPES[kind](rng)
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    if kind in {"dot", "ring"}:
        size *= 0.3 if kind == "dot" else 0.7
    points = np.clip(shape @ spin * size + place, (-0.3, 0.02), (1.3, 0.98))
    return [(points, kind in {"dot", "wedge"})]


def _circle(start: float, end: float, steps: int = 25) -> Points:
    t = np.linspace(start, end, steps)
    return np.stack([np.cos(t), np.sin(t)], 1)


def _curl(rng: np.random.Generator) -> Points:
    t = np.linspace(0.05, 1, 40)
    angle = 2 * np.pi * rng.uniform(1.2, 2.2) * t
    return np.concatenate(
        [np.stack([t * np.cos(angle), t * np.sin(angle)], 1), [[rng.uniform(1.2, 2), rng.uniform(0.8, 1.4)]]]
    )


_SHAPES = {
    "bar": lambda rng: np.array([[-1.4, rng.uniform(-0.5, 0.5)], [1.4, rng.uniform(-0.5, 0.5)]]),
    "bent": lambda rng: np.array(
        [[-1.2, -0.6], [rng.uniform(-0.3, 0.3), 0.9], [1.2, rng.uniform(-0.8, 0.2)], [1.5, 0.6]]
    ),
    "arc": lambda rng: _circle(0, rng.uniform(2.4, 4.2)) * (1.2, rng.uniform(0.8, 1.3)),
    "hook": _curl,
    "dot": lambda rng: _circle(0, 2 * np.pi),
    "wedge": lambda rng: np.array([[-0.8, -0.5], [rng.uniform(0.7, 1.4), 0.0], [-0.6, rng.uniform(0.4, 0.9)]]),
    "ring": lambda rng: _circle(0, 2 * np.pi, 33),
}
