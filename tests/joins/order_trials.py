"""Small random breaks, and every order of assembly of them tried out: a check on the planner that shares none of its code.

    python -m tests.joins.order_trials --breaks 500

A plate is cut by rough cracks. An order is free when every piece after the first touches one that is there already and slides in along a
straight line: its sweep, the union of the parallelograms of its edges, crosses nothing that is there. Pieces are drawn in by the play first.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
import shapely
from shapely.ops import split

PLAY_MM = 1.0
FAR_MM = 400.0
ANGLES = np.arange(0.0, 360.0, 6.0)


def random_break(rng, pieces, wave_mm=9.0, side_mm=90.0, rough_mm=1.0, keyed=0.0):
    """A square plate cut into about `pieces` rough pieces: list of (N, 2) outlines."""
    parts = [shapely.box(0, 0, side_mm, side_mm)]
    for _ in range(200):
        if len(parts) >= pieces:
            break
        k = int(np.argmax([part.area for part in parts])) if rng.random() < 0.7 else int(rng.integers(len(parts)))
        middle = np.array(parts[k].representative_point().coords[0])
        angle = rng.uniform(0, np.pi)
        along = np.linspace(-160, 160, 161)
        reach, start = rng.uniform(6, 25), rng.uniform(0, 6)
        bend = rng.normal(0, wave_mm) * np.sin(along / reach + start) + rng.normal(0, rough_mm, 161)
        # Keyed cracks run back under themselves, as the pieces of a jigsaw do.
        along = along - keyed * 1.6 * reach * np.sin(2 * (along / reach + start)) / 2
        way, side = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
        crack = shapely.LineString(middle + along[:, None] * way + bend[:, None] * side)
        halves = [part for part in split(parts[k], crack).geoms if part.area > 1]
        if crack.is_simple and len(halves) == 2 and min(part.area for part in halves) > 150:
            parts[k : k + 1] = halves
    return [np.array(part.exterior.coords)[:-1] for part in parts]


class Trial:
    """Every pair and direction looked at once. blocked: (d, n, n), by exact sweeps."""

    def __init__(self, outlines, play_mm=PLAY_MM):
        shapes = [shapely.Polygon(outline).buffer(0).simplify(0.1) for outline in outlines]
        small = [_largest(shape.buffer(-play_mm, join_style="mitre")) for shape in shapes]
        self.count = len(shapes)
        self.shapes, self.small = shapes, small
        self.blocked = np.zeros((len(ANGLES), self.count, self.count), bool)
        for k, angle in enumerate(ANGLES):
            for p in range(self.count):
                over = shapely.area(shapely.intersection(self._swept(small[p], angle), shapes))
                self.blocked[k, p] = (over > 0.05) & (np.arange(self.count) != p)
        self.touch = np.array(
            [
                [p != q and shapes[p].buffer(0.5).intersection(shapes[q]).area / 0.5 > 4 for q in range(self.count)]
                for p in range(self.count)
            ]
        )

    @staticmethod
    def _swept(shape, angle):
        dx, dy = FAR_MM * np.cos(np.radians(angle)), FAR_MM * np.sin(np.radians(angle))
        ring = np.array(shape.exterior.coords)
        first, second, way = ring[:-1], ring[1:], np.array([dx, dy])
        flat = np.abs((second[:, 0] - first[:, 0]) * dy - (second[:, 1] - first[:, 1]) * dx) < 1e-6
        corners = np.stack([first, second, second + way, first + way], axis=1)[~flat]
        return shapely.union_all([shape, *shapely.polygons(corners)])

    def slides(self, moving, there):
        return bool((~self.blocked[:, list(moving)][:, :, list(there)].any(axis=(1, 2))).any())

    def slides_closely(self, moving, there):
        """As `slides`, at every degree."""
        stays = shapely.union_all([self.shapes[k] for k in there])
        return any(
            all(self._swept(self.small[k], angle).intersection(stays).area <= 0.05 * len(there) for k in moving)
            for angle in np.arange(0.0, 360.0, 1.0)
        )

    def touches(self, moving, there):
        return bool(self.touch[np.ix_(list(moving), list(there))].any())

    def has_free_order(self):
        """Whether any order of single pieces is free: all of them tried, by what is there."""
        everything = (1 << self.count) - 1
        reached = {1 << k for k in range(self.count)}
        for _ in range(self.count - 1):
            step = set()
            for state in reached:
                there = [k for k in range(self.count) if state >> k & 1]
                for k in range(self.count):
                    if (
                        not state >> k & 1
                        and state | 1 << k not in step
                        and self.touches([k], there)
                        and self.slides([k], there)
                    ):
                        step.add(state | 1 << k)
            reached = step
        return everything in reached

    def wrong_steps(self, plan):
        """Steps of a plan whose piece or group cannot slide in, or touches nothing."""
        blocks = {}
        bad = []
        for number, step in enumerate(plan.steps):
            there = blocks.setdefault(step.block, [])
            is_free = not there or self.slides(step.adds, there) or self.slides_closely(step.adds, there)
            if there and not step.is_locked and not (is_free and self.touches(step.adds, there)):
                bad.append((number, is_free))
            there.extend(step.adds)
        return bad


def _largest(shape):
    parts = list(getattr(shape, "geoms", [shape]))
    return max(parts, key=lambda part: part.area)


def trial(seed):
    """(has a free order, locked pieces of the plan, wrong steps, blocks built apart) of one break."""
    from motifs.joins.assembly import plan_assembly
    from motifs.joins.clearance import blocking_of

    rng = np.random.default_rng([71, seed])
    outlines = random_break(
        rng,
        int(rng.integers(3, 9)),
        wave_mm=float(rng.uniform(4, 18)),
        rough_mm=float(rng.uniform(0.2, 1.2)),
        keyed=float(rng.choice([0.0, 0.0, 1.0])),
    )
    looked = Trial(outlines)
    plan = plan_assembly(blocking_of(outlines))
    return (
        looked.has_free_order(),
        len(plan.locked),
        len(looked.wrong_steps(plan)),
        plan.blocks,
        {k for step in plan.steps for k in step.adds} == set(range(len(outlines))),
    )


def main(argv=None):
    """Run the trials and print how they went."""
    parser = argparse.ArgumentParser(prog="python -m tests.joins.order_trials", description=__doc__.splitlines()[0])
    parser.add_argument("--breaks", type=int, default=500)
    parser.add_argument("--first", type=int, default=0)
    given = parser.parse_args(argv)
    started = time.process_time()
    rows = [trial(seed) for seed in range(given.first, given.first + given.breaks)]
    free = sum(row[0] for row in rows)
    lost = sum(row[0] and row[1] > 0 for row in rows)
    grouped = sum(row[0] and row[3] > 1 for row in rows)
    print(f"{len(rows)} breaks: {free} have a free order of single pieces")
    print(f"of these, a piece locked out by the plan: {lost}; built in groups instead: {grouped}")
    print(
        f"of the other {len(rows) - free}: closed by groups {sum(not r[0] and not r[1] for r in rows)}, said to be locked {sum(not r[0] and r[1] > 0 for r in rows)}"
    )
    print(
        f"steps that cannot slide in by the exact sweep: {sum(row[2] for row in rows)}; plans that leave pieces out: {sum(not r[4] for r in rows)}"
    )
    print(f"{time.process_time() - started:.0f} s")


if __name__ == "__main__":
    main()
