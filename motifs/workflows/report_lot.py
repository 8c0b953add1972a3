"""The sections of a report that tell of one lot."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from reportlab.lib.units import mm

from motifs.errors import InputError
from motifs.sites import share_interval
from motifs.workflows import drawings as d
from motifs.workflows.comparanda import find_comparanda
from motifs.workflows.counts import lot_counts
from motifs.workflows.joins import KIND as JOINS
from motifs.workflows.plates import plates
from motifs.workflows.report_parts import Grid, Listing, Section, Shown, Words, grid
from motifs.workflows.table import lay_out_table

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import Catalogue, ComparandumRow, PhotoRow, ProposalRow
    from motifs.workflows import Progress
    from motifs.workflows.plates import Piece
    from motifs.workflows.report_parts import Block
    from motifs.workflows.table import LotTable, TableSherd

MOST_COMPARED = 12
"""Vessels whose largest sherd is looked up among other sites."""
NEAREST = 3
MOST_JOINS = 25
LEAST_FIT = 0.5


def came_in(cat: Catalogue, lot: str) -> Section:
    """Photographs and sherds, with what a reader should know of each photograph."""
    photos, sherds = cat.photos(lot), cat.sherds(lot)
    rows: list[tuple[object, ...]] = [
        (
            photo.file_name,
            photo.sha256[:12],
            f"{photo.width_px} x {photo.height_px}",
            _scale_words(photo),
            len(cat.sherds(photo_id=photo.photo_id)),
            photo.crumbs,
            "; ".join(photo.warnings),
        )
        for photo in photos
    ]
    head = ("photograph", "sha256 begins", "px", "scale", "sherds", "crumbs", "remarks")
    sizes = [sherd.max_dimension_mm for sherd in sherds if sherd.max_dimension_mm is not None]
    blocks: list[Block] = [
        Words(f"Lot {lot}: {len(sherds)} sherds on {len(photos)} photographs."),
        grid(head, rows, "Photographs of the lot", (0.2, 0.14, 0.12, 0.18, 0.08, 0.08, 0.2)),
    ]
    if sizes:
        blocks.append(Shown(size_chart(sizes)))
    return Section("What came in", tuple(blocks))


def vessels(
    cat: Catalogue, lot: str, table: LotTable, pieces: Mapping[str, Piece], *, reduction: float
) -> list[Section]:
    """Counts with their methods, the vessels with their support, and their plates."""
    counts = lot_counts(cat, lot)
    lines: list[tuple[object, ...]] = [
        (line.what, _range(line.low, line.high), line.method, "; ".join(line.notes))
        for line in (*counts.vessels, *counts.measures)
    ]
    told = (
        "not sorted yet"
        if table.vessels_range is None
        else f"the evidence does not rule out {_between(table.vessels_range)}"
    )
    blocks: list[Block] = [
        Words(
            f"{len(table.vessels)} vessels on the table; {told}. {len(table.unassigned)} sherds are unassigned, which is an answer too."
        ),
        grid(
            ("what", "number", "method", "notes"),
            lines,
            "Counts; no number stands without its method",
            (0.22, 0.12, 0.36, 0.3),
        ),
    ]
    if not table.is_current and table.is_sorted:
        blocks.append(
            Words("The lot changed since it was last sorted; sort it again before this is relied on.", is_caution=True)
        )
    if table.vessels:
        rows: list[tuple[object, ...]] = [
            (
                v.name,
                len(v.sherds),
                sum(s.judged_by is not None for s in v.sherds),
                _support(v.sherds),
                _strongest(v.sherds),
            )
            for v in table.vessels
        ]
        head = ("vessel", "sherds", "judged", "support, lowest to highest", "what decided most often")
        blocks.append(grid(head, rows, "Vessels; judged: placed by a person's word", (0.1, 0.1, 0.1, 0.24, 0.46)))
    sections = [Section("Vessels", tuple(blocks))]
    for name, members in [*((f"Vessel {v.name}", v.sherds) for v in table.vessels), ("Unassigned", table.unassigned)]:
        laid = [pieces[one.number] for one in members if one.number in pieces]
        captions = {one.number: _caption(one) for one in members}
        shown = plates(laid, f"Lot {lot}, {name}", reduction=reduction, captions=captions)
        if shown:
            sections.append(Section(name, tuple(map(Shown, shown)), 2))
    return sections


def motifs(cat: Catalogue, lot: str, table: LotTable) -> Section:
    """Terms by kind at sherd and vessel level, with Wilson intervals of their share of sherds."""
    numbers = [one.number for one in table.sherds]
    tags = cat.tags_of(numbers)
    vessel_of = {one.number: vessel.name for vessel in table.vessels for one in vessel.sherds}
    on: dict[tuple[str, str], set[str]] = {}
    for number in numbers:
        for tag in tags.get(number, ()):
            on.setdefault((tag.kind, tag.term), set()).add(number)
    if not on:
        return Section("Motifs", (Words("No sherd of this lot is tagged yet."),))
    rows: list[tuple[object, ...]] = []
    bars = []
    for (kind, term), found in sorted(on.items(), key=lambda one: (one[0][0], -len(one[1]), one[0][1])):
        share = share_interval(len(found), len(numbers))
        ranged = f"{share.share:.0%} ({share.low:.0%} to {share.high:.0%})"
        rows.append((kind, term, len(found), ranged, len({vessel_of[n] for n in found if n in vessel_of})))
        if kind == "motif":
            bars.append((term, share.share, share.low, share.high))
    head = ("kind", "term", "sherds", "share of all sherds (95 %, Wilson)", "vessels (as sorted)")
    blocks: list[Block] = [grid(head, rows, f"Tags of {len(numbers)} sherds", (0.14, 0.34, 0.12, 0.26, 0.14))]
    if bars:
        blocks.insert(0, Shown(share_chart(bars, f"Share of the {len(numbers)} sherds that carry each motif")))
    blocks.append(Words("Sherds of one pot are not independent: intervals by sherds are too narrow."))
    return Section("Motifs", tuple(blocks))


def comparanda(
    cat: Catalogue, table: LotTable, *, by: str, progress: Progress | None = None
) -> tuple[Section, tuple[str, ...]]:
    """What people kept, and the nearest at other sites of each vessel's largest sherd; also the sherds to be shown."""
    kept = [entry for one in table.sherds for entry in cat.comparanda_kept_for(one.number)]
    blocks: list[Block] = (
        [_kept_grid(kept)] if kept else [Words("Nobody kept a comparandum for a sherd of this lot yet.")]
    )
    rows: list[tuple[object, ...]] = []
    notes: list[str] = []
    shown: list[str] = [entry.sherd for entry in kept if entry.sherd is not None]
    for vessel in table.vessels[:MOST_COMPARED]:
        asked = max(
            (cat.sherd(one.number) for one in vessel.sherds), key=lambda sherd: (sherd.area_mm2 or 0.0, sherd.number)
        )
        if asked.site is None:
            notes.append(f"vessel {vessel.name}: the site of its lot is not recorded")
            continue
        try:
            near = find_comparanda(
                cat, asked.number, top=NEAREST, other_sites=True, checked=0, by=by, progress=progress
            )
        except InputError as reason:
            notes.append(f"vessel {vessel.name}: {reason}")
            continue
        notes += near.notes
        rows += [
            (vessel.name, asked.number, one.rank, one.sherd, one.site, one.similarity, one.probability)
            for one in near.neighbours
        ]
        shown += [asked.number, *(one.sherd for one in near.neighbours)]
        if near.is_comparable is False:
            notes.append(f"vessel {vessel.name}: nothing comparable was found; its nearest are listed all the same")
    if rows:
        head = ("vessel", "sherd", "rank", "comparandum", "site", "similarity (-1..1)", "probability of one motif")
        blocks.append(
            grid(
                head,
                rows,
                "Nearest at other sites, of the largest sherd of each vessel",
                (0.1, 0.18, 0.08, 0.18, 0.2, 0.12, 0.14),
            )
        )
    if notes:
        blocks.append(Listing(tuple(dict.fromkeys(notes))))
    return Section("Comparanda", tuple(blocks)), tuple(dict.fromkeys(shown))


