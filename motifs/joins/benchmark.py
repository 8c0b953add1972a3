"""How long proposals take beside one cross-correlation of the same edges: `python -m motifs.joins.benchmark [--sherds N]`."""

from __future__ import annotations

import argparse
import time

import numpy as np
import scipy.fft

from motifs.joins.paths import STEP_MM, EdgePath, edge_path
from motifs.joins.pieces import SherdEdge
from motifs.joins.proposing import propose_joins


def rough_sherds(count: int, seed: int = 0) -> list[SherdEdge]:
    """Outlines of random rough sherds, 30 to 70 mm across; they fit nowhere, which takes as long."""
    rng = np.random.default_rng(seed)
    around = np.linspace(0, 2 * np.pi, 600, endpoint=False)
    edges = []
    for _ in range(count):
        radius = np.full(around.shape, rng.uniform(15, 35))
        for turns in range(2, 40):
            radius += 6.0 / turns * rng.normal() * np.sin(turns * around + rng.uniform(0, 2 * np.pi))
        radius = np.maximum(radius, 5.0)
        edges.append(SherdEdge(np.stack([radius * np.cos(around), radius * np.sin(around)], axis=1)))
    return edges


def correlate_all(paths: list[EdgePath]) -> float:
    """One pass: the curvature of every edge correlated with every later one run backwards, by FFT in double precision."""
    size = 1 << (2 * max(len(path.points) for path in paths) - 1).bit_length()
    signals = np.zeros((len(paths), size))
    for row, path in zip(signals, paths, strict=True):
        row[: len(path.points)] = np.diff(path.direction, append=path.direction[0] + 2 * np.pi) / STEP_MM
    forward, backward = scipy.fft.rfft(signals), scipy.fft.rfft(signals[:, ::-1])
    best = 0.0
    for place in range(len(paths) - 1):
        best = max(best, float(scipy.fft.irfft(forward[place] * backward[place + 1 :].conj()).max()))
    return best


def main() -> None:
    """Time both in one run and print their ratio (processor time of this process)."""
    parser = argparse.ArgumentParser(prog="python -m motifs.joins.benchmark", description=__doc__)
    parser.add_argument("--sherds", type=int, default=300)
    sherds = rough_sherds(parser.parse_args().sherds)
    start = time.process_time()
    correlate_all([edge_path(one.outline_mm) for one in sherds])
    between = time.process_time()
    propose_joins(sherds)
    end = time.process_time()
    once, proposals = between - start, end - between
    print(f"{len(sherds)} sherds: one FFT pass {once:.2f} s, proposals {proposals:.2f} s, ratio {proposals / once:.0f}")


if __name__ == "__main__":
    main()
