"""Fit models/evidence.json: practice lots seen as intake sees them, with vectors of the shipped vessel encoder."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import TYPE_CHECKING

import numpy as np
from sklearn.linear_model import LogisticRegression

from motifs.embedding import encode_crops, shipped_encoders
from motifs.evidence import CueModel, KnownLot, fit_calibration, lot_blocks, save_calibration
from motifs.evidence.measuring import VESSEL_ENCODER
from motifs.evidence.polarity import settle_polarity
from motifs.training.lots import known_lot, load_lots, orders, save_lots, see_lot
from motifs.vessels import hold_sherds
from motifs.vessels.sorting import GAP_LIMIT_NATS, possible_numbers

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from motifs.evidence import Calibration
    from motifs.vessels import HeldSherds
    from motifs.vessels.sorting import WeighedNumber

SAY = {"tone": 0.2, "paint": 0.25}
"""How much of its log likelihood a cue is given where a sherd is placed: little for what varies in lumps within a vessel."""
NUMBER_SAY = {"tone": 0.1, "paste": 1.0, "texture": 0.3, "vessel_vector": 0.2, "paint": 0.15, "line": 0.1, "gap": 0.1}
"""The same where the number of vessels is weighed."""
WALL_WITHIN, WALL_BETWEEN = 0.15, 0.3
"""Wall thickness: relative spread within a pot and between the pots of a lot. Common practice, from memory: within a handmade pot 10 to
20 per cent, within a wheel-thrown one 5 to 10; a base is thicker by half or more, so that it says little."""
RIM_WITHIN, RIM_BETWEEN = 0.05, 0.3
"""Rim diameter, beside the stated uncertainty of the reading: no rim is quite round. From memory as well."""
VESSEL_NATS = 45.0
FEWER_NATS = (110.0, 130.0)
"""A smaller number may always lie 110 nats behind: it costs little width, since most lots fall off steeply there."""
MORE_SHARES = (0.8, 0.85, 0.9)
"""Of what a further vessel is asked to earn, how much it may lose; one that earns nothing at all loses the whole."""
RANGE_COVER = 0.95
"""Share of the practice lots whose true number of vessels the range has to hold."""
SURE = 0.9
SURE_WRONG = 0.01
"""Share of sherds with support over SURE that may be wrong in lots left out: well under the 0.05 asked for, since other lots are harder."""
CAUTION = np.arange(0.0, 4.01, 0.1)
FOLDS = 8


def fit_evidence(folder: Path, out: Path, count: int, first_seed: int) -> Calibration:
    """Render and read `count` lots into `folder` (kept from an earlier run if there), fit, and write `out`."""
    folder.mkdir(parents=True, exist_ok=True)
    spec = next(one for one in shipped_encoders() if one.tag.split(".")[0] == VESSEL_ENCODER)
    lots: dict[str, KnownLot] = {}
    for order in orders(count, first_seed, "tune"):
        file = folder / f"{order.name}.json"
        if not file.exists():
            seen = see_lot(order)
            vectors = encode_crops(spec, [sherd.crop for sherd in seen])
            save_lots({order.name: known_lot(seen, [{spec.tag: vector} for vector in vectors])}, file)
        lots |= load_lots(file)
    return fit_lots(lots, out)


def fit_lots(lots: dict[str, KnownLot], out: Path) -> Calibration:
    """Fit the calibration of lots already read, and write it."""
    settled = [replace(lot, readings=tuple(settle_polarity(lot.readings))) for lot in lots.values()]
    fitted = fit_calibration(settled, f"python -m motifs.training evidence: {len(lots)} practice lots")
    cues = tuple(
        replace(cue, say=SAY.get(cue.name, 1.0), number_say=NUMBER_SAY.get(cue.name, 1.0)) for cue in fitted.cues
    )
    cues += (
        stated_cue("wall", 7.0, WALL_WITHIN, WALL_BETWEEN, say=0.5, number_say=0.1),
        stated_cue("rim", 180.0, RIM_WITHIN, RIM_BETWEEN, say=1.0, number_say=0.5),
    )
    calibration = fit_support(replace(fitted, cues=cues, vessel_nats=VESSEL_NATS), settled)
    save_calibration(calibration, out)
    return calibration


def stated_cue(name: str, usual_mm: float, within: float, between: float, *, say: float, number_say: float) -> CueModel:
    """A cue that practice lots do not show: a length that a person entered, with relative spreads stated beforehand."""
    one = np.ones(1)
    return CueModel(
        name,
        centre=100 * np.log(usual_mm) * one,
        earlier=(),
        regression=np.zeros((0, 1)),
        axes=one[:, None] / (100 * within),
        between=one * (between / within) ** 2,
        photo_sd=0.1 * one,
        tail=4.0,
        spread_floor=1.0,
        spread_slope=1.0,
        say=say,
        number_say=number_say,
    )


def fit_support(calibration: Calibration, lots: Sequence[KnownLot]) -> Calibration:
    """Fit how firmly a sherd is held to the share of sherds rightly placed, and how wide the range of vessels has to be.

    A sherd is rightly placed when most of its vessel is of its pot. Lots weigh alike. The intercept is lowered until, in lots left
    out of the fit, at most SURE_WRONG of the sherds with support over SURE are wrong.
    """
    held = [hold_sherds(lot_blocks(calibration, lot.readings), lot.photos, calibration.vessel_nats) for lot in lots]
    told = [
        (support_features(one), rightly_placed(lot.vessels, one.labels))
        for lot, one in zip(lots, held, strict=True)
        if len(set(one.labels.tolist())) > 1
    ]
    intercept, (margin, separation, gap) = _fit_curve(told)
    return replace(
        calibration,
        support=(intercept - _caution(told), margin, separation, gap),
        range_limits=_narrowest_range([len(set(lot.vessels)) for lot in lots], [one.numbers for one in held]),
    )


Told = list[tuple["NDArray[np.float64]", "NDArray[np.bool_]"]]
"""Of each lot: what SupportCurve weighs, and whether the sherd is rightly placed."""


def _fit_curve(told: Told) -> tuple[float, NDArray[np.float64]]:
    """Intercept and weights (3,), none below 0: what holds a sherd more firmly never makes it less sure."""
    x, right = np.concatenate([x for x, _ in told]), np.concatenate([right for _, right in told])
    weight = np.concatenate([np.full(len(one), 60 / len(one)) for _, one in told])
    used = np.arange(x.shape[1])
    while True:
        model = LogisticRegression(C=1.0).fit(x[:, used], right, weight)
        if (model.coef_[0] >= 0).all() or len(used) == 1:
            break
        used = np.delete(used, int(model.coef_[0].argmin()))
    weights = np.zeros(x.shape[1])
    weights[used] = np.maximum(model.coef_[0], 0.0)
    return float(model.intercept_[0]), weights


def _caution(told: Told) -> float:
    """What to take off the intercept, in natural-log odds."""
    odds, right, weight = [], [], []
    for fold in range(FOLDS):
        intercept, weights = _fit_curve([lot for place, lot in enumerate(told) if place % FOLDS != fold])
        for x, lot_right in told[fold::FOLDS]:
            odds.append(intercept + x @ weights)
            right.append(lot_right)
            weight.append(np.full(len(lot_right), 1 / len(lot_right)))
    all_odds, wrong, mass = np.concatenate(odds), ~np.concatenate(right), np.concatenate(weight)
    for caution in CAUTION:
        sure = all_odds - caution > np.log(SURE / (1 - SURE))
        if (mass * (sure & wrong)).sum() <= SURE_WRONG * (mass * sure).sum():
            return float(caution)
    return float(CAUTION[-1])


def _narrowest_range(true: Sequence[int], numbers: Sequence[Sequence[WeighedNumber]]) -> tuple[float, float]:
    """The limits with the narrowest ranges of those that hold the truth in RANGE_COVER of the lots, or else most often."""
    found = []
    for pair in product(FEWER_NATS, MORE_SHARES):
        ranges = [possible_numbers(one, pair) for one in numbers]
        covered = np.mean([low <= number <= high for number, (low, high) in zip(true, ranges, strict=True)])
        width = float(np.mean([high - low for low, high in ranges]))
        found.append((-min(float(covered), RANGE_COVER), width, pair))
    return min(found)[2]


def support_features(held: HeldSherds) -> NDArray[np.float64]:
    """What SupportCurve weighs, (n, 3)."""
    gap = np.full(len(held.margin), min(held.gap_nats, GAP_LIMIT_NATS) / 20)
    return np.stack([np.arcsinh(held.margin), np.arcsinh(np.maximum(held.separation, 0)), gap], axis=1)


def rightly_placed(pots: Sequence[int], vessels: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Whether most of each sherd's vessel is of its pot, (n,) bool."""
    pot = np.asarray(pots)
    table = np.zeros((int(vessels.max()) + 1, int(pot.max()) + 1), np.intp)
    np.add.at(table, (vessels, pot), 1)
    return np.asarray(table.argmax(axis=1)[vessels] == pot)
