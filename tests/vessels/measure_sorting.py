"""Benchmarks of sorting: honesty of the support, other groupings on the same evidence, speed and memory.

    python -m tests.vessels.measure_sorting support --lots DIR
    python -m tests.vessels.measure_sorting groupings --lots DIR
    python -m tests.vessels.measure_sorting speed

DIR holds readings of practice lots, as `python -m motifs.training evidence --work DIR --out FILE` keeps them. `support` fits the whole
calibration on half of the lots and tests it on the other half, both ways.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
import warnings
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np
from sklearn.cluster import HDBSCAN, AgglomerativeClustering, KMeans, SpectralClustering
from sklearn.exceptions import ConvergenceWarning
from sklearn.metrics import adjusted_rand_score
from sklearn.mixture import GaussianMixture

from motifs.evidence import load_calibration, lot_blocks, settle_polarity
from motifs.records import CueBlock, Links
from motifs.training.evidence import fit_lots, rightly_placed
from motifs.training.lots import KINDS, load_lots
from motifs.vessels import SupportCurve, sort_sherds


def main(argv=None):
    """Measure and print."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.vessels.measure_sorting",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("measure", choices=MEASURES)
    parser.add_argument("--lots", type=Path, help="folder of readings of practice lots (JSON)")
    given = parser.parse_args(argv)
    if given.measure != "speed" and given.lots is None:
        parser.error("give --lots DIR, a folder of readings of practice lots")
    MEASURES[given.measure](given)
    return 0


def read_lots(folder):
    lots = {}
    for file in sorted(folder.glob("practice-*.json")):
        lots |= load_lots(file)
    if not lots:
        raise SystemExit(f"{folder}: no readings of practice lots (practice-*.json)")
    return lots


def curve_of(calibration):
    return SupportCurve(
        *calibration.support, vessel_nats=calibration.vessel_nats, range_limits=calibration.range_limits
    )


def sorted_lot(calibration, lot):
    blocks = lot_blocks(calibration, settle_polarity(lot.readings))
    return sort_sherds(blocks, lot.photos, Links(), support=curve_of(calibration))


def vessel_labels(sorting):
    return np.array([1000 + i if one.vessel is None else one.vessel for i, one in enumerate(sorting.assignments)])


def support(given):
    """Reliability curve, Brier and range of vessels, each lot tested on a calibration that never saw it."""
    lots = read_lots(given.lots)
    names = sorted(lots)
    said, right, held, width = [], [], [], []
    with tempfile.TemporaryDirectory() as folder:
        for part in (0, 1):
            tested = names[part::2]
            calibration = fit_lots({n: lots[n] for n in names if n not in tested}, Path(folder) / "evidence.json")
            for name in tested:
                sorting = sorted_lot(calibration, lots[name])
                _, labels = np.unique(vessel_labels(sorting), return_inverse=True)
                assigned = np.array([one.vessel is not None for one in sorting.assignments])
                said.append(np.array([one.support for one in sorting.assignments])[assigned])
                right.append(rightly_placed(lots[name].vessels, labels)[assigned])
                width.append(sorting.vessels_range[1] - sorting.vessels_range[0])
                held.append(sorting.vessels_range[0] <= len(set(lots[name].vessels)) <= sorting.vessels_range[1])
    said, right = np.concatenate(said), np.concatenate(right)
    print(f"{len(lots)} lots, {len(said)} assigned sherds; Brier {np.mean((said - right) ** 2):.3f}")
    print(
        f"number of vessels inside its range: {np.mean(held):.3f} of lots; the range spans {1 + np.mean(width):.2f} numbers"
    )
    for low in np.arange(0, 1, 0.1):
        inside = (said > low) & (said <= low + 0.1)
        if inside.any():
            print(f"support {low:.1f} to {low + 0.1:.1f}: {inside.sum():5d} sherds, {right[inside].mean():.3f} right")


def groupings(given):
    """Mean adjusted Rand index of several groupings on the same calibrated evidence."""
    calibration = load_calibration()
    rows = defaultdict(lambda: defaultdict(list))
    for name, lot in read_lots(given.lots).items():
        kind, pots = next(kind for kind in KINDS if kind in name), len(set(lot.vessels))
        blocks = lot_blocks(calibration, settle_polarity(lot.readings))
        labels = {"this program, number unknown": vessel_labels(sorted_lot(calibration, lot)), **usual(blocks, pots)}
        for how, found in labels.items():
            rows[how][kind].append(adjusted_rand_score(lot.vessels, found))
    for how, marks in rows.items():
        print(f"{how:38s}" + "  ".join(f"{kind} {np.mean(values):.3f}" for kind, values in marks.items()))