def joins(cat: Catalogue, lot: str) -> Section:
    """What people said of joins, and what is proposed; nothing is looked for here that was not looked for before."""
    words = cat.join_words(lot)
    kept = cat.latest_proposal(lot, JOINS)
    blocks: list[Block] = []
    if words:
        said: list[tuple[object, ...]] = [(word.a, word.b, word.answer, word.by, word.note) for word in words]
        blocks.append(grid(("sherd", "sherd", "word", "by", "note"), said, "Joins as people judged them"))
    proposed = _proposed_joins(kept, {frozenset((word.a, word.b)) for word in words})
    if proposed:
        rows: list[tuple[object, ...]] = [
            (one["a"], one["b"], one["fit"], one["length_mm"], "; ".join(one["why"])) for one in proposed
        ]
        head = ("sherd", "sherd", "fit (0..1)", "contact, mm", "why")
        blocks.append(
            grid(
                head,
                rows,
                "Proposed joins: lay them together dry before anything is glued",
                (0.16, 0.16, 0.1, 0.12, 0.46),
            )
        )
    if not blocks:
        blocks.append(Words("No join was looked for, or none was found; a missing join says nothing of a vessel."))
    return Section("Joins and layout", tuple(blocks))


def _proposed_joins(kept: ProposalRow | None, judged: set[frozenset[str]]) -> list[dict[str, Any]]:
    """The kept proposals that fit well enough and that nobody judged, best first."""
    result: Any = None if kept is None else kept.result
    open_ = [one for one in result or () if one["fit"] >= LEAST_FIT and frozenset((one["a"], one["b"])) not in judged]
    return sorted(open_, key=lambda one: (-one["fit"], one["a"], one["b"]))[:MOST_JOINS]


