"""Decoration as structure: its symmetry, its vocabulary, and how far two analysts agree. Numpy and records in and out."""

from motifs.design.axes import Element
from motifs.design.drawing import draw_symmetry
from motifs.design.groups import (
    BAND_GROUPS,
    CLASH,
    PLANE_GROUPS,
    SymmetryGroup,
    band_group,
    explained,
    group_of,
    plane_group,
)
from motifs.design.reading import DesignSymmetry, read_symmetry
from motifs.design.signals import marks_of, tone_of

__all__ = [
    "BAND_GROUPS",
    "CLASH",
    "PLANE_GROUPS",
    "DesignSymmetry",
    "Element",
    "SymmetryGroup",
    "band_group",
    "draw_symmetry",
    "explained",
    "group_of",
    "marks_of",
    "plane_group",
    "read_symmetry",
    "tone_of",
]
