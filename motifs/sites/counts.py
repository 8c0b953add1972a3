"""How many vessels: equivalents, minimum and maximum numbers, completeness, brokenness, weights.

No number of vessels stands without its method. The estimated vessel equivalent (EVE) is a sum of rim shares,
often far below any sensible number of vessels; it compares assemblages and must not be printed as a count of
vessels.

References
----------
Orton, C., Tyers, P. & Vince, A. 1993. Pottery in Archaeology (EVE, vessels represented).
Orton, C. 1985. Two useful parameters for pottery research (completeness, brokenness; formulas from memory).
Voss, B. & Allen, R. 2010. Overview of ceramic MNV (methods; from memory).
Hulthén, B. 1974. On documentation of pottery (thickness-adjusted weight).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from motifs.errors import InputError
from motifs.sites.checks import FloatArray, at_least

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

STANDARD_THICKNESS_MM = 10.0
SIZE_EDGES_MM = (20.0, 40.0, 60.0, 80.0)
SMALL_RIM_PERCENT = 5.0
"""Below this share of the rim many workers read no diameter (common practice, from memory)."""


@dataclass(frozen=True, slots=True)
class VesselCount:
    """A number of vessels with the method that gave it, and the number by type."""

    number: int
    method: str
    by_type: tuple[tuple[str, int], ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class VesselsRepresented:
    """Vessels represented: low if every loose sherd is of a known family, high if each is of its own vessel."""

    low: int
    high: int
    method: str = "sherd families, plus loose sherds for the upper number"


def rim_eve(percents: ArrayLike) -> float:
    """Return the rim EVE: the sum of rim percentages over 100 (0 for no rims).

    Raises
    ------
    InputError
        A percentage that is not above 0 and up to 100.
    """
    return float(_percents(percents).sum() / 100.0)


def eve_by_type(rims: pd.DataFrame) -> pd.DataFrame:
    """Return rims, rims without a percentage, and EVE by type, from columns ``type`` and ``percent``.

    Raises
    ------
    InputError
        A column is missing, a type is blank, or a percentage out of range.
    """
    frame = _rim_rows(rims, ("type", "percent"))
    rows = [
        (name, len(group), int(group["percent"].isna().sum()), rim_eve(group["percent"].dropna()))
        for name, group in frame.groupby("type", sort=True)
    ]
    return pd.DataFrame(rows, columns=["type", "rims", "rims_without_percent", "eve"]).set_index("type")


def mnv_by_rim_eve(rims: pd.DataFrame, *, with_diameter: bool = True) -> VesselCount:
    """Method (a): rim percentages of a group summed, over 100, rounded up.

    Parameters
    ----------
    rims
        One row a rim after joining; columns ``type``, ``percent`` (NaN unknown) and, with_diameter,
        ``diameter_mm`` (class read off a chart; NaN unknown).
    with_diameter
        Groups are type and diameter; otherwise type alone. Rims of unknown diameter or percentage add a
        vessel only where their type has none yet, since they may belong to one already counted.

    Raises
    ------
    InputError
        A column is missing, a type is blank, or a percentage out of range.
    """
    columns = ("type", "percent", "diameter_mm") if with_diameter else ("type", "percent")
    frame = _rim_rows(rims, columns)
    by_type = tuple(
        (str(name), max(1, _rim_ceilings(group, with_diameter))) for name, group in frame.groupby("type", sort=True)
    )
    grouping = "type and diameter" if with_diameter else "type"
    return VesselCount(_total(by_type), f"rim EVE rounded up by {grouping}", by_type, _rim_notes(frame))


def mnv_by_parts(parts: pd.DataFrame, *, handles_per_vessel: int = 2) -> VesselCount:
    """Method (b): for each type the largest of rims, bases and handles over handles a vessel, after joins.

    Parameters
    ----------
    parts
        One row a type: ``type``, ``rims``, ``bases``, ``handles`` (whole numbers, 0 or more).
    handles_per_vessel
        2 for pairs, 1 for jugs and cups.

    Raises
    ------
    InputError
        A column is missing, a type is listed twice, or a number is not whole.
    """
    each = at_least(handles_per_vessel, 1, "handles_per_vessel")
    _columns(parts, ("type", "rims", "bases", "handles"))
    if parts["type"].duplicated().any():
        raise InputError("parts: a type is listed twice; add its rows up first.")
    by_type = tuple(
        (
            str(row.type),
            max(
                at_least(row.rims, 0, "rims"),
                at_least(row.bases, 0, "bases"),
                -(-at_least(row.handles, 0, "handles") // each),
            ),
        )
        for row in parts.sort_values("type").itertuples()
    )
    return VesselCount(_total(by_type), f"largest of rims, bases and handles / {each} by type, after joins", by_type)


def mnv_by_kind(sherds: pd.DataFrame, kinds: Sequence[str] = ("fabric", "form", "decoration")) -> VesselCount:
    """Method (c): different kinds of vessel, told by fabric, form and decoration, rim or no rim.

    Parameters
    ----------
    sherds
        One row a sherd with the columns named in `kinds`; sherds with a blank there are left out and said so.

    Raises
    ------
    InputError
        No kinds were named, or a column is missing.
    """
    if not kinds:
        raise InputError("kinds: name the columns that tell vessels apart (fabric, form, decoration).")
    _columns(sherds, tuple(kinds))
    described = sherds[list(kinds)].astype(object).where(sherds[list(kinds)].notna(), "")
    is_told = (described != "").all(axis=1)
    number = len(described[is_told].drop_duplicates())
    blank = int((~is_told).sum())
    notes = (f"{blank} sherd(s) lack {' or '.join(kinds)} and are left out.",) if blank else ()
    return VesselCount(number, f"different combinations of {', '.join(kinds)}", warnings=notes)


def maximum_vessels(join_groups: Sequence[str | None]) -> VesselCount:
    """Method (d): one vessel for each rim that joins no other.

    Parameters
    ----------
    join_groups
        One entry a rim: the name of its group of joining rims, or None or "" when it joins none.
    """
    named = {name for name in join_groups if name}
    return VesselCount(len(named) + sum(1 for name in join_groups if not name), "one for each rim that joins no other")


def vessels_represented(families: Sequence[str | None]) -> VesselsRepresented:
    """Count vessels represented (evrep) from one entry a sherd: its family, or None or "" when loose."""
    known = len({name for name in families if name})
    loose = sum(1 for name in families if not name)
    return VesselsRepresented(max(known, min(loose, 1)), known + loose)


def completeness(eve: float, represented: float) -> float:
    """Return EVE over vessels represented, 0..1: how much of each vessel is there.

    Raises
    ------
    InputError
        No vessel represented, a negative EVE, or more equivalents than vessels.
    """
    if represented <= 0 or eve < 0:
        raise InputError("completeness needs one vessel represented or more, and an EVE of 0 or more.")
    if eve > represented * (1 + 1e-9):
        raise InputError(f"EVE {eve:g} is more than the {represented:g} vessels represented; check the rim readings.")
    return eve / represented


def brokenness(sherds: int, eve: float) -> float:
    """Return sherds over EVE: pieces to a vessel equivalent.

    Raises
    ------
    InputError
        No EVE to divide by, or a negative number of sherds.
    """
    if eve <= 0:
        raise InputError("brokenness needs an EVE above 0; without measured rims it is undefined.")
    return at_least(sherds, 0, "sherds") / eve


def mean_sherd_weight_g(weight_g: float, sherds: int) -> float:
    """Return grams a sherd."""
    if weight_g < 0:
        raise InputError(f"weight_g: {weight_g:g} is below 0; weigh again.")
    return weight_g / at_least(sherds, 1, "sherds")


def adjusted_weight_g(weight_g: ArrayLike, thickness_mm: ArrayLike) -> FloatArray:
    """Return weights as they would be at a wall of 10 mm: W x 10 / T (Hulthén 1974)."""
    weight, thickness = _weights(weight_g, thickness_mm)
    return weight * STANDARD_THICKNESS_MM / thickness


def thickness_by_weight_mm(weight_g: ArrayLike, thickness_mm: ArrayLike) -> float:
    """Return the mean wall thickness weighted by weight as weighed: sum T W / sum W."""
    weight, thickness = _weights(weight_g, thickness_mm)
    return float((thickness * weight).sum() / weight.sum())


def thickness_by_surface_mm(weight_g: ArrayLike, thickness_mm: ArrayLike) -> float:
    """Return the mean wall thickness weighted by thickness-adjusted weight, that is, by surface.

    Thick walls weigh more for the same surface; adjusted weights keep them from counting double.
    """
    return thickness_by_weight_mm(adjusted_weight_g(weight_g, thickness_mm), thickness_mm)


def size_classes(dimension_mm: ArrayLike, edges_mm: Sequence[float] = SIZE_EDGES_MM) -> pd.Series:
    """Count sherds by largest dimension; a sherd on an edge belongs to the larger class.

    Raises
    ------
    InputError
        A dimension of 0 or less, or edges that do not rise.
    """
    sizes = np.asarray(dimension_mm, dtype=np.float64).ravel()
    edges = np.asarray(edges_mm, dtype=np.float64)
    if not (np.isfinite(sizes) & (sizes > 0)).all():
        raise InputError("dimension_mm: every sherd needs a dimension above 0 mm.")
    if edges.size == 0 or edges[0] <= 0 or (np.diff(edges) <= 0).any():
        raise InputError("edges_mm: the class edges must rise from above 0.")
    names = [f"<{edges[0]:g}", *(f"{a:g}-{b:g}" for a, b in pairwise(edges)), f">={edges[-1]:g}"]
    counted = np.bincount(np.digitize(sizes, edges), minlength=len(names))
    return pd.Series(counted, index=pd.Index(names, name="mm"), name="sherds")


def _percents(percents: ArrayLike) -> FloatArray:
    values = np.asarray(percents, dtype=np.float64).ravel()
    wrong = values[~((values > 0) & (values <= 100))]
    if wrong.size:
        raise InputError(f"percent: {wrong[0]:g} is not a share of a rim; give above 0 and up to 100.")
    return values


def _columns(frame: pd.DataFrame, needed: tuple[str, ...]) -> None:
    missing = [name for name in needed if name not in frame.columns]
    if missing:
        raise InputError(f"column {missing[0]!r} is missing; the rows need {', '.join(needed)}.")


def _rim_rows(rims: pd.DataFrame, needed: tuple[str, ...]) -> pd.DataFrame:
    _columns(rims, needed)
    if rims["type"].isna().any() or (rims["type"] == "").any():
        raise InputError("rims: a rim has no type; write indeterminate where it cannot be told.")
    frame = rims[list(needed)].copy()
    try:
        frame["percent"] = pd.to_numeric(frame["percent"]).astype(np.float64)
    except (TypeError, ValueError):
        raise InputError("percent: holds something that is not a number; leave unknown percentages blank.") from None
    _percents(frame["percent"].dropna())
    return frame


def _rim_ceilings(group: pd.DataFrame, with_diameter: bool) -> int:
    if not with_diameter:
        return _ceiling(group["percent"].sum())
    return sum(_ceiling(same["percent"].sum()) for _, same in group.dropna(subset="diameter_mm").groupby("diameter_mm"))


def _ceiling(percent: float) -> int:
    # Readings of 33.3 three times must not make a second vessel by rounding.
    return math.ceil(percent / 100.0 - 1e-9)


def _rim_notes(frame: pd.DataFrame) -> tuple[str, ...]:
    notes = []
    unread = int(frame["percent"].isna().sum())
    small = int((frame["percent"] < SMALL_RIM_PERCENT).sum())
    if unread:
        notes.append(f"{unread} rim(s) have no percentage and add nothing beyond one vessel a type.")
    if small:
        notes.append(f"{small} rim(s) are below {SMALL_RIM_PERCENT:g} % of the rim: their diameters are guesses.")
    if "diameter_mm" in frame and frame["diameter_mm"].isna().any():
        notes.append(f"{int(frame['diameter_mm'].isna().sum())} rim(s) have no diameter and add one vessel at most.")
    return tuple(notes)


def _total(by_type: tuple[tuple[str, int], ...]) -> int:
    return sum(number for _, number in by_type)


def _weights(weight_g: ArrayLike, thickness_mm: ArrayLike) -> tuple[FloatArray, FloatArray]:
    weight = np.atleast_1d(np.asarray(weight_g, dtype=np.float64))
    thickness = np.atleast_1d(np.asarray(thickness_mm, dtype=np.float64))
    if weight.shape != thickness.shape or weight.size == 0:
        raise InputError("weights: give one weight and one thickness for each sherd.")
    if not ((weight > 0) & (thickness > 0) & np.isfinite(weight) & np.isfinite(thickness)).all():
        raise InputError("weights: every weight and thickness must be above 0.")
    return weight, thickness
