"""The symmetry of a decoration: band or all-over design, which group, how sure, and what could not be seen.

Structure first, colour second (common practice): the group is that of the drawing, whatever its colours; that light and dark
change places half a repeat on is a note. Fewer than 1.5 repeats are never given a group.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from motifs.design.axes import Element, band_elements, plane_elements
from motifs.design.band_moves import Fits, fit_moves, weigh_groups
from motifs.design.bands import LEAST_REPEATS, BandReading, read_band
from motifs.design.folding import Fold, best_shift
from motifs.design.groups import BAND_GROUPS, BAND_MOVES, SymmetryGroup, band_group, plane_group
from motifs.design.judging import probability
from motifs.design.lattices import PlaneReading, read_plane
from motifs.design.plane_moves import fit_turns, lattice_turns, weigh_plane_groups

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Plane = NDArray[np.float64]
    Mask = NDArray[np.bool_]

LEAST_COHERENCE = 0.6
LEAST_COHERENCE_OF_FEW = 0.75
"""Below this the supposed repeats are too unlike to be repeats: of 3.5 or more, and of 2.3 or fewer."""
MOST_UNLIKE = 2.0
MOST_UNLIKE_OF_FEW = 1.05
"""No small part of a repeat may differ from the others by more than this, in variances of the pattern."""
MOSTLY_LINES = 0.88
"""An all-over design of which parallel lines make so much has no repeat along them."""
SURE_ENOUGH = 0.55
"""A group with less support than this is given as "at least" what the likely groups have in common."""
MOST_UNLIKE_CELLS = 0.5
PLANE_TOLERANCE = 0.045
"""An all-over design is preferred when its cells are not less alike than a band's repeats by more than this."""


@dataclass(frozen=True, slots=True)
class DesignSymmetry:
    """What was read.

    group: None is indeterminate. is_at_least: the design has these symmetries and perhaps more. repeats: how many are seen,
    for an all-over design along the direction seen least; None where no repeat was found. support: 0..1, that the group is
    right. axis_deg: of the band, or of the shorter shift, from x towards y, -90..90. shifts_px: ((x, y),) or two of them.
    weights: probability by symbol. elements: axes and centres in px of the picture. coherence: 0..1, how
    alike the repeats are. notes: what a reader has to know.
    """

    group: SymmetryGroup | None
    is_at_least: bool
    repeats: float | None
    support: float
    axis_deg: float | None
    shifts_px: tuple[tuple[float, float], ...]
    weights: Mapping[str, float]
    elements: tuple[Element, ...]
    coherence: float
    notes: tuple[str, ...]


def read_symmetry(picture: Plane, mask: Mask, *, kind: str | None = None) -> DesignSymmetry:
    """Read the symmetry of a decoration.

    Parameters
    ----------
    picture : (h, w) float64, ink coverage or any signed value of the decoration, any units.
    mask : (h, w) bool, where the decoration is seen.
    kind : "band" or "plane" to ask for one of them only.

    Returns
    -------
    DesignSymmetry
        With group None where fewer than 1.5 repeats are seen or nothing repeats.
    """
    plane = None if kind == "band" else read_plane(picture, mask)
    band = None if kind == "plane" else read_band(picture, mask)
    if band is not None and not _repeats_enough(band):
        band = None
    if plane is not None and not _is_all_over(plane, band):
        plane = None
    if plane is not None:
        return _of_plane(plane)
    return _indeterminate() if band is None else _of_band(band)


def _is_all_over(plane: PlaneReading, band: BandReading | None) -> bool:
    """Whether cells are alike enough, everywhere in the cell, not to be a band and its frame laid over one another."""
    if plane.fold.coherence < LEAST_COHERENCE or is_only_lines(plane.fold):
        return False
    if band is None:
        return plane.fold.unlike <= MOST_UNLIKE_OF_FEW
    return plane.fold.unlike <= MOST_UNLIKE_CELLS and plane.fold.coherence >= band.fold.coherence - PLANE_TOLERANCE


def _repeats_enough(band: BandReading) -> bool:
    """Whether the repeats are alike enough, for how few they are, to be taken for repeats."""
    few = float(np.clip((3.5 - band.repeats) / (3.5 - 2.3), 0.0, 1.0))
    least = LEAST_COHERENCE + few * (LEAST_COHERENCE_OF_FEW - LEAST_COHERENCE)
    most = MOST_UNLIKE + few * (MOST_UNLIKE_OF_FEW - MOST_UNLIKE)
    return band.fold.coherence >= least and band.fold.unlike <= most and band.repeats >= LEAST_REPEATS


def is_only_lines(fold: Fold) -> bool:
    """Whether a cell hardly changes along one of its shifts or diagonals."""
    n = fold.cell.shape[0]
    index = np.arange(n)
    total = float(fold.cell.var())
    for step_v, step_u in ((0, 1), (1, 0), (1, 1), (1, -1)):
        start = index[:, None]
        along = index[None, :]
        line = fold.cell[(start * (step_u != 0) + along * step_v) % n, (start * (step_u == 0) + along * step_u) % n]
        if float(line.mean(axis=1).var()) >= MOSTLY_LINES * total:
            return True
    return False


