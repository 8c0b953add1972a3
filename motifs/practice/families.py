"""The list of motif families, and the split that keeps whole families apart.

A family is one recognisable motif: a number, a name, where its drawing comes from, the aspect of its cell and a
function that draws it for a style of four numbers in -1..1 (proportion, slant, density, roundness), which each hand
sets its own way.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from motifs.errors import UnknownName
from motifs.practice import drawn_bands, drawn_fields, drawn_figures, glyphs, random_motifs
from motifs.practice.arrays import FloatArray
from motifs.practice.marks import Marks

Draw = Callable[[FloatArray], Marks]


@dataclass(frozen=True, slots=True)
class Family:
    """One motif family. ident >= 0, stable; source: "drawn", "spline", "branching" or "glyph"; aspect: width/height."""

    ident: int
    name: str
    source: str
    aspect: float
    draw: Draw


Variant = tuple[str, float, Callable[..., Marks], dict[str, Any]]
_FIRST_IDENT = {"drawn": 0, "spline": 1000, "branching": 2000, "glyph": 3000}


def _numbered(source: str, variants: Sequence[Variant]) -> tuple[Family, ...]:
    """Give families of one source their numbers; a variant is (name, aspect, drawing function, its arguments)."""
    first = _FIRST_IDENT[source]
    return tuple(
        Family(first + k, name, source, aspect, partial(draw, **arguments))
        for k, (name, aspect, draw, arguments) in enumerate(variants)
    )


DRAWN_FAMILIES: tuple[Family, ...] = (
    *_numbered("drawn", (*drawn_bands.VARIANTS, *drawn_figures.VARIANTS, *drawn_fields.VARIANTS)),
    *_numbered("spline", random_motifs.SPLINE_VARIANTS),
    *_numbered("branching", random_motifs.BRANCHING_VARIANTS),
)
"""Families that exist on every machine."""

FAMILIES: tuple[Family, ...] = (
    *DRAWN_FAMILIES,
    *(
        Family(_FIRST_IDENT["glyph"] + place, name, "glyph", aspect, partial(draw, **arguments))
        for place, (name, aspect, draw, arguments) in glyphs.variants()
    ),
)
"""All families, with the glyph families of the fonts found on this machine."""

_BY_NAME = {family.name: family for family in FAMILIES}
_BY_IDENT = {family.ident: family for family in FAMILIES}
NEUTRAL_STYLE = np.zeros(4)


def family_named(name: str) -> Family:
    """Return a family by its name.

    Raises
    ------
    UnknownName
        No such family on this machine.
    """
    try:
        return _BY_NAME[name]
    except KeyError:
        raise UnknownName(f"No motif family is named {name!r}: take a name from motifs.practice.FAMILIES.") from None


def family_numbered(ident: int) -> Family:
    """Return a family by its number; KeyError when there is none."""
    return _BY_IDENT[ident]


def family_split(name: str) -> str:
    """Say to which part of the families a name belongs: "train" (70 %), "tune" (10 %) or "report" (20 %).

    The answer depends on the name alone, so that it never moves when families are added.
    """
    place = int.from_bytes(hashlib.sha256(name.encode()).digest()[:4], "big") / 2**32
    if place < 0.7:
        return "train"
    return "tune" if place < 0.8 else "report"
