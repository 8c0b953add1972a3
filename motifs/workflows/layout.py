"""The dry layout of one vessel: where its sherds lie by their joins, by band, or loose, and the order to put them together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.errors import InputError, UnknownName
from motifs.joins.assembly import AssemblyPlan, plan_assembly
from motifs.joins.clearance import blocking_of
from motifs.joins.covering import field_and_cover_mm2
from motifs.joins.layout import Layout, LayoutJoin, LayoutPiece, UsedJoin, lay_out
from motifs.joins.pieces import middle_mm
from motifs.joins.walls import RoundWall, Wall, wall_of_profile
from motifs.workflows.assembly_words import StepLine, step_lines
from motifs.workflows.joins import find_joins, outlines_mm
from motifs.workflows.sort import latest_sorting
from motifs.workflows.table import lay_out_table
from motifs.workflows.unjoined import POSITIONS, lay_beside
from motifs.workflows.vessel_names import vessel_names

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, PlacementRow, SherdRow
    from motifs.workflows import Progress
    from motifs.workflows.joins import ProposedJoin

JOINS, BAND, LOOSE = "joins", "band", "loose"
CYLINDER_MM: Final = 600.0
"""Height of the cylinder that stands for a vessel of which only the rim diameter is recorded; no sherd lies lower."""
FLAT_NOTE: Final = (
    "laid out as if flat, since neither profile nor rim diameter is recorded: on a vessel of 200 mm a sherd of 63 mm looks 1.6 % short, "
    "so expect places to drift by about 1.6 mm in every 100 mm"
)


@dataclass(frozen=True, slots=True)
class LaidSherd:
    """One sherd in the layout.

    x_mm, y_mm: middle of its outline, x along the girth and y down; turn_deg: how far its photograph is turned, clockwise. by: what put it
    there, JOINS, BAND (its part of the vessel, beside the others) or LOOSE. group: sherds of one number are joined; 0 the largest group.
    residual_mm: root mean square of what its joins leave open, or None. outline_mm: (N, 2) as it lies. is_locked: a person laid it.
    """

    sherd: str
    x_mm: float
    y_mm: float
    turn_deg: float
    by: str
    group: int
    residual_mm: float | None
    outline_mm: NDArray[np.float64]
    is_locked: bool = False


@dataclass(frozen=True, slots=True)
class LaidJoin:
    """A join in the layout. refused: why it is not used, or None."""

    a: str
    b: str
    fit: float
    length_mm: float
    word: str | None
    residual_mm: float
    refused: str | None


@dataclass(frozen=True, slots=True)
class VesselLayout:
    """The dry layout of one vessel. missing_share: 0..1 of `missing_of`, None without sherds. wall: what it was laid on, in words."""

    lot: str
    vessel: str
    sherds: tuple[LaidSherd, ...]
    joins: tuple[LaidJoin, ...]
    steps: tuple[StepLine, ...]
    missing_share: float | None
    missing_of: str
    wall: str
    is_upright: bool
    notes: tuple[str, ...]

    def sherd(self, number: str) -> LaidSherd:
        """The sherd of that number; UnknownName where it is not of this vessel."""
        for one in self.sherds:
            if one.sherd == number:
                return one
        raise UnknownName(f"no sherd '{number}' in the layout of vessel {self.vessel}; choose one that lies in it")


def lay_out_vessel(cat: Catalogue, lot: str, vessel: str, *, by: str, progress: Progress | None = None) -> VesselLayout:
    """Lay out a vessel of the sorting table.

    Parameters
    ----------
    vessel : its name on the table.

    Raises
    ------
    UnknownName
        No such lot, or no such vessel on its table.
    InputError
        None of its sherds has a scale.
    """
    numbers = [sherd.number for sherd in lay_out_table(cat, lot).vessel(vessel).sherds]
    sherds = [cat.sherd(number) for number in sorted(numbers)]
    outlines = outlines_mm(cat, sherds)
    scaled = [sherd for sherd in sherds if sherd.number in outlines]
    if not scaled:
        raise InputError(
            f"no sherd of vessel {vessel} has a scale, so none can be laid out; set the scale of its photographs"
        )
    found = find_joins(cat, lot, top=8, by=by, progress=progress)
    places = {sherd.number: k for k, sherd in enumerate(scaled)}
    mine = [join for join in found.joins if join.a in places and join.b in places]
    wall, wall_words, notes = _wall(cat, lot, vessel, set(places))
    pieces = _pieces(cat, lot, scaled, outlines)
    layout = lay_out(pieces, [_layout_join(join, places) for join in mine], wall=wall)
    if layout.wall is not wall:
        wall_words = "flat"
    unscaled = len(sherds) - len(scaled)
    notes = (
        *notes,
        *layout.notes,
        *((f"{unscaled} of its sherds have no scale and are left out",) if unscaled else ()),
    )
    return _whole(cat, lot, vessel, scaled, layout, mine, outlines, wall_words, notes)


def vessel_by_name(cat: Catalogue, lot: str, typed: str) -> str:
    """A vessel as the sorting table calls it: its number there, counted from 1, or the name that a person gave it.

    Raises
    ------
    UnknownName
        No such lot or vessel.
    """
    known = [one.name for one in lay_out_table(cat, lot).vessels]
    if typed in known:
        return typed
    told = f"it has {', '.join(known)}, as sort and the sorting table show them" if known else "sort the lot first"
    raise UnknownName(f"no vessel '{typed}' in lot '{lot}'; {told}")


def vessel_by_number(cat: Catalogue, lot: str, typed: str) -> str:
    """Name on the table of a vessel as JSON numbers it, from 0; what is no such number is taken for a name.

    Raises
    ------
    UnknownName
        No such lot or vessel.
    """
    proposed = latest_sorting(cat, lot)
    if proposed is not None and typed.isascii() and typed.isdigit() and int(typed) < proposed.vessels:
        name = vessel_names(proposed, cat.attributions(lot), cat.links(lot), cat.locks(lot))[int(typed)]
        if any(one.name == name for one in lay_out_table(cat, lot).vessels):
            return name
    return vessel_by_name(cat, lot, typed)


def place_by_hand(cat: Catalogue, number: str, x_mm: float, y_mm: float, turn_deg: float, *, by: str) -> PlacementRow:
    """Lay a sherd where a person wants it, and lock it there: joins of others follow. UnknownName, InputError as the catalogue's."""
    with cat.transaction(by=by):
        return cat.place_sherd(number, x_mm, y_mm, turn_deg)