def size_chart(sizes_mm: Sequence[float]) -> d.Figure:
    """How many sherds there are of each size, in classes of 10 mm."""
    counts = Counter(int(size // 10) for size in sizes_mm)
    classes = range(min(counts), max(counts) + 1)
    rows = [(f"{10 * k} to {10 * (k + 1)} mm", counts[k]) for k in classes]
    step, left = 5.2 * mm, 34 * mm
    drawing = d.new_drawing(d.GRAPH_WIDTH, step * len(rows) + 4)
    unit = (d.GRAPH_WIDTH - left - 14 * mm) / max(counts.values())
    for i, (name, count) in enumerate(rows):
        y = step * (len(rows) - 1 - i) + 2
        d.label(drawing, left - 5, y + 3, name, anchor="end")
        d.box(drawing, left, y, unit * count, step - 3, fill=d.PALETTE[0])
        d.label(drawing, left + unit * count + 4, y + 3, count)
    said = "; ".join(f"{name}: {count}" for name, count in rows)
    return d.Figure(drawing, "Sherds by largest dimension.", f"Bars: {said}.")


def share_chart(bars: Sequence[tuple[str, float, float, float]], caption: str) -> d.Figure:
    """Shares as bars with their intervals."""
    step, left = 6 * mm, 52 * mm
    drawing = d.new_drawing(d.GRAPH_WIDTH, step * len(bars) + 4)
    unit = (d.GRAPH_WIDTH - left - 16 * mm) / max(high for *_, high in bars)
    for i, (name, share, low, high) in enumerate(bars):
        y = step * (len(bars) - 1 - i) + 2
        d.label(drawing, left - 5, y + 4, d.fitted(name, left - 10), anchor="end")
        d.box(drawing, left, y + 1, unit * share, step - 5, fill=d.PALETTE[5])
        middle = y + 1 + (step - 5) / 2
        d.stroke(drawing, [(left + unit * low, middle), (left + unit * high, middle)], width=1.1)
        for end in (low, high):
            d.stroke(drawing, [(left + unit * end, middle - 3), (left + unit * end, middle + 3)], width=1.1)
        d.label(drawing, left + unit * high + 4, y + 4, f"{share:.0%}")
    said = "; ".join(f"{name} {share:.0%} ({low:.0%} to {high:.0%})" for name, share, low, high in bars)
    return d.Figure(drawing, f"{caption}; lines are 95 % Wilson intervals.", f"Bars: {said}.")


def table_of(cat: Catalogue, lot: str) -> LotTable:
    """The sorting table of a lot as it lies."""
    return lay_out_table(cat, lot)


def _kept_grid(kept: Sequence[ComparandumRow]) -> Grid:
    rows: list[tuple[object, ...]] = [
        (
            one.query,
            one.sherd or one.citation.piece,
            one.site or one.citation.holder,
            one.reason,
            _cited(one),
            f"{one.by}, {one.at[:10]}",
        )
        for one in kept
    ]
    head = ("sherd", "comparandum", "site or holder", "reason", "published", "judged by")
    return grid(head, rows, "Comparanda that people kept", (0.15, 0.15, 0.15, 0.25, 0.17, 0.13))


def _cited(entry: ComparandumRow) -> str:
    cited = entry.citation
    parts = [cited.author, cited.year, cited.title, cited.pages, cited.figure, cited.inventory_number]
    return ", ".join(part for part in parts if part)


def _scale_words(photo: PhotoRow) -> str:
    if photo.scale is None:
        return "none: sizes unknown"
    return f"{1 / photo.scale.px_per_mm:.4f} mm/px ± {photo.scale.relative_sd:.1%} ({photo.scale.source})"


def _range(low: float | None, high: float | None) -> str | None:
    if low is None or high is None:
        return None
    return f"{low:.3g}" if low == high else f"{low:.3g} to {high:.3g}"


def _between(ranged: tuple[int, int]) -> str:
    return str(ranged[0]) if ranged[0] == ranged[1] else f"{ranged[0]} to {ranged[1]}"


def _support(members: Sequence[TableSherd]) -> str | None:
    values = sorted(one.support for one in members if one.support is not None)
    return f"{values[0]:.2f} to {values[-1]:.2f}" if values else None


def _strongest(members: Sequence[TableSherd]) -> str:
    first = Counter(one.votes[0].cue for one in members if one.votes)
    return ", ".join(f"{cue} ({count})" for cue, count in sorted(first.items(), key=lambda one: (-one[1], one[0]))[:3])


def _caption(one: TableSherd) -> str:
    if one.judged_by is not None:
        return "judged"
    return "" if one.support is None else f"{one.support:.2f}"
