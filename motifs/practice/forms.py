"""Vessel forms of revolution: a profile and the parts of the vessel along it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.interpolate import PchipInterpolator

if TYPE_CHECKING:
    from motifs.practice.arrays import FloatArray

SAMPLES = 241


@dataclass(frozen=True, slots=True)
class VesselForm:
    """A form of revolution.

    down_mm: (S,) arc length down the outside from the rim, evenly spaced. radius_mm, drop_mm: (S,) radius and depth
    below the rim at each. parts: (name, first, last) in mm of arc length, from the rim down, without gaps.
    wall_mm: mean wall thickness.
    """

    name: str
    down_mm: FloatArray
    radius_mm: FloatArray
    drop_mm: FloatArray
    parts: tuple[tuple[str, float, float], ...]
    wall_mm: float

    @property
    def circumference_mm(self) -> float:
        """Girth at the widest place; x of the developed surface runs from 0 to this."""
        return float(2 * np.pi * self.radius_mm.max())

    @property
    def height_mm(self) -> float:
        """Arc length of the profile; y of the developed surface runs from 0 to this."""
        return float(self.down_mm[-1])

    def radius_at(self, down_mm: float) -> float:
        """Radius (mm) at an arc length below the rim."""
        return float(np.interp(down_mm, self.down_mm, self.radius_mm))


# For each form: (share of the height, share of the greatest radius) from the rim down, and where the parts end.
_PROFILES: dict[str, tuple[tuple[tuple[float, float], ...], tuple[tuple[str, float], ...]]] = {
    "jar": (
        ((0, 0.72), (0.06, 0.68), (0.16, 0.66), (0.3, 0.86), (0.5, 1.0), (0.75, 0.9), (1, 0.58)),
        (("rim", 0.07), ("neck", 0.2), ("shoulder", 0.42), ("body", 0.72), ("lower body", 1.0)),
    ),
    "globular jar": (
        ((0, 0.62), (0.05, 0.6), (0.12, 0.68), (0.32, 0.93), (0.52, 1.0), (0.78, 0.86), (1, 0.55)),
        (("rim", 0.07), ("shoulder", 0.34), ("body", 0.7), ("lower body", 1.0)),
    ),
    "bowl": (
        ((0, 1.0), (0.15, 0.985), (0.4, 0.94), (0.7, 0.8), (1, 0.56)),
        (("rim", 0.12), ("body", 0.72), ("lower body", 1.0)),
    ),
    "inturned bowl": (
        ((0, 0.88), (0.12, 0.95), (0.3, 1.0), (0.6, 0.92), (1, 0.55)),
        (("rim", 0.12), ("shoulder", 0.36), ("body", 0.7), ("lower body", 1.0)),
    ),
    "beaker": (
        ((0, 1.0), (0.2, 0.94), (0.45, 0.9), (0.7, 0.95), (0.85, 0.88), (1, 0.68)),
        (("rim", 0.09), ("neck", 0.42), ("body", 0.8), ("lower body", 1.0)),
    ),
    "bottle": (
        ((0, 0.52), (0.1, 0.48), (0.22, 0.52), (0.4, 0.82), (0.6, 1.0), (0.82, 0.92), (1, 0.6)),
        (("rim", 0.06), ("neck", 0.26), ("shoulder", 0.48), ("body", 0.76), ("lower body", 1.0)),
    ),
    "dish": (
        ((0, 1.0), (0.3, 0.93), (0.6, 0.82), (1, 0.62)),
        (("rim", 0.2), ("body", 0.75), ("lower body", 1.0)),
    ),
    "carinated bowl": (
        ((0, 0.93), (0.2, 0.9), (0.46, 0.985), (0.54, 1.0), (0.6, 0.97), (1, 0.55)),
        (("rim", 0.1), ("shoulder", 0.5), ("body", 0.78), ("lower body", 1.0)),
    ),
}

FORM_NAMES: tuple[str, ...] = tuple(_PROFILES)

# Greatest radius and height in mm, as ranges.
_SIZES: dict[str, tuple[float, float, float, float]] = {
    "jar": (50, 82, 100, 160),
    "globular jar": (50, 82, 90, 145),
    "bowl": (58, 95, 65, 105),
    "inturned bowl": (55, 88, 65, 105),
    "beaker": (38, 56, 100, 145),
    "bottle": (46, 70, 115, 170),
    "dish": (78, 115, 48, 72),
    "carinated bowl": (55, 90, 70, 110),
}


def build_form(name: str, radius_mm: float, height_mm: float, wall_mm: float) -> VesselForm:
    """Return a form of the given greatest radius and height."""
    knots, ends = _PROFILES[name]
    at = np.array(knots)
    drop = np.linspace(0.0, height_mm, 601)
    radius = PchipInterpolator(at[:, 0] * height_mm, at[:, 1] * radius_mm)(drop)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(drop), np.diff(radius)))])
    down = np.linspace(0.0, along[-1], SAMPLES)
    edges = [0.0, *(float(np.interp(share * height_mm, drop, along)) for _, share in ends)]
    parts = tuple((part, edges[k], edges[k + 1]) for k, (part, _) in enumerate(ends))
    return VesselForm(name, down, np.interp(down, along, radius), np.interp(down, along, drop), parts, wall_mm)


def draw_form(rng: np.random.Generator, girth_mm: float | None = None, height_mm: float | None = None) -> VesselForm:
    """Draw a form; girth and arc length may be fixed (mm), so that the developed surface has that size."""
    name = str(rng.choice(FORM_NAMES))
    low, high, short, tall = _SIZES[name]
    radius = float(rng.uniform(low, high)) if girth_mm is None else girth_mm / (2 * np.pi)
    height = float(rng.uniform(short, tall))
    form = build_form(name, radius, height, float(rng.uniform(4.0, 9.0)))
    if height_mm is None:
        return form
    for _ in range(8):
        height *= height_mm / form.height_mm
        form = build_form(name, radius, height, form.wall_mm)
    return form


def like_form(rng: np.random.Generator, form: VesselForm, difference: float) -> VesselForm:
    """Draw the same kind of vessel, its size and wall off by about 6 % times the difference."""
    off = 1 + rng.normal(0, 0.06, 3) * difference
    radius, height = float(form.radius_mm.max() * off[0]), float(form.drop_mm[-1] * off[1])
    return build_form(form.name, radius, height, form.wall_mm * float(off[2]))