def usual(blocks, pots):
    """Library groupings of the cues, absent ones at the middle, components weighted as the program starts from them."""
    columns = []
    for block in blocks:
        middle = np.median(block.x[block.present], axis=0) if block.present.any() else 0.0
        x = np.where(block.present[:, None], block.x - middle, 0.0)
        columns.append(np.clip(x, -8, 8) * np.sqrt(block.between / (1 + block.between)))
    x = np.concatenate(columns, axis=1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        warnings.filterwarnings("ignore", message="Graph is not fully connected")
        noisy = HDBSCAN(min_cluster_size=5, copy=True).fit(x).labels_
        return {
            "k-means, number given": KMeans(pots, n_init=10, random_state=0).fit(x).labels_,
            "Gaussian mixture, number given": GaussianMixture(
                pots, covariance_type="diag", n_init=5, reg_covar=0.1, random_state=0
            ).fit_predict(x),
            "spectral, number given": SpectralClustering(
                pots, affinity="nearest_neighbors", n_neighbors=min(10, len(x) - 1), random_state=0
            ).fit_predict(x)
            if pots > 1
            else np.zeros(len(x), int),
            "agglomerative (average), number given": AgglomerativeClustering(pots, linkage="average").fit_predict(x),
            "agglomerative (Ward), number given": AgglomerativeClustering(pots).fit_predict(x),
            "HDBSCAN, number unknown": np.where(noisy < 0, 1000 + np.arange(len(x)), noisy),
            "correlation clustering, number unknown": correlation_clusters(pair_odds(blocks)),
        }


def pair_odds(blocks):
    """(n, n) log odds of one vessel for every pair, cue by cue as if apart: normal differences, wider for two vessels."""
    count = len(blocks[0].present)
    odds = np.zeros((count, count))
    for block in blocks:
        both = block.present[:, None] & block.present[None, :]
        same = block.spread[:, None] + block.spread[None, :]
        other = same + 2 * np.mean(block.between)
        square = ((block.x[:, None] - block.x[None]) ** 2).sum(axis=2)
        votes = 0.5 * block.x.shape[1] * np.log(other / same) - 0.5 * square * (1 / same - 1 / other)
        odds += np.where(both, block.say * np.clip(votes, -6, 6), 0.0)
    np.fill_diagonal(odds, 0.0)
    return odds


def correlation_clusters(odds, tries=20):
    """Most log odds inside clusters: pivots (Ailon, Charikar & Newman 2008, J. ACM 55) bettered by moving one sherd at a time."""
    best, most = None, -np.inf
    for seed in range(tries):
        labels = bettered(pivots(odds, np.random.default_rng(seed)), odds)
        total = odds[labels[:, None] == labels[None, :]].sum()
        if total > most:
            best, most = labels, total
    return best


def pivots(odds, rng):
    labels = np.full(len(odds), -1)
    for pivot in rng.permutation(len(odds)):
        if labels[pivot] < 0:
            free = labels < 0
            labels[free & ((odds[pivot] > 0) | (np.arange(len(odds)) == pivot))] = pivot
    return labels


def bettered(labels, odds, rounds=30):
    labels = np.unique(labels, return_inverse=True)[1]
    for _ in range(rounds):
        moved = False
        for sherd in range(len(odds)):
            gains = np.bincount(labels, weights=odds[sherd], minlength=labels.max() + 2)
            home = int(gains.argmax())
            if gains[home] > gains[labels[sherd]] + 1e-9:
                labels[sherd], moved = home, True
        if not moved:
            break
    return labels


def speed(_given):
    """Seconds of sorting beside scikit-learn's agglomerative clustering on the distances of the same evidence."""
    for count in (60, 500, 5000):
        blocks, photos = made_up_lot(count, pots=3)
        seconds = timed(lambda b=blocks, p=photos: sort_sherds(b, p, Links()), times=3)
        again = timed(lambda b=blocks, p=photos: sort_sherds(b, p, Links(same=((0, 1),))), times=3)
        x = np.concatenate([block.x for block in blocks], axis=1)
        square = (x**2).sum(axis=1)
        far = np.sqrt(np.maximum(square[:, None] - 2 * x @ x.T + square, 0))
        plain = timed(lambda d=far: AgglomerativeClustering(3, metric="precomputed", linkage="average").fit(d), times=3)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{count} sherds: sorted in {seconds:.2f} s, again after an answer {again:.2f} s, agglomerative {plain:.4f} s, "
            f"ratio {seconds / plain:.1f}; peak memory so far {peak:.0f} MB",
            flush=True,
        )


def timed(work, times=1):
    """Least CPU seconds of several runs."""
    taken = []
    for _ in range(times):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return min(taken)


def made_up_lot(count, pots, seed=1):
    """Cues drawn from the calibration's own spreads; what a person enters (wall, rim) is left out, as in most lots."""
    rng = np.random.default_rng(seed)
    truth = rng.integers(pots, size=count)
    blocks = []
    for cue in (one for one in load_calibration().cues if one.name not in ("wall", "rim")):
        means = rng.normal(size=(pots, len(cue.between))) * np.sqrt(cue.between)
        here = rng.random(count) < 0.85
        x = np.where(here[:, None], means[truth] + rng.standard_t(cue.tail, size=(count, len(cue.between))), 0.0)
        spread = np.ones(count)
        block = CueBlock(cue.name, x, here, spread, cue.between, cue.photo_sd, cue.tail)
        blocks.append(replace(block, say=cue.say, number_say=cue.number_say))
    return blocks, (np.arange(count) // 12).tolist()


MEASURES = {"support": support, "groupings": groupings, "speed": speed}

if __name__ == "__main__":
    raise SystemExit(main())
