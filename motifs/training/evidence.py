"""Fit models/evidence.json: practice lots seen as intake sees them, with vectors of the shipped vessel encoder."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from motifs.embedding import encode_crops, shipped_encoders
from motifs.evidence import KnownLot, fit_calibration, save_calibration
from motifs.evidence.measuring import VESSEL_ENCODER
from motifs.evidence.polarity import settle_polarity
from motifs.training.lots import known_lot, load_lots, orders, save_lots, see_lot

if TYPE_CHECKING:
    from pathlib import Path

    from motifs.evidence import Calibration

SAY = {"tone": 0.2, "paint": 0.25, "line": 0.5, "texture": 0.25, "gap": 0.25, "vessel_vector": 0.5}
"""How much of its log likelihood a cue is given: little for what varies in lumps within a vessel."""
VESSEL_NATS = 15.0


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
    calibration = replace(fitted, cues=cues, vessel_nats=VESSEL_NATS)
    save_calibration(calibration, out)
    return calibration
