"""How probable it is that two sherds show the same motif, from how alike their vectors are and where they agree.

Logistic curves [1]_ fitted on practice gatherings whose motif families no encoder was trained on; kept beside the
model as FILE.likeness.json with the mean vector that is taken away before vectors are compared, and refused for
any other encoder. The curves hold for gatherings like those: in a collection where far fewer sherds share a
motif, probabilities are too high.

References
----------
.. [1] Platt 1999, "Probabilistic Outputs for Support Vector Machines", Advances in Large Margin Classifiers.
"""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from motifs.errors import ModelError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SUFFIX = ".likeness.json"
COMPARABLE = 0.5
"""Below this probability nothing found is called comparable."""


@dataclass(frozen=True, slots=True)
class Likeness:
    """Curves of one encoder.

    encoder: the key its vectors are kept under. mean: of all vectors, taken away before comparing. similarity_only:
    intercept and slope of the log odds over the similarity. with_agreement: intercept, slope over the similarity and
    over the agreement's strength, for pairs that were laid over each other. tag_vote: intercept and slopes of the log
    odds that a proposed term is right over its log share of the votes and the log odds of its best witness.
    measures: what was measured on gatherings kept apart (calibration error and so on). made_by: the command.
    """

    encoder: str
    mean: tuple[float, ...]
    similarity_only: tuple[float, float]
    with_agreement: tuple[float, float, float]
    tag_vote: tuple[float, float, float]
    measures: Mapping[str, float]
    made_by: str

    def __post_init__(self) -> None:
        """Refuse curves that fall where they have to rise (ModelError)."""
        numbers = (*self.similarity_only, *self.with_agreement, *self.tag_vote, *self.mean)
        if not all(math.isfinite(number) for number in numbers):
            raise ModelError(f"likeness of {self.encoder!r} has numbers that are not finite; fit it again")
        if min(self.similarity_only[1], *self.with_agreement[1:]) < 0.0:
            raise ModelError(f"likeness of {self.encoder!r} falls with similarity; fit it again")

    def log_odds(self, similarity: float, strength: float | None = None) -> float:
        """Log odds that two sherds show the same motif.

        Parameters
        ----------
        similarity: of their averaged vectors, -1..1. strength: of their agreement, >= 0; None where none was looked for.
        """
        if strength is None:
            return self.similarity_only[0] + self.similarity_only[1] * similarity
        intercept, slope, weight = self.with_agreement
        return intercept + slope * similarity + weight * strength

    def probability(self, similarity: float, strength: float | None = None) -> float:
        """Probability, 0..1; parameters as log_odds."""
        return logistic(self.log_odds(similarity, strength))

    def tag_confidence(self, votes: float, all_votes: float, best: float) -> float:
        """Probability that a proposed term is right.

        Parameters
        ----------
        votes, all_votes: sums of probabilities over the neighbours that bear the term, and over all tagged ones.
        best: the highest probability among those that bear it, 0..1.
        """
        share, witness = vote_features(votes, all_votes, best)
        return logistic(self.tag_vote[0] + self.tag_vote[1] * share + self.tag_vote[2] * witness)


def vote_features(votes: float, all_votes: float, best: float) -> tuple[float, float]:
    """What a term's confidence rests on: log of its votes over the others', and the log odds of its best witness."""
    others = max(all_votes - votes, 0.0)
    witness = min(max(best, 0.01), 0.99)
    return math.log((votes + 0.1) / (others + 0.1)), math.log(witness / (1.0 - witness))


def logistic(log_odds: float) -> float:
    """Log odds to probability, without overflow."""
    return 1.0 / (1.0 + math.exp(-min(max(log_odds, -40.0), 40.0)))


def calibration_error(probabilities: Floats, is_right: NDArray[np.bool_], bins: int = 10) -> float:
    """Expected calibration error over bins of equal width (Naeini, Cooper & Hauskrecht 2015, AAAI).

    Parameters
    ----------
    probabilities: (N,) 0..1. is_right: (N,). bins: >= 1.

    Returns
    -------
    0..1: mean distance between stated probability and share of right ones, each bin by its size; NaN for N = 0.
    """
    if not len(probabilities):
        return float("nan")
    bin_of = np.minimum((np.asarray(probabilities) * bins).astype(int), bins - 1)
    sizes = np.bincount(bin_of, minlength=bins)
    stated = np.bincount(bin_of, weights=probabilities, minlength=bins)
    right = np.bincount(bin_of, weights=np.asarray(is_right, float), minlength=bins)
    return float(np.abs(stated - right).sum() / sizes.sum())


def save_likeness(likeness: Likeness, path: Path) -> None:
    """Write the curves as JSON."""
    document = {**asdict(likeness), "mean": [float(f"{value:.5g}") for value in likeness.mean]}
    path.write_text(json.dumps(document, indent=1), encoding="utf-8")


def load_likeness(path: Path, encoder: str) -> Likeness | None:
    """Read the curves of an encoder.

    Returns
    -------
    None where there is no file, or it is of another encoder: then nothing is said of probabilities.

    Raises
    ------
    ModelError: the file is there and no likeness.
    """
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as problem:
        raise ModelError(f"{path.name} is no likeness table ({problem}); put the original file back") from problem
    known = {field.name for field in fields(Likeness)}
    if not isinstance(document, dict) or set(document) != known:
        raise ModelError(f"{path.name} is no likeness table (its entries are others); put the original file back")
    if document["encoder"] != encoder:
        return None
    try:
        for name in ("mean", "similarity_only", "with_agreement", "tag_vote"):
            document[name] = tuple(float(value) for value in document[name])
        return Likeness(**document)
    except (TypeError, ValueError) as problem:
        raise ModelError(f"{path.name} is no likeness table ({problem}); put the original file back") from problem
