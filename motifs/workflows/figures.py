"""Figures of a sherd as they are kept and shown: value, unit, standard uncertainty. Light: nothing that measures is imported.

Figures are derived: kept under the sherd's content key and under what they rest on (`basis`), measured again when either
changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.catalogue import Measurement

if TYPE_CHECKING:
    from collections.abc import Mapping

    from motifs.catalogue import Json
    from motifs.records import Scale

VERSION = "1"
"""Changes whenever a figure would change, so that kept figures are measured again."""

FIGURES = "figures"
"""Name of the measurement that holds every figure of a sherd."""

LISTED = "listed"
"""Under this name the figures stand, each as {"value", "unit", "sd"}."""

SOFT_PX = 2.0
"""Blur above which a photograph is called soft, px; common practice, no source."""

QUALITY = ("blur", "burnt_share", "blocked_share")
"""Figures that say how well a sherd was photographed."""

CLIPPED_SHARE = 0.01
"""Share of a face that may be burnt out or blocked up before it is told; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure. value: a number, several, or chips; None: could not be seen. sd: of the same shape, or None."""

    value: Json
    unit: str
    sd: Json = None


def shown_basis(scale: Scale | None) -> str:
    """What kept figures must begin with to be shown: this program's version of them, and the scale's uncertainty."""
    return f"{VERSION}|{0.0 if scale is None else scale.relative_sd:.6f}|"


def pack_figures(figures: Mapping[str, Figure], basis: str) -> Measurement:
    """All figures of a sherd as one measurement, with what they rest on.

    Each is kept just as lists of sherds show it, so that a list of fifty thousand need not take them apart.
    """
    packed: dict[str, Json] = {
        name: {"value": figure.value, "unit": figure.unit, "sd": figure.sd} for name, figure in figures.items()
    }
    return Measurement({"basis": basis, LISTED: packed})


def unpack_figures(measurement: Measurement | None, basis: str) -> dict[str, Figure] | None:
    """Figures as kept; None where there are none, or what they rest on does not begin with `basis`."""
    kept = measurement.value if measurement is not None else None
    if not isinstance(kept, dict) or not str(kept.get("basis")).startswith(basis):
        return None
    listed, older = kept.get(LISTED), kept.get("figures")
    if isinstance(listed, dict):
        return {
            name: Figure(one["value"], str(one["unit"]), one["sd"])
            for name, one in listed.items()
            if isinstance(one, dict)
        }
    if not isinstance(older, dict):
        return None
    # As they were kept before: three parts in a list.
    return {name: Figure(parts[0], str(parts[1]), parts[2]) for name, parts in older.items() if isinstance(parts, list)}


def quality_flags(figures: Mapping[str, Figure]) -> tuple[str, ...]:
    """What a photographer should mend, in words; empty: nothing."""
    return flags_of({name: figures[name].value for name in QUALITY if name in figures})


def flags_of(quality: Mapping[str, Json]) -> tuple[str, ...]:
    """The same, from the values of the figures named in QUALITY alone."""
    blur = quality.get("blur")
    told = []
    if isinstance(blur, float) and blur > SOFT_PX:
        told.append(f"soft: its outline is blurred by {blur:.1f} px")
    for name, words in (("burnt_share", "burnt out"), ("blocked_share", "blocked up")):
        share = quality.get(name)
        if isinstance(share, float) and share > CLIPPED_SHARE:
            told.append(f"{words}: {share:.0%} of the face")
    return tuple(told)