def leave_to_joins(cat: Catalogue, number: str, *, by: str) -> None:
    """Unlock a sherd. UnknownName for the sherd, or where nobody laid it."""
    with cat.transaction(by=by):
        cat.withdraw_placement(number)


def _layout_join(join: ProposedJoin, places: Mapping[str, int]) -> LayoutJoin:
    return LayoutJoin(
        places[join.a],
        places[join.b],
        join.fit,
        join.length_mm,
        np.array(join.transform),
        join.stretch_a_mm,
        join.word == "accepted",
    )


def _pieces(
    cat: Catalogue, lot: str, sherds: Sequence[SherdRow], outlines: Mapping[str, NDArray[np.float64]]
) -> list[LayoutPiece]:
    rims = cat.rims(lot)
    tags = cat.tags_of([sherd.number for sherd in sherds])
    by_hand = cat.placements(lot)
    out = []
    for sherd in sherds:
        is_rim = sherd.number in rims or any(tag.kind == "position" and tag.term == "rim" for tag in tags[sherd.number])
        place = by_hand.get(sherd.number)
        locked = (place.x_mm, place.y_mm, place.turn_deg) if place is not None and place.is_locked else None
        out.append(LayoutPiece(np.asarray(outlines[sherd.number], np.float64), sherd.rim_up_deg, is_rim, locked))
    return out


def _wall(cat: Catalogue, lot: str, vessel: str, members: set[str]) -> tuple[Wall | None, str, tuple[str, ...]]:
    """What the vessel's wall is taken for, in numbers and in words."""
    form = cat.vessel_form(lot, vessel)
    if form is not None:
        return wall_of_profile(form.profile_mm), "unrolled by the recorded profile", ()
    read = [rim.reading for number, rim in cat.rims(lot).items() if number in members]
    diameters = [one.diameter_mm for one in read if one.diameter_mm is not None]
    if not diameters:
        return None, "flat", (FLAT_NOTE,)
    diameter = float(np.median(diameters))
    note = f"unrolled as a cylinder of the rim's diameter, {diameter:.0f} mm; record a profile where the wall widens or narrows"
    return wall_of_profile([(0.0, diameter / 2), (CYLINDER_MM, diameter / 2)]), "unrolled as a cylinder", (note,)


