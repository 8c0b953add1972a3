"""How many vessels a lot stands for: every number with the method that gave it, and what it rests on.

Rims, bases and handles come from recorded rims and from tags of position; joins are those that a person accepted; vessels are those
of the sorting table. Nothing is counted that nobody recorded, and a method that finds nothing to count says so.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import networkx as nx
import pandas as pd

from motifs.design.starter import INDETERMINATE
from motifs.design.vocabulary import narrower_of
from motifs.errors import InputError
from motifs.sites.counts import (
    brokenness,
    completeness,
    maximum_vessels,
    mnv_by_kind,
    mnv_by_parts,
    mnv_by_rim_eve,
    rim_eve,
    vessels_represented,
)
from motifs.workflows.rims import RIM
from motifs.workflows.table import lay_out_table
from motifs.workflows.vocabulary import terms_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from motifs.catalogue import Catalogue, RimRow, TagRow
    from motifs.sites.counts import VesselCount, VesselsRepresented
    from motifs.workflows.table import LotTable

BASE, HANDLE = "base", "handle"
"""Terms of position that are counted beside rims, each with everything narrower."""

KINDS = ("treatment", "technique", "motif")
"""Kinds of tags that tell kinds of vessel apart where there is no rim."""

TYPE_KINDS = ("treatment", "technique")
"""Kinds of tags that make the type of a rim."""

DIAMETER_CLASS_MM = 20.0
"""Rims are grouped by diameters of this class; charts with classes of 1 or 2 cm are common practice."""


@dataclass(frozen=True, slots=True)
class CountLine:
    """One number with its method. low, high: equal where it is one number; None where the method has nothing to count."""

    what: str
    low: float | None
    high: float | None
    method: str
    notes: tuple[str, ...] = ()

    @property
    def words(self) -> str | None:
        """The number as text, "2 to 4" for a range, with two digits at most behind the point; None where there is none."""
        if self.low is None or self.high is None:
            return None
        low, high = (f"{value:.2f}".rstrip("0").rstrip(".") for value in (self.low, self.high))
        return low if low == high else f"{low} to {high}"


@dataclass(frozen=True, slots=True)
class LotCounts:
    """The counts of a lot. vessels: numbers of vessels, by method. measures: EVE, vessels represented, completeness, brokenness."""

    lot: str
    sherds: int
    rims: int
    vessels: tuple[CountLine, ...]
    measures: tuple[CountLine, ...]


@dataclass(frozen=True, slots=True)
class RimAfterJoins:
    """One rim, its joining pieces taken together. percent, diameter_mm: None, not known."""

    type: str
    percent: float | None
    diameter_mm: float | None


def lot_counts(cat: Catalogue, lot: str) -> LotCounts:
    """Count a lot by every method it has records for; UnknownName for the lot."""
    table = lay_out_table(cat, lot)
    numbers = [sherd.number for sherd in table.sherds]
    tags = cat.tags_of(numbers)
    rims = cat.rims(lot)
    pieces = _joined(numbers, [(w.a, w.b) for w in cat.join_words(lot) if w.answer == "accepted"])
    types = {number: type_words(tags.get(number, ())) for number in numbers}
    after = rims_after_joins(rims, pieces, types)
    parts = _parts(cat, numbers, tags, rims, pieces, types)
    return LotCounts(
        lot,
        len(numbers),
        len(rims),
        (
            *_table_lines(table),
            *_rim_lines(after, [pieces[number] for number in rims]),
            _line("vessels", mnv_by_parts(parts)) if len(parts) else _nothing("vessels", "rims, bases and handles"),
            _kind_line(numbers, tags),
        ),
        measure_lines(len(numbers), [rim.percent for rim in after], _represented(table)),
    )


def measure_lines(
    sherds: int, percents: Sequence[float | None], represented: VesselsRepresented
) -> tuple[CountLine, ...]:
    """EVE, vessels represented, completeness and brokenness, as a range where the vessels represented are one.

    Parameters
    ----------
    percents : of every rim, joining pieces together, 0..100; None where the share is not known.
    """
    known = [percent for percent in percents if percent is not None]
    eve = rim_eve(known) if known else None
    families = CountLine("vessels represented", represented.low, represented.high, represented.method)
    if eve is None:
        why = ("no rim with a share is recorded",)
        return (
            CountLine("EVE", None, None, "sum of rim shares over 100", why),
            families,
            CountLine("completeness", None, None, "EVE over vessels represented", why),
            CountLine("brokenness", None, None, "sherds over EVE", why),
        )
    note = ("a measure to compare assemblages by, not a number of vessels",)
    broken = brokenness(sherds, eve)
    return (
        CountLine("EVE", eve, eve, "sum of rim shares over 100", note),
        families,
        _completeness(eve, represented),
        CountLine("brokenness", broken, broken, "sherds over EVE"),
    )


def type_words(tags: Iterable[TagRow], kinds: Sequence[str] = TYPE_KINDS) -> str:
    """The type that people tagged, such as "slipped, painted"; "indeterminate" where nobody did."""
    told = sorted(
        {(kinds.index(tag.kind), tag.term) for tag in tags if tag.kind in kinds and tag.term != INDETERMINATE}
    )
    return ", ".join(term for _, term in told) or INDETERMINATE


def rims_after_joins(
    rims: Mapping[str, RimRow], pieces: Mapping[str, int], types: Mapping[str, str]
) -> list[RimAfterJoins]:
    """One entry a rim: the shares of joining pieces added up (at most 100 %), the diameter of the piece that shows most of it."""
    groups: dict[int, list[str]] = {}
    for number in rims:
        groups.setdefault(pieces[number], []).append(number)
    found = []
    for members in groups.values():
        readings = [rims[number].reading for number in members]
        shares = [reading.percent for reading in readings if reading.percent is not None]
        sized = [reading for reading in readings if reading.diameter_mm is not None]
        widest = max(sized, key=lambda reading: reading.percent or 0.0, default=None)
        told = [types[number] for number in members if types[number] != INDETERMINATE]
        found.append(
            RimAfterJoins(
                told[0] if told else INDETERMINATE,
                min(100.0, sum(shares)) if shares else None,
                None if widest is None else diameter_class_mm(widest.diameter_mm),
            )
        )
    return found


def diameter_class_mm(diameter_mm: float | None) -> float | None:
    """Middle of the diameter's class, mm; None stays None."""
    return None if diameter_mm is None else DIAMETER_CLASS_MM * round(diameter_mm / DIAMETER_CLASS_MM)


