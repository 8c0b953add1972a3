"""What practice lots taught about each cue: how much it varies within a vessel and between the vessels of one lot.

Every cue's raw components are first cleared of what the cues before it already explain within a vessel (so that nothing is
counted twice), then turned and scaled so that the within-vessel covariance is the identity and the between-vessel covariance
diagonal: linear discriminant axes (Fisher 1936) with their two variance components, as in probabilistic linear
discriminant analysis (Ioffe 2006).
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from motifs.errors import ModelError
from motifs.evidence.components import CUE_ORDER, raw_components
from motifs.records import CueBlock

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from motifs.records import CueReading

CALIBRATION_FILE = Path(__file__).resolve().parents[2] / "models" / "evidence.json"
FORMAT = 4


@dataclass(frozen=True, slots=True)
class CueModel:
    """One cue's calibration, for raw components of length c kept on d axes.

    centre: (c,). earlier: names of the cues whose calibrated axes are regressed out, in order. regression: (sum of their
    axes, c). axes: (c, d): calibrated = (raw - centre - earlier @ regression) @ axes. between, photo_sd: (d,). tail: degrees of freedom.
    spread_floor, spread_slope: spread = floor + slope * mean squared standard uncertainty of the reading on the axes.
    """

    name: str
    centre: NDArray[np.float64]
    earlier: tuple[str, ...]
    regression: NDArray[np.float64]
    axes: NDArray[np.float64]
    between: NDArray[np.float64]
    photo_sd: NDArray[np.float64]
    tail: float
    spread_floor: float
    spread_slope: float
    say: float = 1.0
    number_say: float = 1.0


@dataclass(frozen=True, slots=True)
class Calibration:
    """All cues in order, what one more vessel costs, and the support curve (see motifs.vessels.SupportCurve).

    support: intercept, and the weights of a sherd's margin, of its vessels' separation and of the sorting's lead.
    range_limits: nats by which a sorting with fewer vessels may lie behind the best to stay possible, and the share of what each
    further vessel is asked to earn that it may lose.
    """

    cues: tuple[CueModel, ...]
    vessel_nats: float
    support: tuple[float, float, float, float]
    range_limits: tuple[float, float]
    made_by: str


def lot_blocks(calibration: Calibration, readings: Sequence[Mapping[str, CueReading]]) -> list[CueBlock]:
    """Calibrated blocks of a lot, one for each cue of the calibration, rows in the order of `readings`."""
    done: dict[str, CueBlock] = {}
    for model in calibration.cues:
        done[model.name] = calibrated_block(model, readings, done)
    return list(done.values())


def calibrated_block(
    model: CueModel, readings: Sequence[Mapping[str, CueReading]], done: Mapping[str, CueBlock]
) -> CueBlock:
    """One cue's block, given the blocks of the cues before it; absent where the cue is unknown."""
    raw, sd, present = raw_components(model.name, readings, len(model.centre))
    known = (
        np.concatenate([_filled(done[name]) for name in model.earlier], axis=1)
        if model.earlier
        else np.zeros((len(raw), 0))
    )
    turned = (raw - model.centre - known @ model.regression) @ model.axes
    noise = (sd**2 @ model.axes**2).mean(axis=1)
    spread = np.maximum(model.spread_floor + model.spread_slope * noise, 0.2)
    x = np.where(present[:, None], turned, 0.0)
    return CueBlock(
        model.name,
        x,
        present,
        np.where(present, spread, 1.0),
        model.between,
        model.photo_sd,
        model.tail,
        model.say,
        model.number_say,
    )


def _filled(block: CueBlock) -> NDArray[np.float64]:
    """A block's values, the lot's middle where a reading is absent."""
    if block.present.all() or not block.present.any():
        return block.x
    return np.where(block.present[:, None], block.x, np.median(block.x[block.present], axis=0))


def load_calibration(path: Path = CALIBRATION_FILE) -> Calibration:
    """Read the calibration table.

    Raises
    ------
    ModelError
        No such file, or not a calibration table of this version.
    """
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise ModelError(
            f"{path} is missing: restore it from the project, or make it with 'python -m motifs.training evidence'"
        ) from None
    except ValueError as reason:
        raise ModelError(f"{path} is not JSON ({reason}): restore it from the project") from None
    try:
        return _from_document(document)
    except (KeyError, TypeError, ValueError) as reason:
        raise ModelError(
            f"{path} is not a calibration table of this version ({reason!r}): restore it from the project"
        ) from None


def save_calibration(calibration: Calibration, path: Path) -> None:
    """Write the table as JSON, numbers to six significant digits."""
    cues = [
        {
            "name": cue.name,
            "earlier": list(cue.earlier),
            "tail": _short(cue.tail),
            "spread_floor": _short(cue.spread_floor),
            "spread_slope": _short(cue.spread_slope),
            "say": _short(cue.say),
            "number_say": _short(cue.number_say),
            **{key: _short(getattr(cue, key)) for key in _ARRAYS},
        }
        for cue in calibration.cues
    ]
    document = {
        "format": FORMAT,
        "made_by": calibration.made_by,
        "vessel_nats": _short(calibration.vessel_nats),
        "support": [_short(weight) for weight in calibration.support],
        "range_limits": [_short(limit) for limit in calibration.range_limits],
        "cues": cues,
    }
    path.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


_ARRAYS = ("centre", "regression", "axes", "between", "photo_sd")


def _short(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return [_short(item) for item in value.tolist()]
    if isinstance(value, list):
        return [_short(item) for item in value]
    return float(f"{value:.6g}")


def _from_document(document: Mapping[str, Any]) -> Calibration:
    if document["format"] != FORMAT:
        raise ValueError(f"format {document['format']}")
    cues = []
    for row in document["cues"]:
        if row["name"] not in CUE_ORDER:
            raise ValueError(f"unknown cue {row['name']!r}")
        arrays = {key: np.asarray(row[key], np.float64) for key in _ARRAYS}
        arrays["regression"] = arrays["regression"].reshape(-1, len(arrays["centre"]))
        cues.append(
            CueModel(
                row["name"],
                earlier=tuple(row["earlier"]),
                tail=float(row["tail"]),
                spread_floor=float(row["spread_floor"]),
                spread_slope=float(row["spread_slope"]),
                say=float(row["say"]),
                number_say=float(row["number_say"]),
                **arrays,
            )
        )
    intercept, margin, separation, gap = (float(weight) for weight in document["support"])
    fewer, more = (float(limit) for limit in document["range_limits"])
    return Calibration(
        tuple(cues),
        float(document["vessel_nats"]),
        (intercept, margin, separation, gap),
        (fewer, more),
        str(document["made_by"]),
    )
