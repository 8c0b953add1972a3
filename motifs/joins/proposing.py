"""From edges to proposed joins: the whole method on one screen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.joins.alignment import lay_together
from motifs.joins.contact import measure_contacts
from motifs.joins.crossing import edge_colours, measure_crossings
from motifs.joins.features import feature_table
from motifs.joins.fits import load_model, probability
from motifs.joins.judging import judge
from motifs.joins.matching import WINDOWS, find_seeds
from motifs.joins.mirrors import mirrored
from motifs.joins.overlap import overlaps_mm2
from motifs.joins.paths import edge_path
from motifs.joins.pieces import Crossing, Join

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.joins.alignment import Contacts
    from motifs.joins.contact import ContactMeasures
    from motifs.joins.crossing import CrossingMeasures, EdgeColours
    from motifs.joins.fits import JoinModel
    from motifs.joins.paths import EdgePath
    from motifs.joins.pieces import SherdEdge

DEFAULT_TOP: Final = 5
IMAGES: Final = 60
"""At most so many sherds, the last ones, are mirrored as decoys."""


@dataclass(frozen=True, slots=True)
class Effort:
    """seeds: meetings of each sherd that are looked at; followed: along the whole contact; stride: step of the windows' starts."""

    seeds: int
    followed: int
    stride: int


THOROUGH: Final = Effort(120, 60, 2)
QUICK: Final = Effort(60, 30, 3)
MANY_SHERDS: Final = 120
"""From so many sherds on the quick effort is made."""


@dataclass(frozen=True, slots=True)
class Meetings:
    """Every meeting of edges that was looked into, with its measures; rows belong together.

    decoys, decoy_table: meetings of the sherds with mirror images, n + j the image of sherd j.
    """

    paths: tuple[EdgePath, ...]
    contacts: Contacts
    contact: ContactMeasures
    crossing: CrossingMeasures
    table: NDArray[np.float64]
    decoys: Contacts
    decoy_table: NDArray[np.float64]


def propose_joins(
    pieces: Sequence[SherdEdge], *, top: int | None = DEFAULT_TOP, model: JoinModel | None = None
) -> list[Join]:
    """Propose which sherds fit to which, all pairs compared.

    Parameters
    ----------
    pieces : the sherds of a lot or of a vessel; those without a true scale take no part.
    top : how many proposals to keep of each sherd (a join is kept when it is among the best of either side); None keeps all.
    model : of the fit; the shipped one when None.

    Returns
    -------
    list of Join
        Best fit first; at most one join a pair; empty for fewer than two sherds.

    Raises
    ------
    ValueError
        An outline is no polygon.
    ModelError
        The shipped model is missing or damaged.
    """
    model = model or load_model()
    used = [place for place, piece in enumerate(pieces) if piece.is_scaled]
    if len(used) < 2:
        return []
    meetings = meet([pieces[place] for place in used])
    if not len(meetings.contacts):
        return []
    judged = judge(meetings, model.fit)
    edges = judge(meetings, model.edges, judged.rows)
    fits = probability(judged.odds)
    kept = _best_of_sherds(meetings.contacts.taken(judged.rows), fits, top)
    joins = [_join(meetings, int(judged.rows[k]), float(fits[k]), float(edges.llr[k])) for k in kept]
    return [replace(join, a=used[join.a], b=used[join.b]) for join in joins]


def meet(pieces: Sequence[SherdEdge]) -> Meetings:
    """Find, lay together and measure the likely meetings of all pairs, and of sherds beside mirror images."""
    paths = tuple(edge_path(piece.outline_mm) for piece in pieces)
    contacts, contact, crossing, table = _measured(paths, edge_colours(pieces, paths))
    turned = [mirrored(piece) for piece in pieces]
    images = tuple(edge_path(piece.outline_mm) for piece in turned)
    colours = edge_colours([*pieces, *turned], [*paths, *images])
    decoys, _, _, decoy_table = _measured(paths, colours, images)
    return Meetings(paths, contacts, contact, crossing, table, decoys, decoy_table)