def _indeterminate() -> DesignSymmetry:
    note = (
        f"indeterminate: no repeat is seen {LEAST_REPEATS:g} times; a single piece of a design shows no band or plane group, "
        "a sherd with more of it may"
    )
    return DesignSymmetry(None, False, None, 0.0, None, (), {}, (), 0.0, (note,))


def _of_band(band: BandReading) -> DesignSymmetry:
    fits = fit_moves(band.fold)
    weights = weigh_groups(band.fold, fits)
    symbol = max(weights.groups, key=lambda name: weights.groups[name])
    support = weights.groups[symbol]
    notes = list(_band_notes(band, fits))
    is_at_least = support < SURE_ENOUGH
    if is_at_least:
        symbol, support = _in_common(weights.groups)
        notes.append(f"at least {symbol}: more cannot be told from what is seen")
    group = band_group(symbol)
    along = np.radians(band.axis_deg)
    shift = (float(band.repeat_px * np.cos(along)), float(band.repeat_px * np.sin(along)))
    return DesignSymmetry(
        group,
        is_at_least,
        band.repeats,
        support,
        (band.axis_deg + 90) % 180 - 90,
        (shift,),
        weights.groups,
        band_elements(band, fits, BAND_MOVES[symbol]),
        band.fold.coherence,
        tuple(notes),
    )


def _band_notes(band: BandReading, fits: Fits) -> list[str]:
    notes = []
    hidden = [words for move, words in _HIDDEN.items() if fits[move] is None]
    if hidden:
        notes.append(f"too little of the band's height is seen to tell of {' and '.join(hidden)}")
    if band.repeats < 2:
        notes.append(f"only {band.repeats:.1f} repeats are seen: a weak reading")
    if changes_places(band.fold):
        notes.append("half a repeat on, light and dark change places: a two-colour alternation")
    return notes


def changes_places(fold: Fold) -> bool:
    """Whether light and dark change places half a repeat on: a two-colour alternation in the sense of colour symmetry."""
    ny, nx = fold.cell.shape
    seen = fold.count > 0
    mean = float(fold.cell[seen].mean())
    rows, columns = np.arange(-(ny - 1), ny)[:, None], np.arange(nx)[None, :]
    allowed = (np.abs(columns - nx / 2) <= 0.06 * nx) & (np.abs(rows) <= 0.05 * nx)
    # Only where the pattern is: bare ground round a band has no other colour to change to.
    energy = ((fold.cell - np.median(fold.cell[seen])) ** 2 * seen).sum(axis=1)
    is_pattern = energy > 0.25 * energy.max()
    count = np.where(is_pattern[:, None], fold.count, 0.0)
    here = replace(fold, count=count)
    fit = best_shift(here, replace(here, cell=2 * mean - fold.cell), allowed, cyclic_rows=False)
    return fit is not None and probability(fit, fold.coherence) >= 0.5


_HIDDEN = {"along": "a mirror along it", "turn": "half turns", "glide": "a glide"}


def _in_common(weights: Mapping[str, float]) -> tuple[str, float]:
    """Return the richest group all likely groups contain, and the weight of the groups that contain it."""
    top = max(weights.values())
    likely = [symbol for symbol, weight in weights.items() if weight >= 0.25 * top]
    best, best_weight = "p111", 1.0
    for group in BAND_GROUPS:
        if all(_contains(symbol, group.symbol) for symbol in likely) and group.copies > band_group(best).copies:
            best, best_weight = group.symbol, sum(w for s, w in weights.items() if _contains(s, group.symbol))
    return best, float(min(best_weight, 1.0))


def _contains(whole: str, part: str) -> bool:
    """Whether every move of one band group is a move of the other with the same repeat."""
    names = ("across", "along", "turn", "glide")
    return all(getattr(BAND_MOVES[whole], name) or not getattr(BAND_MOVES[part], name) for name in names)


def _of_plane(plane: PlaneReading) -> DesignSymmetry:
    turns = lattice_turns(plane.basis_px)
    fits = fit_turns(plane.fold, turns)
    weights = weigh_plane_groups(plane.fold, fits, plane.basis_px)
    symbol = max(weights.groups, key=lambda name: weights.groups[name])
    support = weights.groups[symbol]
    notes = [f"{plane.cells:.1f} cells of an all-over design are seen"]
    if support < SURE_ENOUGH:
        notes.append("other plane groups are nearly as likely; see their weights")
    a, b = plane.basis_px
    return DesignSymmetry(
        plane_group(symbol),
        support < SURE_ENOUGH,
        plane.rows,
        support,
        (float(np.degrees(np.arctan2(a[1], a[0]))) + 90) % 180 - 90,
        ((float(a[0]), float(a[1])), (float(b[0]), float(b[1]))),
        weights.groups,
        plane_elements(plane, fits, weights.turns),
        plane.fold.coherence,
        tuple(notes),
    )
