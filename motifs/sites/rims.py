"""Rim geometry: diameter, share of the rim, chord, rise and arc of a rim sherd.

A rim sherd laid on a flat surface shows a chord and, at its middle, the rise of the arc above it (the
sagitta). Small rims give wild diameters: at a chord of 60 mm and a rise of 5 mm, half a millimetre of rise
moves the diameter by 16 to 20 mm (`diameter_per_sagitta`). Hand-built rims are not circles; read every value
here as a class, not a measurement. Plane geometry of the circle throughout.
"""

from __future__ import annotations

import math

from motifs.errors import InputError


def rim_diameter_mm(chord_mm: float, sagitta_mm: float) -> float:
    """Return the diameter of the circle through a chord and its rise: c² / (4 s) + s.

    Raises
    ------
    InputError
        A length of 0 or less.
    """
    chord, rise = _length(chord_mm, "chord_mm"), _length(sagitta_mm, "sagitta_mm")
    return chord**2 / (4.0 * rise) + rise


def diameter_per_sagitta(chord_mm: float, sagitta_mm: float) -> float:
    """Return how many mm the diameter moves for each mm of rise: 1 - c² / (4 s²)."""
    chord, rise = _length(chord_mm, "chord_mm"), _length(sagitta_mm, "sagitta_mm")
    return 1.0 - chord**2 / (4.0 * rise**2)


def rim_fraction(chord_mm: float, diameter_mm: float, *, is_over_half: bool = False) -> float:
    """Return the share of the whole rim that a chord spans, 0..1: asin(c / D) / pi, or 1 - that.

    Raises
    ------
    InputError
        A length of 0 or less, or a chord longer than the diameter.
    """
    chord, diameter = _length(chord_mm, "chord_mm"), _length(diameter_mm, "diameter_mm")
    if chord > diameter:
        raise InputError(f"chord {chord:g} mm is longer than the diameter {diameter:g} mm; measure both again.")
    share = math.asin(chord / diameter) / math.pi
    return 1.0 - share if is_over_half else share


def arc_mm(diameter_mm: float, fraction: float) -> float:
    """Return the length along the rim of a share of it (0..1)."""
    return math.pi * _length(diameter_mm, "diameter_mm") * _rim_share(fraction)


def chord_mm(diameter_mm: float, fraction: float) -> float:
    """Return the straight length between the ends of a share of the rim (0..1)."""
    return _length(diameter_mm, "diameter_mm") * math.sin(math.pi * _rim_share(fraction))


def sagitta_mm(diameter_mm: float, fraction: float) -> float:
    """Return the rise at the middle of a share of the rim (0..1)."""
    return _length(diameter_mm, "diameter_mm") / 2.0 * (1.0 - math.cos(math.pi * _rim_share(fraction)))


def repeats_round(diameter_mm: float, repeat_mm: float) -> float:
    """Return how many repeats of a design go round, as measured (a whole number for a closed band)."""
    return math.pi * _length(diameter_mm, "diameter_mm") / _length(repeat_mm, "repeat_mm")


def _length(value: float, name: str) -> float:
    if not (math.isfinite(value) and value > 0):
        raise InputError(f"{name}: {value:g} is not a length above 0 mm; measure it again.")
    return float(value)


def _rim_share(value: float) -> float:
    if not 0.0 < value <= 1.0:
        raise InputError(f"fraction: {value:g} must lie above 0 and up to 1 (10 % of the rim is 0.1).")
    return float(value)
