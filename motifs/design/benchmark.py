"""How often the symmetry of drawn designs is read right: `python -m motifs.design.benchmark`.

Bands and all-over designs of known group, by an unsteady hand, turned, cut by a sherd's outline, with noise. Prints the table
of confusion, the share right by the number of repeats seen, how often it abstains below 1.5, and how far support can be believed.
`--fit` fits the weights of `judging.py` instead; seeds below 1000 are for that, report on seeds from 1000.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import cross_val_predict

from motifs.design.band_moves import fit_moves
from motifs.design.bands import read_band
from motifs.design.generators import HandError, draw_band, draw_motif, draw_plane, sherd_mask, usual_cell
from motifs.design.groups import BAND_GROUPS, BAND_MOVES, PLANE_GROUPS
from motifs.design.judging import features
from motifs.design.lattices import read_plane
from motifs.design.plane_moves import fit_turns, is_mirror, lattice_turns, order_of
from motifs.design.reading import DesignSymmetry, read_symmetry

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Plane = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Trial:
    """One drawn sherd. repeats: that its outline leaves to be seen, along the band, or of cells."""

    symbol: str
    picture: Plane
    mask: NDArray[np.bool_]
    repeats: float
    repeat_px: float


def unsteady(rng: np.random.Generator) -> HandError:
    """Return a hand between steady and careless."""
    much = float(rng.uniform(0, 1))
    return HandError(0.012 * much, 0.03 * much, 2.0 * much, 0.006 * much)


def band_trial(symbol: str, rng: np.random.Generator, *, repeats: tuple[float, float]) -> Trial:
    """Draw a sherd with a band on it."""
    hand = unsteady(rng)
    count, noise = float(rng.uniform(*repeats)), float(rng.uniform(0.05, 0.45))
    length = float(rng.uniform(50, 110))
    height = float(rng.uniform(0.5, 1.0)) * length
    band = draw_band(
        symbol,
        draw_motif(rng),
        repeat_px=length,
        height_px=height,
        repeats=count,
        hand=hand,
        framing=bool(rng.random() < 0.5),
        rng=rng,
    )
    pad = int(rng.uniform(0, 0.3) * height)
    band = np.pad(band, ((pad, pad), (0, 0)))
    mask = sherd_mask(band.shape, rng)
    seen = float((mask[mask.shape[0] // 4 : -mask.shape[0] // 4].mean(axis=0) >= 0.5).sum()) / length
    picture, turned = _turned(band, mask, float(rng.uniform(0, 180)))
    return Trial(symbol, picture + rng.normal(0, noise, picture.shape), turned, seen, length)


def plane_trial(symbol: str, rng: np.random.Generator, *, cells: tuple[float, float]) -> Trial:
    """Draw a sherd with an all-over design on it."""
    hand = unsteady(rng)
    count, noise = float(rng.uniform(*cells)), float(rng.uniform(0.05, 0.4))
    cell = usual_cell(symbol, float(rng.uniform(50, 90)), rng)
    side = int(np.sqrt(count * abs(np.linalg.det(cell))))
    drawn = draw_plane(symbol, draw_motif(rng), cell_px=cell, shape=(side, side), hand=hand, rng=rng)
    mask = sherd_mask(drawn.shape, rng)
    picture, turned = _turned(drawn, mask, float(rng.uniform(0, 180)))
    return Trial(symbol, picture + rng.normal(0, noise, picture.shape), turned, count, float(np.linalg.norm(cell[0])))


def _turned(picture: Plane, mask: NDArray[np.bool_], angle_deg: float) -> tuple[Plane, NDArray[np.bool_]]:
    h, w = picture.shape
    matrix = cv2.getRotationMatrix2D((w / 2, h / 2), angle_deg, 1.0)
    c, s = abs(matrix[0, 0]), abs(matrix[0, 1])
    size = (int(w * c + h * s) + 2, int(w * s + h * c) + 2)
    matrix[:, 2] += np.array(size) / 2 - [w / 2, h / 2]
    turned = cv2.warpAffine(mask.astype(np.uint8), matrix, size, flags=cv2.INTER_NEAREST) > 0
    return np.asarray(cv2.warpAffine(picture, matrix, size), np.float64), np.asarray(turned)


def band_trials(seeds: range, repeats: tuple[float, float]) -> Iterator[Trial]:
    """Yield one sherd of every band group a seed."""
    for seed in seeds:
        rng = np.random.default_rng(seed)
        for group in BAND_GROUPS:
            yield band_trial(group.symbol, rng, repeats=repeats)


def plane_trials(seeds: range, cells: tuple[float, float]) -> Iterator[Trial]:
    """Yield one sherd of every plane group a seed."""
    for seed in seeds:
        rng = np.random.default_rng(seed)
        for group in PLANE_GROUPS:
            yield plane_trial(group.symbol, rng, cells=cells)


def symbol_read(result: DesignSymmetry) -> str:
    """Return the symbol, with ≥ for "at least", or "-" for indeterminate."""
    if result.group is None:
        return "-"
    return f"≥{result.group.symbol}" if result.is_at_least else result.group.symbol


def print_confusion(title: str, symbols: list[str], pairs: list[tuple[str, str]]) -> None:
    """Print which group was read as which, and the share read right."""
    counts = Counter(pairs)
    columns = [*symbols, *sorted({read for _, read in pairs} - set(symbols))]
    print(f"\n{title}: {np.mean([a == b for a, b in pairs]):.3f} right of {len(pairs)}")
    print("drawn \\ read".ljust(13) + "".join(name.rjust(6) for name in columns))
    for drawn in symbols:
        print(drawn.ljust(13) + "".join(str(counts[drawn, read] or ".").rjust(6) for read in columns))


def _print_support(answers: list[tuple[float, bool]]) -> None:
    print("\nsupport        sherds  right")
    for low, high in ((0.0, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 0.97), (0.97, 1.01)):
        part = [right for support, right in answers if low <= support < high]
        if part:
            print(f"{low:.2f} to {min(high, 1):.2f}  {len(part):7d}  {np.mean(part):.3f}")


def report(seeds: range) -> None:
    """Print the tables."""
    names = [group.symbol for group in BAND_GROUPS]
    answers: list[tuple[float, bool]] = []
    shares: list[tuple[float, bool]] = []
    pairs: list[tuple[str, str]] = []
    for trial in band_trials(seeds, (1.6, 6.0)):
        result = read_symmetry(trial.picture, trial.mask)
        read = symbol_read(result)
        shares.append((trial.repeats, read == trial.symbol))
        if trial.repeats >= 2:
            pairs.append((trial.symbol, read))
        if result.group is not None:
            answers.append((result.support, result.group.symbol == trial.symbol))
    print_confusion("Bands, two repeats or more seen", names, pairs)
    for low, high in ((1.0, 1.5), (1.5, 2.0), (2.0, 3.0), (3.0, 9.0)):
        part = [right for repeats, right in shares if low <= repeats < high]
        if part:
            print(f"{low:g} to {high:g} repeats seen: {np.mean(part):.3f} right of {len(part)}")
    short = [read_symmetry(trial.picture, trial.mask) for trial in band_trials(seeds, (0.7, 1.45))]
    print(f"below 1.5 repeats: abstains on {np.mean([one.group is None for one in short]):.3f} of {len(short)}")
    symbols = [group.symbol for group in PLANE_GROUPS]
    planes = [
        (trial, read_symmetry(trial.picture, trial.mask)) for trial in plane_trials(seeds[: len(seeds) // 2], (7, 16))
    ]
    print_confusion("All-over designs, 7 to 16 cells", symbols, [(t.symbol, symbol_read(r)) for t, r in planes])
    answers += [(r.support, r.group.symbol == t.symbol) for t, r in planes if r.group is not None]
    _print_support(answers)


def fit(seeds: range) -> None:
    """Fit the weights of `judging.py` and print them with how well they do on sherds left out."""
    rows = [*_band_rows(seeds), *_plane_rows(seeds[: len(seeds) // 3])]
    x, y = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    model = LogisticRegression(C=30, max_iter=1000)
    left_out = cross_val_predict(model, x, y, cv=5)
    model.fit(x, y)
    print("WEIGHTS =", tuple(float(round(w, 2)) for w in (model.intercept_[0], *model.coef_[0])))
    print(f"{(left_out == y).mean():.4f} of {len(y)} moves told right, left out")


def _band_rows(seeds: range) -> Iterator[tuple[tuple[float, float, float], bool]]:
    for trial in band_trials(seeds, (2.0, 5.0)):
        band = read_band(trial.picture, trial.mask)
        if band is None or abs(band.repeat_px / trial.repeat_px - 1) > 0.06:
            continue
        for move, fitted in fit_moves(band.fold).items():
            if fitted is not None:
                yield features(fitted, band.fold.coherence), bool(getattr(BAND_MOVES[trial.symbol], move))


def _plane_rows(seeds: range) -> Iterator[tuple[tuple[float, float, float], bool]]:
    rotation = {group.symbol: group.rotation for group in PLANE_GROUPS}
    for trial in plane_trials(seeds, (7, 16)):
        plane = read_plane(trial.picture, trial.mask)
        if plane is None:
            continue
        for turn, fitted in fit_turns(plane.fold, lattice_turns(plane.basis_px)).items():
            if not is_mirror(turn) and fitted.any_place is not None:
                yield features(fitted.any_place, plane.fold.coherence), rotation[trial.symbol] % order_of(turn) == 0


def main(argv: list[str] | None = None) -> int:
    """Run the benchmark, or the fit."""
    parser = argparse.ArgumentParser(prog="python -m motifs.design.benchmark", description=__doc__)
    parser.add_argument("--seed", type=int, default=1000, help="first seed (default: 1000)")
    parser.add_argument("--seeds", type=int, default=40, help="how many seeds (default: 40)")
    parser.add_argument("--fit", action="store_true", help="fit the weights instead")
    arguments = parser.parse_args(argv)
    seeds = range(arguments.seed, arguments.seed + arguments.seeds)
    (fit if arguments.fit else report)(seeds)
    return 0


if __name__ == "__main__":
    sys.exit(main())
