"""Munsell colour of paste, slip and paint: the nearest chips of a soil-range table, never one chip alone.

The chips lie in `munsell_chips.csv`: 7 hues (10R to 5Y), values 2.5 to 8, chroma 1 to 8, and neutrals N2.5 to N8.5,
as L*a*b* under D65. `compute_chips` makes that file from colour-science's renotation (Newhall, Nickerson & Judd 1943;
Y by ASTM D1535), which is under illuminant C and is adapted to D65 (CAT02). Run ``python -m motifs.imaging.munsell`` to
make it anew; a test compares it with the library. A table never fails on dark colours, as the iterative inverse does.

One hue page is about 3 to 5 CIEDE2000, one value step 8 to 9, one chroma pair 4 to 5; human readers agree on all three
components about half the time (Post et al. 1993). So a colour is a neighbourhood of chips with their distances.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from motifs.errors import InputError
from motifs.imaging.colour import delta_e

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

HUES: Final = ("10R", "2.5YR", "5YR", "7.5YR", "10YR", "2.5Y", "5Y")
VALUES: Final = (2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0)
CHROMAS: Final = (1, 2, 3, 4, 6, 8)
NEUTRAL_VALUES: Final = tuple(2.5 + 0.5 * step for step in range(13))
NEUTRAL_BELOW: Final = 0.5
"""Colours of less chroma than this are neutral: a camera cannot tell their hue."""

_TABLE: Final = Path(__file__).with_name("munsell_chips.csv")
_FAMILIES: Final = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")
_NOTATION: Final = re.compile(r"(\d+(?:\.\d+)?)\s*([A-Z]{1,2})\s*(\d+(?:\.\d+)?)\s*/\s*(\d+(?:\.\d+)?)")
_NEUTRAL: Final = re.compile(r"N\s*(\d+(?:\.\d+)?)\s*/?\s*(?:0(?:\.0+)?)?")


@dataclass(frozen=True, slots=True)
class Chip:
    """One chip. lab: L*a*b* (D65) as an sRGB photograph shows it. is_displayable: False where that clips its colour."""

    name: str
    lab: tuple[float, float, float]
    is_displayable: bool


@dataclass(frozen=True, slots=True)
class ChipNear:
    """A chip and its CIEDE2000 distance from a colour."""

    chip: str
    de: float
    is_displayable: bool


def nearest_chips(lab: Sequence[float] | NDArray[np.floating[Any]], top: int = 3) -> tuple[ChipNear, ...]:
    """Return the nearest chips, nearest first; the nearest neutral comes first where the chroma is under 0.5.

    Parameters
    ----------
    lab
        L*a*b* (D65, 2 degree observer) of one colour; any L* from 0 to 100.
    top
        How many chips, 2 or more: one chip alone says more than a photograph knows.

    Raises
    ------
    InputError
        Not three finite numbers, or fewer than two chips asked for.
    """
    colour = np.asarray(lab, dtype=np.float64)
    if colour.shape != (3,) or not np.isfinite(colour).all():
        raise InputError(f"a colour is three finite numbers L*, a*, b*, not {lab!r}; measure it again")
    if top < 2:
        raise InputError(f"{top} chips say more than a photograph knows; ask for two or more")
    chips = chip_table()
    distances = delta_e(_lab_array(), colour[None])
    order = list(np.argsort(distances, kind="stable"))
    if munsell_chroma(colour) < NEUTRAL_BELOW:
        order.sort(key=lambda place: not chips[place].name.startswith("N"))
        order = order[:1] + sorted(order[1:], key=lambda place: float(distances[place]))
    return tuple(
        ChipNear(chips[place].name, float(distances[place]), chips[place].is_displayable) for place in order[:top]
    )


def munsell_chroma(lab: Sequence[float] | NDArray[np.floating[Any]]) -> float:
    """Return about how much Munsell chroma a colour has: C*ab over that of a chroma-1 chip of its hue and value.

    Good near neutral, where it decides between N and a hue; not a reading of chroma.
    """
    lightness, a_star, b_star = (float(part) for part in lab)
    pale = np.array([chip.lab for chip in chip_table() if chip.name.endswith("/1")])
    value = pale[np.abs(pale[:, 0] - lightness) <= np.abs(pale[:, 0] - lightness).min() + 1e-6]
    turn = np.angle(np.exp(1j * (np.arctan2(value[:, 2], value[:, 1]) - np.arctan2(b_star, a_star))))
    unit = value[np.abs(turn).argmin()]
    return float(np.hypot(a_star, b_star) / np.hypot(unit[1], unit[2]))


def chip_named(notation: str) -> Chip:
    """Return the chip of the table with that notation, in any usual spelling.

    Raises
    ------
    InputError
        Not a notation, or not a chip of the soil range.
    """
    name = normal_notation(notation)
    for chip in chip_table():
        if chip.name == name:
            return chip
    raise InputError(
        f"'{name}' is no chip of the soil range (10R to 5Y, value 2.5 to 8, chroma 1 to 8, or N); name one"
    )


def normal_notation(notation: str) -> str:
    """Return one spelling for what is one colour.

    Hue 0 of a family is 10 of the one before (``0.0Y 7.0/3.0`` is ``10YR 7/3``), trailing zeros go, chroma under 0.5
    is neutral (``5YR 6/0`` is ``N6``; ``N 5/`` is ``N5``).

    Raises
    ------
    InputError
        No Munsell notation.
    """
    text = notation.strip().upper()
    neutral = _NEUTRAL.fullmatch(text)
    if neutral:
        return f"N{float(neutral[1]):g}"
    found = _NOTATION.fullmatch(text)
    if not found or found[2] not in _FAMILIES or not 0 <= float(found[1]) <= 10:
        raise InputError(f"'{notation}' is no Munsell notation; write hue value/chroma, as in 5YR 6/6, or N5")
    hue, family, value, chroma = float(found[1]), found[2], float(found[3]), float(found[4])
    if chroma < NEUTRAL_BELOW:
        return f"N{value:g}"
    if hue == 0:
        hue, family = 10.0, _FAMILIES[_FAMILIES.index(family) - 1]
    return f"{hue:g}{family} {value:g}/{chroma:g}"


@cache
def chip_table() -> tuple[Chip, ...]:
    """Return the chips of the soil range, hue by hue, neutrals last."""
    with _TABLE.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    return tuple(
        Chip(row["chip"], (float(row["L"]), float(row["a"]), float(row["b"])), row["in_srgb"] == "yes") for row in rows
    )


@cache
def _lab_array() -> NDArray[np.float64]:
    return np.array([chip.lab for chip in chip_table()], dtype=np.float64)


def compute_chips() -> tuple[Chip, ...]:
    """Compute the table from colour-science's renotation; takes seconds, most of them for the library's import."""
    import colour  # noqa: PLC0415  (slow to import, and needed to make the table only)

    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]
    chips = []
    for name in _chip_names():
        try:
            renoted = colour.munsell_colour_to_xyY(name)
        except ValueError:  # not in the renotation, as 5Y 2.5/8
            continue
        tristimulus = colour.xyY_to_XYZ(renoted)
        linear = colour.XYZ_to_sRGB(tristimulus, illuminant=white["C"], apply_cctf_encoding=False)
        shown = np.clip(linear, 0.0, 1.0)
        lab = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(shown, apply_cctf_decoding=False), white["D65"])
        inside = bool((linear >= -1e-6).all() and (linear <= 1 + 1e-6).all())
        l_star, a_star, b_star = (round(float(part), 3) for part in lab)
        chips.append(Chip(name, (l_star, a_star, b_star), inside))
    return tuple(chips)


def _chip_names() -> list[str]:
    coloured = [f"{hue} {value:g}/{chroma}" for hue in HUES for value in VALUES for chroma in CHROMAS]
    return [*coloured, *(f"N{value:g}" for value in NEUTRAL_VALUES)]


def _write_table() -> None:
    with _TABLE.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(["chip", "L", "a", "b", "in_srgb"])
        writer.writerows([chip.name, *chip.lab, "yes" if chip.is_displayable else "no"] for chip in compute_chips())


if __name__ == "__main__":
    _write_table()
