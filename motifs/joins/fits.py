"""From the measures of a meeting to a calibrated probability that the two sherds touched, with numbers from models/joins.json.

Two steps of logistic regression (Cox 1958, J. R. Stat. Soc. B 20, 215-242): the meeting alone, then the meeting among its rivals
and the third sherds that vouch for it. Both are adapted to each lot (see `judging`).
Each exists twice: with everything, which is the fit; and for the edges alone (form and crossing paint), whose likelihood ratio
may be added to evidence from the colour of paste without counting that twice.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from motifs.errors import ModelError
from motifs.joins.features import ALL_FEATURES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

MODEL_FILE: Final = Path(__file__).resolve().parents[2] / "models" / "joins.json"
SPARE_NATS: Final = 3.0
DEEP_MM: Final = 1.0
OUT_NATS: Final = -6.0
"""Of 735 true joins on practice lots and tune seeds, 2 overlap by more than DEEP_MM times their length."""
TELLING: Final = ("shared_fine", "shared_middle", "shared_coarse", "colour_course", "strokes_met")


@dataclass(frozen=True, slots=True)
class FitCurve:
    """One logistic in two steps.

    names: features used, with mean, scale and weight each; intercept. low, high: range of each feature that was common when
    fitting; beyond it nothing is known, so values are clipped to it.
    among: weights of the second step for (log odds, weaker rivals, stronger rivals, loops), and its intercept.
    base_odds: natural-log odds that a best meeting of a pair is a join, over the lots it was fitted on.
    """

    names: tuple[str, ...]
    mean: tuple[float, ...]
    scale: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    weights: tuple[float, ...]
    intercept: float
    among: tuple[float, ...]
    among_intercept: float
    base_odds: float

    def standard(self, table: NDArray[np.float64]) -> NDArray[np.float64]:
        """(m, len(names)) features in standard units; table as `feature_table` gives it."""
        columns = [ALL_FEATURES.index(name) for name in self.names]
        known = np.clip(table[:, columns], np.array(self.low), np.array(self.high))
        return np.asarray((known - np.array(self.mean)) / np.array(self.scale))

    def alone(self, table: NDArray[np.float64]) -> NDArray[np.float64]:
        """(m,) natural-log odds of meetings by themselves."""
        odds = self.standard(table) @ np.array(self.weights) + self.intercept
        return np.asarray(np.minimum(odds, self.base_odds + told_nats(table)))

    def among_others(self, table: NDArray[np.float64]) -> NDArray[np.float64]:
        """(m,) natural-log odds once rivals and loops are known; table as `among_table` gives it."""
        return np.asarray(table @ np.array(self.among) + self.among_intercept)


def told_nats(table: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m,) at most so many nats a meeting can tell: what form and paint share, and SPARE_NATS. A straight line fits anything.

    Sherds that would lie in each other deeper than DEEP_MM all along their contact are no join, whatever else they share.
    """
    columns = [ALL_FEATURES.index(name) for name in TELLING]
    told = np.maximum(table[:, columns], 0.0).sum(axis=1) + SPARE_NATS
    overlap_mm2 = np.expm1(table[:, ALL_FEATURES.index("overlap")])
    length_mm = 10 * table[:, ALL_FEATURES.index("length")]
    return np.asarray(np.where(overlap_mm2 > DEEP_MM * (length_mm + 1), OUT_NATS, told))


def among_table(
    odds: NDArray[np.float64], rivals: NDArray[np.float64], loops: NDArray[np.float64]
) -> NDArray[np.float64]:
    """(m, 4) what the second step looks at: odds alone (m,), rivals (m, 2), loops (m,)."""
    return np.stack([odds, rivals[:, 0], rivals[:, 1], loops], axis=1)


@dataclass(frozen=True, slots=True)
class JoinModel:
    """fit: with everything. edges: without the colour of the paste. made_by: the command and the lots."""

    fit: FitCurve
    edges: FitCurve
    made_by: str


def save_model(model: JoinModel, file: Path) -> None:
    """Write a model as JSON."""
    file.write_text(json.dumps(asdict(model), indent=1) + "\n", encoding="utf-8")


@cache
def load_model(file: Path = MODEL_FILE) -> JoinModel:
    """Read a model.

    Raises
    ------
    ModelError
        The file is missing or is not such a model.
    """
    try:
        kept = json.loads(file.read_text(encoding="utf-8"))
        model = JoinModel(_curve(kept["fit"]), _curve(kept["edges"]), str(kept["made_by"]))
    except OSError as problem:
        raise ModelError(f"{file.name} cannot be read ({problem.strerror}): get the models folder again") from problem
    except (ValueError, KeyError, TypeError) as problem:
        raise ModelError(f"{file.name} is not a table of joins ({problem}): get the models folder again") from problem
    return model


def _curve(kept: dict[str, Any]) -> FitCurve:
    def numbers(name: str) -> tuple[float, ...]:
        return tuple(float(value) for value in kept[name])

    names = tuple(str(name) for name in kept["names"])
    if not set(names) <= set(ALL_FEATURES):
        raise ValueError(f"unknown features {sorted(set(names) - set(ALL_FEATURES))}")
    curve = FitCurve(
        names, numbers("mean"), numbers("scale"),
        numbers("low"),
        numbers("high"), numbers("weights"), float(kept["intercept"]),
        numbers("among"), float(kept["among_intercept"]), float(kept["base_odds"]),
    )  # fmt: skip
    if not len(names) == len(curve.mean) == len(curve.scale) == len(curve.weights) or len(curve.among) != 4:
        raise ValueError("numbers of features and of weights differ")
    return curve


def probability(odds: NDArray[np.float64]) -> NDArray[np.float64]:
    """0..1 from natural-log odds."""
    return np.asarray(1 / (1 + np.exp(-np.clip(odds, -50, 50))))


def vessel_llr(edge_llr: Sequence[float] | NDArray[np.float64], joining_share: float) -> NDArray[np.float64]:
    """Natural-log likelihood ratio of one vessel against two, from that of a join.

    Two sherds of one vessel touch with probability `joining_share`; of two vessels never. So a good join is strong evidence
    and no join is almost none.
    """
    ratio = np.exp(np.clip(np.asarray(edge_llr, np.float64), -50, 50))
    return np.asarray(np.log(joining_share * ratio + 1 - joining_share))
