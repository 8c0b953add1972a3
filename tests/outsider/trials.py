"""One function a measure: render the scenes, run the program on them, give a row a scene."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np

from tests.outsider.blackbox import (
    CommandFailedError,
    Program,
    answer_questions,
    fresh_collection,
    match_intake,
    ranked_keys,
    sort_lot,
    take_in,
)
from tests.outsider.cloth import cloth_retrieval, make_cloth_lot
from tests.outsider.gatherings import make_sites, make_tray
from tests.outsider.marks import ari_with_unassigned, average_precision, mark_sorting, shares_motif
from tests.outsider.overlays import write_overlay
from tests.outsider.scenes import LotSpec, make_lot

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.outsider.blackbox import Sorted, TakenIn
    from tests.outsider.measure import Order
    from tests.outsider.truth import LotTruth

Row = dict[str, float | str | None]
LONG_CONTACT_MM = 15.0


def _seeds(order: Order) -> range:
    return range(order.seed, order.seed + order.lots)


def _program(order: Order, name: str) -> Program:
    return Program(fresh_collection(order.work, name), is_warm=order.is_warm)


def detect(order: Order) -> list[Row]:
    """Single trays: sherds found, outlines, scale."""
    rows: list[Row] = []
    for style in order.styles:
        for seed in _seeds(order):
            lot, folder = make_tray(style, seed, order.renders_only or order.work)
            if order.renders_only is None:
                rows.append(_detect_one(order, lot, folder))
    return rows


def _detect_one(order: Order, lot: LotTruth, folder: Path) -> Row:
    program, photo = _program(order, lot.lot), lot.photos[0]
    row: Row = {
        "style": lot.style,
        "kind": lot.kind,
        "backdrop": photo.backdrop,
        "bar": f"{photo.bar_mm} mm",
        "seed": lot.seed,
    }
    try:
        taken = take_in(program, lot, folder)
    except CommandFailedError as reason:
        print(f"{lot.lot}: {reason}")
        taken = match_intake({"photos": []}, lot)
    finally:
        program.close()
    if order.overlays and photo.file in taken.readings:
        write_overlay(folder / photo.file, photo, taken.readings[photo.file], order.overlays / f"{lot.lot}.png")
    pairs, scale = taken.matched[photo.file], taken.scale_error[photo.file]
    row |= {
        "sherds": pairs.true,
        "f1": 2 * len(pairs.pairs) / max(pairs.true + pairs.found, 1),
        "missed": pairs.missed,
        "invented": pairs.invented,
        "mean_iou": float(np.mean([iou for _, _, iou in pairs.pairs])) if pairs.pairs else None,
        "has_scale": float(scale is not None),
        "scale_error": None if scale is None else abs(scale),
        "area_error": float(np.mean(np.abs(taken.area_error))) if taken.area_error else None,
        "seconds": program.seconds["intake"][-1],
    }
    if scale is None or abs(scale) > 0.007 or pairs.missed or pairs.invented:
        print(
            f"{lot.lot} ({photo.backdrop}): {pairs.missed} missed, {pairs.invented} invented, scale error {scale}; {'; '.join(taken.warnings)[:160]}"
        )
    return row


def lots_of(order: Order) -> Iterator[tuple[LotTruth, Path]]:
    """Every lot ordered, rendered or from the work folder."""
    for style in order.styles:
        for kind in order.kinds:
            for seed in _seeds(order):
                spec = LotSpec(style, kind, seed, order.pots, order.sherds)
                yield make_lot(spec, order.renders_only or order.work)


def sort(order: Order) -> list[Row]:
    """Lots into vessels."""
    rows: list[Row] = []
    for lot, folder in lots_of(order):
        if order.renders_only is None:
            rows.append(_sort_one(order, lot, folder))
    return rows


def _sort_one(order: Order, lot: LotTruth, folder: Path) -> Row:
    program = _program(order, lot.lot)
    try:
        taken = take_in(program, lot, folder)
        first = sort_lot(program, lot, taken)
        row = _sort_row(lot, taken, first)
        row["failed"] = 0.0
        if order.answers:
            last, given = answer_questions(program, lot, taken, first, order.answers)
            row |= {
                "ari_answered": ari_with_unassigned(last.pots, last.vessels),
                "answers": given,
                "vessels_answered": last.count,
            }
    except CommandFailedError as reason:
        # A lot that could not be sorted is a row of its own, so that it cannot hide in a mean.
        print(f"{lot.lot}: {reason}")
        return {
            "style": lot.style,
            "kind": lot.kind,
            "seed": lot.seed,
            "pots": f"{len(set(lot.pot_of().values()))} pots",
            "failed": 1.0,
        }
    finally:
        program.close()
    row["seconds_sort"] = float(np.mean(program.seconds["sort"]))
    print("  ".join(f"{k} {v:.3f}" if isinstance(v, float) else f"{k} {v}" for k, v in row.items()), flush=True)
    return row


def _sort_row(lot: LotTruth, taken: TakenIn, answer: Sorted) -> Row:
    marks = mark_sorting(answer.pots, answer.vessels, answer.support, answer.count, answer.count_range)
    true = sum(len(photo.sherds) for photo in lot.photos)
    return {
        "style": lot.style,
        "kind": lot.kind,
        "seed": lot.seed,
        "pots": f"{marks.pots} pots",
        "sherds": true,
        "found": len(taken.key_of) / true,
        "invented": len(taken.catalogued) - len(taken.key_of),
        "ari": marks.ari,
        "joined": marks.pairs_wrongly_joined,
        "split": marks.pairs_wrongly_split,
        "unassigned": marks.unassigned,
        "vessels": marks.vessels,
        "range": f"{answer.count_range[0]}-{answer.count_range[1]}",
        "count_right": float(marks.is_count_right),
        "range_right": float(marks.is_range_right),
        "sure_share": marks.sure / max(marks.sherds, 1),
        "sure_wrong": marks.sure_wrong / marks.sure if marks.sure else None,
    }


def comparanda(order: Order) -> list[Row]:
    """Retrieval across sites; each seed is one gathering of four sites."""
    rows: list[Row] = []
    for style in order.styles:
        for seed in _seeds(order):
            sites = make_sites(style, seed, order.renders_only or order.work, motifs=order.motifs)
            if order.renders_only is None:
                rows.append(_compare_one(order, style, seed, sites))
    return rows


def _compare_one(order: Order, style: str, seed: int, sites: list[tuple[LotTruth, Path]]) -> Row:
    program = _program(order, f"{style}-sites-{seed}")
    key_of: dict[str, str] = {}
    for lot, folder in sites:
        key_of |= take_in(program, lot, folder, site=lot.site).key_of
    number_of = {key: number for number, key in key_of.items()}
    site_of = {s.key: lot.site for lot, _ in sites for photo in lot.photos for s in photo.sherds}
    motifs = {key: shares for lot, _ in sites for key, shares in lot.motifs_of().items()}
    relevant = {
        k: {o for o in motifs if site_of[o] != site_of[k] and shares_motif(motifs[k], motifs[o])} for k in motifs
    }
    queries = [key for key in motifs if relevant[key]]
    if order.queries:
        chosen = np.random.default_rng(seed).permutation(len(queries))[: order.queries]
        queries = [queries[k] for k in chosen]
    precisions, firsts, start = [], [], time.perf_counter()
    for key in queries:
        # A sherd that intake missed was never found: its query counts as zero.
        ranked = _ranking(program, key, number_of, key_of, site_of)
        precisions.append(average_precision(ranked, relevant[key]))
        firsts.append(float(bool(ranked) and ranked[0] in relevant[key]))
    seconds = (time.perf_counter() - start) / max(len(queries), 1)
    program.close()
    return {
        "style": style, "seed": seed, "map": float(np.mean(precisions)), "precision_at_1": float(np.mean(firsts)),
        "found": len(key_of) / len(motifs), "queries": len(queries), "seconds_a_query": seconds,
    }  # fmt: skip


def _ranking(
    program: Program, key: str, number_of: dict[str, str], key_of: dict[str, str], site_of: dict[str, str]
) -> list[str]:
    if key not in number_of:
        return []
    document = program.call("comparanda", number_of[key], "--top", len(key_of) + 50, "--other-sites")
    own = [other for other in site_of if site_of[other] == site_of[key]]
    return ranked_keys(document, key_of, own)


def joins(order: Order) -> list[Row]:
    """True neighbours among the first proposals of each sherd."""
    rows: list[Row] = []
    for lot, folder in lots_of(order):
        if order.renders_only is None:
            rows.append(_join_one(order, lot, folder))
    return rows


def _join_one(order: Order, lot: LotTruth, folder: Path) -> Row:
    program = _program(order, lot.lot)
    try:
        taken = take_in(program, lot, folder)
        document = program.call("joins", lot.lot, "--top", 5 * len(taken.catalogued))
    finally:
        program.close()
    touching = {frozenset((c.a, c.b)) for c in lot.contacts}
    long = {frozenset((c.a, c.b)) for c in lot.contacts if c.length_mm >= LONG_CONTACT_MM}
    proposals = sorted(document["joins"], key=lambda row: -row["fit"])
    named = [(taken.key_of.get(row["a"], "?"), taken.key_of.get(row["b"], "?"), row["fit"]) for row in proposals]
    first, among = [], []
    for key in sorted({k for pair in long for k in pair}):
        partners = [b if a == key else a for a, b, _ in named if key in (a, b)][:5]
        right = [frozenset((key, partner)) in long for partner in partners]
        first.append(float(bool(right) and right[0]))
        among.append(float(any(right)))
    sure = [float(frozenset((a, b)) in touching) for a, b, fit in named if fit > 0.9]
    return {
        "style": lot.style, "kind": lot.kind, "seed": lot.seed, "first": float(np.mean(first)), "among_5": float(np.mean(among)),
        "fit_over_09_right": float(np.mean(sure)) if sure else None, "queries": len(first), "seconds": program.seconds["joins"][-1],
    }  # fmt: skip


def cloth(order: Order) -> list[Row]:
    """Real cloth: lots of two cloths of one class, then pattern across cloths for every encoder."""
    if order.cloth is None:
        raise SystemExit("cloth: no folder of photographs; give it with --cloth DIR (index.csv inside)")
    rows: list[Row] = []
    for seed in _seeds(order):
        lot, folder = make_cloth_lot(order.cloth, seed, order.renders_only or order.work, takes=order.takes)
        if order.renders_only is None:
            rows.append(_sort_one(order, lot, folder))
    if order.renders_only is None:
        found = cloth_retrieval(order.cloth)
        rows += [
            {
                "style": r.encoder,
                "kind": "retrieval",
                "map": r.mean_average_precision,
                "precision_at_1": r.precision_at_1,
            }
            for r in found
        ]
    return rows