def _measured(
    paths: tuple[EdgePath, ...], colours: EdgeColours, images: tuple[EdgePath, ...] | None = None
) -> tuple[Contacts, ContactMeasures, CrossingMeasures, NDArray[np.float64]]:
    effort = THOROUGH if len(paths) < MANY_SHERDS else QUICK
    windows = [replace(size, stride=effort.stride) for size in WINDOWS]
    first = 0 if images is None else max(len(paths) - IMAGES, 0)
    seeds = find_seeds(paths, per_sherd=effort.seeds, windows=windows, mates=images, first_mate=first)
    contacts, seeds = lay_together(paths, seeds, per_sherd=effort.followed, mates=images)
    every = paths if images is None else paths + images
    contact = measure_contacts(every, contacts)
    crossing = measure_crossings(colours, every, contacts)
    return contacts, contact, crossing, feature_table(contact, crossing, overlaps_mm2(every, contacts), seeds.llr)


def _best_of_sherds(contacts: Contacts, fits: NDArray[np.float64], top: int | None) -> list[int]:
    """Places of what is kept, best first; ties in the order of the sherds."""
    kept, taken = [], dict[int, int]()
    for place in np.lexsort((contacts.b, contacts.a, -fits)).tolist():
        ends = (int(contacts.a[place]), int(contacts.b[place]))
        if top is None or min(taken.get(end, 0) for end in ends) < top:
            kept.append(place)
        for end in ends:
            taken[end] = taken.get(end, 0) + 1
    return kept


def _join(meetings: Meetings, row: int, fit: float, edge_llr: float) -> Join:
    contacts, contact, crossing = meetings.contacts, meetings.contact, meetings.crossing
    a, b = int(contacts.a[row]), int(contacts.b[row])
    ground = float(crossing.ground_de[row])
    crossed = Crossing(
        None if np.isnan(ground) else ground,
        float(crossing.colour_llr[row]),
        int(crossing.strokes[row]),
        int(crossing.strokes_met[row]),
    )
    join = Join(
        a,
        b,
        fit,
        float(contact.length_mm[row]),
        _transform(complex(contacts.rotation[row]), complex(contacts.shift[row])),
        float(contact.stray_mm[row]),
        float(contact.gap_mm[row]),
        _stretch(meetings.paths[a], contacts.at_a[row][contacts.touching[row]]),
        _stretch(meetings.paths[b], contacts.at_b[row][contacts.touching[row]][::-1]),
        edge_llr,
        crossed,
    )
    return replace(join, why=_words(join))


def _transform(rotation: complex, shift: complex) -> NDArray[np.float64]:
    return np.array(
        [[rotation.real, -rotation.imag, shift.real], [rotation.imag, rotation.real, shift.imag], [0.0, 0.0, 1.0]]
    )


def _stretch(path: EdgePath, at: NDArray[np.intp]) -> tuple[float, float]:
    """Start and end (mm) along the outline as it was given, of indices that run along the path."""
    if not len(at):
        return (0.0, 0.0)
    start = float(at[0]) * path.step_mm
    length = float((at[-1] - at[0]) % len(path.points)) * path.step_mm
    if path.is_reversed:
        start = (path.perimeter_mm - start - length) % path.perimeter_mm
    return (start, start + length)


def _words(join: Join) -> tuple[str, ...]:
    crossing = join.crossing
    out = [f"edges run together for {join.length_mm:.0f} mm, within {max(join.residual_mm, 0.01):.2f} mm"]
    if crossing.strokes:
        out.append(f"{crossing.strokes_met} of {crossing.strokes} painted strokes at the break meet paint across it")
    if crossing.ground_de is not None:
        out.append(f"bare ground {crossing.ground_de:.1f} apart (CIE76) along the break")
    return tuple(out)
