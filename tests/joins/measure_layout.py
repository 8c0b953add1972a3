"""How far sherds of practice pots lie from where they were: `python -m tests.joins.measure_layout --lots 5 [--first 6001]`.

Pots of revolution are decorated, broken, robbed of 5 to 25 % of their pieces, photographed and read as intake reads them; edges are matched
within each pot. Four ways to lay out are told apart: with what the program proposes alone, or with an analyst who says yes and no to
the proposals as the truth is; on the true profile hung from the rim sherds (their "up" known), or flat. On the profile the error is the
distance on the wall from the true place, once the whole is turned about the axis; flat, where a vessel has no true plane, it is that of
every sherd from where its true neighbour would see it.
"""

from __future__ import annotations

import argparse
import time

import numpy as np

from motifs.joins import propose_joins
from motifs.joins.layout import LayoutJoin, LayoutPiece, lay_out
from motifs.joins.pieces import middle_mm
from motifs.joins.walls import RoundWall
from motifs.training.joins import see_lot

LEAST_CONTACT_MM = 5.0
SEEN_MM = 6.0
"""A join laid further off than this is seen to be wrong (neighbours on a curved wall are never quite in one plane)."""


def pots_of(seed):
    """(pieces, joins, truth poses, wall, contacts, share of the wall's area present) of each pot of a lot."""
    lot, keys, edges = see_lot(seed)
    turns = {(s.pot, s.fragment): s.turn_deg for photo in lot.photos for s in photo.sherds}
    for pot in range(len(lot.pots)):
        mine = [k for k, key in enumerate(keys) if key[0] == pot]
        form, fragments = lot.pots[pot].form, lot.fragments[pot]
        own = [fragments[keys[k][1]] for k in mine]
        turn = [-turns[keys[k]] for k in mine]
        pieces = [
            LayoutPiece(edges[k].outline_mm, up_deg=t % 360, is_rim=f.is_rim)
            for k, t, f in zip(mine, turn, own, strict=True)
        ]
        truth = np.array([[*f.polygon_mm.mean(axis=0), np.radians(t)] for f, t in zip(own, turn, strict=True)])
        contacts = {
            (a, b): own[a].neighbours.get(own[b].index, 0.0) for a in range(len(own)) for b in range(len(own)) if a != b
        }
        joins = propose_joins([edges[k] for k in mine], top=8)
        share = sum(f.area_mm2 for f in own) / sum(f.area_mm2 for f in fragments)
        yield form.name, pieces, joins, truth, RoundWall(form.down_mm, form.radius_mm, form.drop_mm), contacts, share


def offered(joins, pieces, truth, wall, contacts, *, is_judged):
    """Joins as the program offers them, or as an analyst who sees them laid together judges them: accepted or refused."""
    out = []
    for join in joins:
        is_true = contacts[(join.a, join.b)] >= LEAST_CONTACT_MM and misplaced_mm(join, pieces, truth, wall) <= SEEN_MM
        if is_judged and not is_true:
            continue
        out.append(LayoutJoin(join.a, join.b, join.fit, join.length_mm, join.transform, join.stretch_a, is_judged))
    return out


def misplaced_mm(join, pieces, truth, wall):
    """How far the proposal lays b's middle from where a's plane truly has it."""
    middle_a, middle_b = (np.array(middle_mm(np.asarray(pieces[k].outline_mm, float))) for k in (join.a, join.b))
    found = join.transform[:2, :2] @ middle_b + join.transform[:2, 2] - middle_a
    wanted = wall.seen(truth[join.b : join.b + 1, :2], truth[join.a])[0]
    return float(np.hypot(*(found - wanted)))


def errors_on_wall(laid, main, truth, wall):
    """mm on the wall, once the whole is turned about the axis."""
    off = laid.poses[main, :2] - truth[main, :2]
    spin = np.angle(np.exp(1j * off[:, 0] / wall.widest_mm).sum()) * wall.widest_mm
    off[:, 0] -= spin
    off[:, 0] -= wall.girth_mm * np.round(off[:, 0] / wall.girth_mm)
    off[:, 0] *= np.interp(truth[main, 1], wall.down_mm, wall.radius_mm) / wall.widest_mm
    return np.hypot(*off.T)


def errors_of_neighbours(laid, main, truth, wall, contacts):
    """mm between where a sherd lies and where its true neighbour would see it, for all true neighbours that are laid."""
    out = []
    for a in main:
        for b in main:
            if contacts.get((a, b), 0.0) >= LEAST_CONTACT_MM:
                wanted = wall.seen(truth[b : b + 1, :2], truth[a])[0]
                turn = np.radians(laid.poses[a, 2])
                c, s = np.cos(turn), np.sin(turn)
                found = np.array([[c, s], [-s, c]]) @ (laid.poses[b, :2] - laid.poses[a, :2])
                out.append(float(np.hypot(*(found - wanted))))
    return np.array(out)


def main(argv=None):
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.joins.measure_layout", description=__doc__.splitlines()[0])
    parser.add_argument("--lots", type=int, default=5)
    parser.add_argument("--first", type=int, default=6001)
    given = parser.parse_args(argv)
    pooled = {}
    for seed in range(given.first, given.first + given.lots):
        for name, pieces, joins, truth, wall, contacts, share in pots_of(seed):
            for is_judged in (False, True):
                for is_round in (True, False):
                    started = time.process_time()
                    laid = lay_out(
                        pieces,
                        offered(joins, pieces, truth, wall, contacts, is_judged=is_judged),
                        wall=wall if is_round else None,
                    )
                    spent = time.process_time() - started
                    main_group = np.flatnonzero(laid.group == 0)
                    if isinstance(laid.wall, RoundWall):
                        errors = errors_on_wall(laid, main_group, truth, wall)
                    else:
                        errors = errors_of_neighbours(laid, main_group, truth, wall, contacts)
                    way = ("judged" if is_judged else "proposed", "profile" if is_round else "flat")
                    held = laid.held()
                    wrong = sum(contacts[(u.join.a, u.join.b)] == 0 for u in held)
                    pooled.setdefault(way, []).append(
                        (np.median(errors) if len(errors) else np.nan, len(main_group) / len(pieces), errors, share)
                    )
                    print(
                        f"{seed} {name:14s} {share:4.0%} present, {' '.join(way):16s} joined {len(main_group):2d} of {len(pieces):2d}, "
                        f"joins {len(held):2d}, wrong {wrong}, error median {np.median(errors) if len(errors) else np.nan:5.2f} mm, "
                        f"9 of 10 within {np.percentile(errors, 90) if len(errors) else np.nan:5.2f} mm, {spent:.1f} s",
                        flush=True,
                    )
    for way, rows in pooled.items():
        everything = np.concatenate([row[2] for row in rows])
        print(
            f"{' '.join(way):16s}: {len(rows)} pots, {np.mean([row[3] for row in rows]):.0%} of the wall present, "
            f"{np.mean([row[1] for row in rows]):.0%} of the sherds in the largest group; placement error: median of all sherds "
            f"{np.median(everything):.2f} mm, median of pots {np.nanmedian([row[0] for row in rows]):.2f} mm, "
            f"pots under 2 mm {sum(row[0] < 2 for row in rows)}"
        )


if __name__ == "__main__":
    main()
