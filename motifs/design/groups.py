"""The seven band groups and the seventeen plane groups: names in three notations, and what each of them leaves in place.

The orbifold symbol is the key: it is the same in every notation (Conway, Burgiel & Goodman-Strauss 2008). The four-place
symbols of bands and the order of questions follow Washburn & Crowe 1988, chapters 4 and 5; the other short and full
symbols are those of the International Union of Crystallography (International Tables A, plane groups; E, frieze groups).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

Kind: TypeAlias = Literal["band", "plane"]

CLASH = (
    "p1m1 names two different band groups: in the four-place symbols of Washburn & Crowe the mirror lies along the band "
    "(∞*), in the crystallographers' symbols mirrors stand across it (*∞∞). The orbifold symbol has no such clash."
)
"""What to tell whoever reads p1m1 or pm11."""


@dataclass(frozen=True, slots=True)
class SymmetryGroup:
    """One group. copies: of the smallest part in one repeat; rotation: highest order; words: what a reader sees.

    symbol: the four-place symbol of a band, the short symbol of a plane group. iuc_short, iuc_full: crystallographers'
    symbols. orbifold: the key.
    """

    kind: Kind
    symbol: str
    iuc_short: str
    iuc_full: str
    orbifold: str
    copies: int
    rotation: int
    words: str


@dataclass(frozen=True, slots=True)
class BandMoves:
    """Which moves leave a band as it is, beside its repeat. glide: by half a repeat, without the mirror along."""

    across: bool  # mirrors across the band
    along: bool  # a mirror along the mid-line
    turn: bool  # half turns
    glide: bool


def _band(symbol: str, short: str, full: str, orbifold: str, copies: int, words: str) -> SymmetryGroup:
    return SymmetryGroup("band", symbol, short, full, orbifold, copies, 2 if "2" in symbol else 1, words)


BAND_GROUPS = (
    _band("p111", "p1", "p1", "∞∞", 1, "repeat only"),
    _band("p1a1", "p11g", "p11g", "∞×", 2, "repeat and glide"),
    _band("p1m1", "p11m", "p11m", "∞*", 2, "mirror along the band"),
    _band("pm11", "p1m1", "p1m1", "*∞∞", 2, "mirrors across the band"),
    _band("p112", "p2", "p211", "22∞", 2, "half turns"),
    _band("pma2", "p2mg", "p2mg", "2*∞", 4, "mirrors across, half turns between them, glide"),
    _band("pmm2", "p2mm", "p2mm", "*22∞", 4, "mirrors across and along, half turns where they cross"),
)

BAND_MOVES = {
    "p111": BandMoves(False, False, False, False),
    "p1a1": BandMoves(False, False, False, True),
    "p1m1": BandMoves(False, True, False, False),
    "pm11": BandMoves(True, False, False, False),
    "p112": BandMoves(False, False, True, False),
    "pma2": BandMoves(True, False, True, True),
    "pmm2": BandMoves(True, True, True, False),
}


def _plane(symbol: str, full: str, orbifold: str, copies: int, rotation: int, words: str) -> SymmetryGroup:
    return SymmetryGroup("plane", symbol, symbol, full, orbifold, copies, rotation, words)


PLANE_GROUPS = (
    _plane("p1", "p1", "o", 1, 1, "repeat only"),
    _plane("p2", "p211", "2222", 2, 2, "half turns"),
    _plane("pm", "p1m1", "**", 2, 1, "parallel mirrors"),
    _plane("pg", "p1g1", "××", 2, 1, "parallel glides"),
    _plane("cm", "c1m1", "*×", 2, 1, "parallel mirrors with glides between them"),
    _plane("pmm", "p2mm", "*2222", 4, 2, "mirrors both ways, every half turn on a crossing"),
    _plane("pmg", "p2mg", "22*", 4, 2, "mirrors one way, glides the other, half turns off the mirrors"),
    _plane("pgg", "p2gg", "22×", 4, 2, "glides both ways, half turns off them"),
    _plane("cmm", "c2mm", "2*22", 4, 2, "mirrors both ways, some half turns off them"),
    _plane("p4", "p4", "442", 4, 4, "quarter turns"),
    _plane("p4m", "p4mm", "*442", 8, 4, "quarter turns on mirrors"),
    _plane("p4g", "p4gm", "4*2", 8, 4, "quarter turns off the mirrors"),
    _plane("p3", "p3", "333", 3, 3, "third turns"),
    _plane("p3m1", "p3m1", "*333", 6, 3, "third turns, all on mirrors"),
    _plane("p31m", "p31m", "3*3", 6, 3, "third turns, some off the mirrors"),
    _plane("p6", "p6", "632", 6, 6, "sixth turns"),
    _plane("p6m", "p6mm", "*632", 12, 6, "sixth turns on mirrors"),
)

_BY_ORBIFOLD = {group.orbifold: group for group in (*BAND_GROUPS, *PLANE_GROUPS)}
_BANDS = {group.symbol: group for group in BAND_GROUPS}
_PLANES = {group.symbol: group for group in PLANE_GROUPS}


def group_of(orbifold: str) -> SymmetryGroup:
    """Return the group with an orbifold symbol; KeyError for another symbol."""
    return _BY_ORBIFOLD[orbifold]


def band_group(symbol: str) -> SymmetryGroup:
    """Return the band group with a four-place symbol; KeyError for another symbol."""
    return _BANDS[symbol]


def plane_group(symbol: str) -> SymmetryGroup:
    """Return the plane group with a short symbol; KeyError for another symbol."""
    return _PLANES[symbol]


def explained(group: SymmetryGroup) -> str:
    """One line that names the group in every notation and says what it means, the clash of p1m1 included."""
    if group.kind == "plane":
        return f"{group.symbol} (full symbol {group.iuc_full}, orbifold {group.orbifold}): {group.words}"
    line = (
        f"{group.symbol} in four places, {group.iuc_short} in crystallographers' symbols, orbifold {group.orbifold}: "
        f"{group.words}"
    )
    return f"{line}. {CLASH}" if "p1m1" in (group.symbol, group.iuc_short) else line
