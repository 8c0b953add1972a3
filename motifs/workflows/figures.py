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

SOFT_PX = 2.0
"""Blur above which a photograph is called soft, px; common practice, no source."""

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
    """All figures of a sherd as one measurement, with what they rest on."""
    packed: dict[str, Json] = {name: [figure.value, figure.unit, figure.sd] for name, figure in figures.items()}
    return Measurement({"basis": basis, "figures": packed})


def unpack_figures(measurement: Measurement | None, basis: str) -> dict[str, Figure] | None:
    """Figures as kept; None where there are none, or what they rest on does not begin with `basis`."""
    kept = measurement.value if measurement is not None else None
    if not isinstance(kept, dict) or not str(kept.get("basis")).startswith(basis):
        return None
    figures = kept.get("figures")
    if not isinstance(figures, dict):
        return None
    return {
        name: Figure(parts[0], str(parts[1]), parts[2]) for name, parts in figures.items() if isinstance(parts, list)
    }


def quality_flags(figures: Mapping[str, Figure]) -> tuple[str, ...]:
    """What a photographer should mend, in words; empty: nothing."""
    blur = figures.get("blur")
    told = []
    if blur is not None and isinstance(blur.value, float) and blur.value > SOFT_PX:
        told.append(f"soft: its outline is blurred by {blur.value:.1f} px")
    for name, words in (("burnt_share", "burnt out"), ("blocked_share", "blocked up")):
        share = figures.get(name)
        if share is not None and isinstance(share.value, float) and share.value > CLIPPED_SHARE:
            told.append(f"{words}: {share.value:.0%} of the face")
    return tuple(told)
