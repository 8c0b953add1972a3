"""Figures of one sherd in plain words: value, uncertainty, unit."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from motifs.catalogue import Json
    from motifs.workflows.figures import Figure

UNITS = {"mm2": "mm²", "deg": "°", "share": "", "1": "", "L*a*b*": "L*a*b*", "CIEDE2000": ""}
NAMES = {"area": "Area", "max_dimension": "Largest dimension"}
"""Where the name itself, with blanks for '_', would not read well."""


def figure_facts(figures: Mapping[str, Figure]) -> list[tuple[str, object]]:
    """Names and values to show; what could not be seen is left out."""
    return [(figure_name(name), figure_words(figure)) for name, figure in figures.items() if figure.value is not None]


def figure_name(name: str) -> str:
    """A figure's name as people say it."""
    return NAMES.get(name) or name.replace("_", " ").capitalize()


def figure_words(figure: Figure) -> str:
    """Value ± uncertainty and unit, with the digits that the uncertainty allows."""
    unit = UNITS.get(figure.unit, figure.unit)
    chips = _chips(figure.value)
    if chips:
        return ", ".join(chips)
    values = _flat(figure.value)
    if figure.unit == "share":
        return ", ".join(f"{value:.0%}" for value in values if isinstance(value, (int, float)))
    sds = _flat(figure.sd)
    if len(sds) != len(values):
        sds = [None] * len(values)
    words = [_one(value, sd) for value, sd in zip(values, sds, strict=True)]
    return f"{', '.join(words)} {unit}".strip()


def _flat(value: Json) -> list[Json]:
    """Numbers and words in order, whatever they are nested in."""
    if isinstance(value, list):
        return [inner for part in value for inner in _flat(part)]
    return [] if value is None else [value]


def _chips(value: Json) -> list[str]:
    """Colour chips with their distances (CIEDE2000), in whatever lists they stand."""
    if isinstance(value, dict) and "chip" in value:
        return [f"{value['chip']} ({value.get('de')} off)"]
    return [chip for part in value for chip in _chips(part)] if isinstance(value, list) else []


def _one(value: Json, sd: Json) -> str:
    if not isinstance(value, (int, float)) or isinstance(value, bool):
        return str(value)
    if isinstance(sd, (int, float)) and sd > 0:
        digits = max(0, min(3, 1 - math.floor(math.log10(sd))))
        return f"{value:.{digits}f} ± {sd:.{digits}f}"
    return f"{value:.3g}" if abs(value) < 1000 else f"{value:.0f}"
