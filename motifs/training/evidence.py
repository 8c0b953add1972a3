"""Fit models/evidence.json: practice lots seen as intake sees them, with vectors of the shipped vessel encoder."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from sklearn.linear_model import LogisticRegression

from motifs.embedding import encode_crops, shipped_encoders
from motifs.evidence import KnownLot, fit_calibration, lot_blocks, save_calibration
from motifs.evidence.measuring import VESSEL_ENCODER
from motifs.evidence.polarity import settle_polarity
from motifs.training.lots import known_lot, load_lots, orders, save_lots, see_lot
from motifs.vessels import hold_sherds
from motifs.vessels.sorting import GAP_LIMIT_NATS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from motifs.evidence import Calibration
    from motifs.vessels import HeldSherds

SAY = {"tone": 0.2, "paint": 0.25}
"""How much of its log likelihood a cue is given where a sherd is placed: little for what varies in lumps within a vessel."""
NUMBER_SAY = {"tone": 0.1, "paste": 1.0, "texture": 0.3, "vessel_vector": 0.2, "paint": 0.15, "line": 0.1, "gap": 0.1}
"""The same where the number of vessels is weighed."""
VESSEL_NATS = 45.0
RANGE_NATS = (5.0, 10.0, 20.0, 30.0, 40.0)
RANGE_COVER = 0.95


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
    calibration = fit_support(replace(fitted, cues=cues, vessel_nats=VESSEL_NATS), settled)
    save_calibration(calibration, out)
    return calibration


def fit_support(calibration: Calibration, lots: Sequence[KnownLot]) -> Calibration:
    """Fit how firmly a sherd is held to the share of sherds rightly placed, and how wide the range of vessels has to be.

    A sherd is rightly placed when most of its vessel is of its pot. Lots weigh alike. The least range in RANGE_NATS that
    holds the true number in RANGE_COVER of the lots is taken, or the widest.
    """
    held = [hold_sherds(lot_blocks(calibration, lot.readings), lot.photos, calibration.vessel_nats) for lot in lots]
    several = [(lot, one) for lot, one in zip(lots, held, strict=True) if len(set(one.labels.tolist())) > 1]
    x = np.concatenate([support_features(one) for _, one in several])
    right = np.concatenate([rightly_placed(lot.vessels, one.labels) for lot, one in several])
    weight = np.concatenate([np.full(len(one.labels), 60 / len(one.labels)) for _, one in several])
    model = LogisticRegression(C=1.0).fit(x, right, weight)
    intercept, (margin, separation, gap) = float(model.intercept_[0]), map(float, model.coef_[0])
    cover = {
        nats: np.mean([_holds_truth(lot, one, nats) for lot, one in zip(lots, held, strict=True)])
        for nats in RANGE_NATS
    }
    enough = [nats for nats, share in cover.items() if share >= RANGE_COVER]
    return replace(
        calibration,
        support=(intercept, margin, separation, gap),
        range_nats=min(enough, default=RANGE_NATS[-1]),
    )


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


def _holds_truth(lot: KnownLot, held: HeldSherds, nats: float) -> bool:
    possible = [number for number, lag in held.numbers if lag >= -nats]
    return min(possible) <= len(set(lot.vessels)) <= max(possible)