def _whole(
    cat: Catalogue,
    lot: str,
    vessel: str,
    sherds: Sequence[SherdRow],
    layout: Layout,
    joins: Sequence[ProposedJoin],
    outlines: Mapping[str, NDArray[np.float64]],
    wall_words: str,
    notes: tuple[str, ...],
) -> VesselLayout:
    names = [sherd.number for sherd in sherds]
    tags = cat.tags_of(names)
    parts = [next((t.term for t in tags[n] if t.kind == "position" and t.term in POSITIONS), None) for n in names]
    locked = cat.placements(lot)
    is_locked = [name in locked and locked[name].is_locked for name in names]
    about = [outlines[name] - middle_mm(np.asarray(outlines[name], np.float64)) for name in names]
    poses = layout.poses.copy()
    laid = [_laid(about[k], poses[k], layout.wall if layout.group[k] == 0 else None) for k in range(len(names))]
    put = lay_beside(laid, layout.group, parts, is_locked, is_upright=layout.is_upright)
    main = [k for k in range(len(names)) if put.by[k] == JOINS]
    placed = tuple(
        LaidSherd(
            names[k],
            round(float(poses[k, 0] + put.shift_mm[k, 0]), 2),
            round(float(poses[k, 1] + put.shift_mm[k, 1]), 2),
            round(float(poses[k, 2]), 2),
            put.by[k],
            int(layout.group[k]),
            None if np.isnan(layout.residual_mm[k]) else round(float(layout.residual_mm[k]), 3),
            laid[k] + put.shift_mm[k],
            is_locked[k],
        )
        for k in range(len(names))
    )
    share, of = _missing(layout, [placed[k].outline_mm for k in main], [outlines[name] for name in names])
    words = {(join.a, join.b): join.word for join in joins}
    told = tuple(_told(used, names, words) for used in layout.joins)
    starts = [k for k in range(len(names)) if parts[k] in {"rim", "base"}]
    steps = _steps(placed, starts, parts)
    return VesselLayout(lot, vessel, placed, told, steps, share, of, wall_words, layout.is_upright, notes)


def _laid(outline: NDArray[np.float64], pose: NDArray[np.float64], wall: Wall | None) -> NDArray[np.float64]:
    """An outline where it lies; pose's turn in degrees."""
    turned = np.array([pose[0], pose[1], np.radians(pose[2])])
    if wall is None:
        c, s = np.cos(turned[2]), np.sin(turned[2])
        return np.asarray(outline @ np.array([[c, s], [-s, c]]) + turned[:2])
    return wall.develop(np.asarray(outline, np.float64), np.repeat(turned[None], len(outline), axis=0))


def _told(used: UsedJoin, names: Sequence[str], words: Mapping[tuple[str, str], str | None]) -> LaidJoin:
    a, b = names[used.join.a], names[used.join.b]
    return LaidJoin(
        a, b, used.join.fit, used.join.length_mm, words.get((a, b)), round(used.residual_mm, 2), used.refused
    )


def _missing(
    layout: Layout, joined: Sequence[NDArray[np.float64]], everything: Sequence[NDArray[np.float64]]
) -> tuple[float | None, str]:
    """Share of the vessel that is missing, and of what it is a share."""
    if isinstance(layout.wall, RoundWall) and layout.wall.height_mm < CYLINDER_MM:
        whole = layout.wall.area_mm2
        there = sum(field_and_cover_mm2([outline])[1] for outline in everything)
        return round(max(0.0, 1.0 - there / whole), 3), "the wall of the recorded profile, without its base"
    span, cover = field_and_cover_mm2(joined)
    if not span:
        return None, "nothing is joined"
    return round(
        max(0.0, 1.0 - cover / span), 3
    ), "the field that the joined sherds span; what lies beyond is not counted"


def _steps(placed: Sequence[LaidSherd], starts: Sequence[int], parts: Sequence[str | None]) -> tuple[StepLine, ...]:
    """Order of assembly of every group of joined sherds, the largest first."""
    lines: list[StepLine] = []
    blocks = 0
    for number in sorted({one.group for one in placed}):
        members = [k for k, one in enumerate(placed) if one.group == number]
        if len(members) < 2:
            continue
        blocking = blocking_of([placed[k].outline_mm for k in members])
        inside = {k: place for place, k in enumerate(members)}
        plan: AssemblyPlan = plan_assembly(blocking, starts=[inside[k] for k in starts if k in inside])
        group = [placed[k] for k in members]
        lines += step_lines(
            plan,
            blocking,
            [one.sherd for one in group],
            [one.residual_mm for one in group],
            first=len(lines) + 1,
            first_block=blocks,
        )
        blocks += plan.blocks
    return tuple(lines)