def rim_frame(rims: Sequence[RimAfterJoins]) -> pd.DataFrame:
    """Rims as the columns type, percent, diameter_mm; what is not known is NaN."""
    rows = [(rim.type, rim.percent, rim.diameter_mm) for rim in rims]
    frame = pd.DataFrame(rows, columns=["type", "percent", "diameter_mm"])
    return frame.astype({"percent": "float64", "diameter_mm": "float64"})


def _rim_lines(after: Sequence[RimAfterJoins], groups: Sequence[int]) -> tuple[CountLine, ...]:
    if not after:
        return (_nothing("vessels", "rim EVE rounded up"), _nothing("vessels, at most", "one for each rim"))
    frame, tally = rim_frame(after), Counter(groups)
    by_diameter = mnv_by_rim_eve(frame)
    most = maximum_vessels([str(group) if tally[group] > 1 else None for group in groups])
    classes = f"{by_diameter.method} (classes of {DIAMETER_CLASS_MM / 10:g} cm)"
    return (
        CountLine("vessels", by_diameter.number, by_diameter.number, classes, by_diameter.warnings),
        _line("vessels", mnv_by_rim_eve(frame, with_diameter=False)),
        _line("vessels, at most", most),
    )


def _table_lines(table: LotTable) -> tuple[CountLine, ...]:
    """Sherd families: those a person accepted, and those the evidence proposes with its range."""
    accepted = sum(vessel.is_accepted for vessel in table.vessels)
    first = CountLine("vessels", accepted, accepted, "sherd families, every sherd on a person's word")
    if table.vessels_range is None:
        return first, CountLine("vessels", None, None, "sherd families by the evidence", ("the lot is not sorted yet",))
    low, high = table.vessels_range
    loose = len(table.unassigned)
    notes = (f"{len(table.vessels)} lie on the table", *((f"unassigned: {loose}",) if loose else ()))
    return first, CountLine("vessels", low, high, "sherd families by the evidence, with its range", notes)


def _kind_line(numbers: Sequence[str], tags: Mapping[str, Sequence[TagRow]]) -> CountLine:
    kinds = [[_terms(tags.get(number, ()), kind) for kind in KINDS] for number in numbers]
    found = mnv_by_kind(pd.DataFrame(kinds, columns=list(KINDS)), KINDS)
    if found.number == 0:
        return _nothing("vessels", f"different combinations of {', '.join(KINDS)}")
    return _line("vessels", found)


def _terms(tags: Iterable[TagRow], kind: str) -> str:
    return " + ".join(sorted({tag.term for tag in tags if tag.kind == kind and tag.term != INDETERMINATE}))


def _parts(
    cat: Catalogue,
    numbers: Sequence[str],
    tags: Mapping[str, Sequence[TagRow]],
    rims: Mapping[str, RimRow],
    pieces: Mapping[str, int],
    types: Mapping[str, str],
) -> pd.DataFrame:
    """Rims, bases and handles by type, joining pieces counted once; empty where none is recorded."""
    terms = terms_of(cat, "position")
    names = {part: {part, *narrower_of(terms, "position", part)} for part in (RIM, BASE, HANDLE)}
    seen: dict[str, dict[str, set[int]]] = {}
    for number in numbers:
        told = {tag.term for tag in tags.get(number, ()) if tag.kind == "position"}
        for part, wanted in names.items():
            if told & wanted or (part == RIM and number in rims):
                seen.setdefault(types[number], {}).setdefault(part, set()).add(pieces[number])
    rows = [(name, *(len(parts.get(part, ())) for part in (RIM, BASE, HANDLE))) for name, parts in seen.items()]
    return pd.DataFrame(rows, columns=["type", "rims", "bases", "handles"])


def _joined(numbers: Sequence[str], joins: Sequence[tuple[str, str]]) -> dict[str, int]:
    """The piece that each sherd belongs to once accepted joins are made."""
    graph = nx.Graph()
    graph.add_nodes_from(numbers)
    graph.add_edges_from(joins)
    return {number: piece for piece, members in enumerate(nx.connected_components(graph)) for number in members}


def _represented(table: LotTable) -> VesselsRepresented:
    return vessels_represented([sherd.vessel for sherd in table.sherds])


def _completeness(eve: float, represented: VesselsRepresented) -> CountLine:
    method = "EVE over vessels represented"
    try:
        low = completeness(eve, represented.high)
    except InputError as wrong:
        return CountLine("completeness", None, None, method, (str(wrong),))
    if eve > represented.low:
        return CountLine(
            "completeness", low, 1.0, method, (f"EVE {eve:.2f} is more than the {represented.low} known families",)
        )
    return CountLine("completeness", low, completeness(eve, represented.low), method)


def _line(what: str, count: VesselCount) -> CountLine:
    return CountLine(what, count.number, count.number, count.method, count.warnings)


def _nothing(what: str, method: str) -> CountLine:
    return CountLine(what, None, None, method, ("nothing of it is recorded in this lot",))
