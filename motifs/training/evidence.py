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
from motifs.records import Links
from motifs.training.lots import known_lot, load_lots, orders, save_lots, see_lot
from motifs.vessels import SupportCurve, sort_sherds

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from motifs.evidence import Calibration
    from motifs.records import VesselSorting

SAY = {"tone": 0.2, "paint": 0.25, "line": 0.5, "texture": 0.25, "gap": 0.25, "vessel_vector": 0.25}
"""How much of its log likelihood a cue is given: little for what varies in lumps within a vessel."""
VESSEL_NATS = 20.0
RANGE_NATS = (3.0, 6.0, 12.0, 25.0, 50.0)
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
    cues = tuple(replace(cue, say=SAY.get(cue.name, 1.0)) for cue in fitted.cues)
    calibration = fit_support(replace(fitted, cues=cues, vessel_nats=VESSEL_NATS), settled)
    save_calibration(calibration, out)
    return calibration


def fit_support(calibration: Calibration, lots: Sequence[KnownLot]) -> Calibration:
    """Fit how raw support maps to the share of sherds rightly placed, and how wide the range of vessels has to be.

    A sherd is rightly placed when most of its vessel is of its pot and most of its pot is in that vessel. The least
    range in RANGE_NATS that holds the true number in RANGE_COVER of the lots is taken, or the widest.
    """
    sorted_lots = [(lot, _sorted(calibration, lot, RANGE_NATS[0])) for lot in lots]
    odds, right = map(np.concatenate, zip(*(_placed(lot, sorting) for lot, sorting in sorted_lots), strict=True))
    model = LogisticRegression(C=1e3).fit(odds[:, None], right)
    intercept, slope = float(model.intercept_[0]), float(model.coef_[0, 0])
    cover = {nats: np.mean([_holds_truth(lot, _sorted(calibration, lot, nats)) for lot in lots]) for nats in RANGE_NATS}
    enough = [nats for nats, share in cover.items() if share >= RANGE_COVER]
    return replace(
        calibration, support_intercept=intercept, support_slope=slope, range_nats=min(enough, default=RANGE_NATS[-1])
    )


def _sorted(calibration: Calibration, lot: KnownLot, range_nats: float) -> VesselSorting:
    raw = SupportCurve(vessel_nats=calibration.vessel_nats, range_nats=range_nats)
    return sort_sherds(lot_blocks(calibration, lot.readings), lot.photos, Links(), support=raw)


def _holds_truth(lot: KnownLot, sorting: VesselSorting) -> bool:
    low, high = sorting.vessels_range
    return low <= len(set(lot.vessels)) <= high


def _placed(lot: KnownLot, sorting: VesselSorting) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Log odds of the raw support of every assigned sherd, and whether it is rightly placed."""
    found = np.array([-1 if one.vessel is None else one.vessel for one in sorting.assignments])
    support = np.clip([one.support for one in sorting.assignments], 1e-6, 1 - 1e-6)
    table = np.zeros((found.max() + 2, max(lot.vessels) + 1))
    np.add.at(table, (found, np.array(lot.vessels)), 1)
    table = table[:-1] if (found < 0).any() else table
    right = np.array(
        [
            vessel >= 0 and table[vessel].argmax() == pot and table[:, pot].argmax() == vessel
            for vessel, pot in zip(found, lot.vessels, strict=True)
        ]
    )
    assigned = found >= 0
    return np.log(support / (1 - support))[assigned], right[assigned]
