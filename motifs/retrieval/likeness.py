"""How probable it is that two sherds show the same motif, from how alike their vectors are and where they agree.

Logistic curves [1]_ fitted on practice gatherings whose motif families no encoder was trained on; kept beside the
model as FILE.likeness.json with the mean vector that is taken away before vectors are compared, and refused for
any other encoder.

What a page lists is a choice: the nearest of many are alike by chance too, the more so the more there are and the more
usual the query looks. So a list is judged by how far its best similarity stands out from those of all that
were compared with the query [2]_, in spreads of theirs, and the curve was fitted on lists of many lengths, the first of
a list counting as much as all that follow it, in a third of which nothing showed the motif at all. Which of a list is the
likelier tells how near it is by way of others.

References
----------
.. [1] Platt 1999, "Probabilistic Outputs for Support Vector Machines", Advances in Large Margin Classifiers.
.. [2] Auckenthaler, Carey & Lloyd-Thomas 2000, "Score Normalization for Text-Independent Speaker Verification Systems",
       Digital Signal Processing 10 (test normalisation); median and median deviation here, which hits do not move.
"""

from __future__ import annotations

import json
import math
from dataclasses import asdict, astuple, dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from motifs.errors import ModelError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SUFFIX = ".likeness.json"
FARTHEST = 1e-3
"""Nearness by way of neighbours below which nothing more is told apart."""
COMPARABLE = 0.5
"""Below this probability nothing found is called comparable."""


MAD_TO_SD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""


@dataclass(frozen=True, slots=True)
class Background:
    """How alike a query is to all it is compared with. centre: -1..1; spread: > 0, in similarity; count: how many."""

    centre: float
    spread: float
    count: int


def background_of(similarities: NDArray[np.floating]) -> Background:
    """Median and spread of a query's similarities to all, or to a random sample of all, that it is compared with.

    Parameters
    ----------
    similarities: (N,), N >= 0.
    """
    if not len(similarities):
        return Background(0.0, 1.0, 0)
    centre = float(np.median(similarities))
    spread = MAD_TO_SD * float(np.median(np.abs(similarities - centre)))
    return Background(centre, max(spread, 1e-3), len(similarities))


@dataclass(frozen=True, slots=True)
class ListedCurve:
    """Log odds that a listed neighbour shows the query's motif: intercept + weight x standing + way x nearness.

    standing: how far the best similarity on the list stands out from the background's centre, in its spreads; one for a whole
    list. nearness: logarithm of how near the neighbour is by way of others (see diffusion.py), never less than that of FARTHEST;
    so a list's order is theirs. usual_centre, usual_spread: of the lists it was fitted on; a background of few sherds is drawn
    towards them as if `usual_count` more lay there.
    """

    intercept: float
    weight: float
    way: float
    usual_centre: float
    usual_spread: float
    usual_count: float = 20.0

    def __post_init__(self) -> None:
        """Refuse a curve that falls where it has to rise, or that cannot be (ModelError)."""
        if not all(math.isfinite(value) for value in astuple(self)):
            raise ModelError("a curve for lists has numbers that are not finite; fit it again")
        if min(self.weight, self.way, self.usual_count) < 0.0 or self.usual_spread <= 0.0:
            raise ModelError("a curve for lists falls with similarity; fit it again")

    def standing(self, similarity: float, background: Background) -> float:
        """How far a similarity stands out, in spreads."""
        total = background.count + self.usual_count
        share = background.count / total if total else 0.0
        centre = share * background.centre + (1.0 - share) * self.usual_centre
        spread = share * background.spread + (1.0 - share) * self.usual_spread
        return (similarity - centre) / spread

    def log_odds(self, near: float, best: float, background: Background) -> float:
        """Log odds of a neighbour.

        Parameters
        ----------
        near: of the neighbour by way of others, 0..1. best: the greatest similarity on the list, -1..1. background: of the list.
        """
        return self.intercept + self.weight * self.standing(best, background) + self.way * way_feature(near)


@dataclass(frozen=True, slots=True)
class Likeness:
    """Curves of one encoder.

    encoder: the key its vectors are kept under. mean: of all vectors, taken away before comparing. similarity_only:
    intercept and slope of the log odds over the similarity. with_agreement: intercept, slope over the similarity and
    over the agreement's strength, for pairs that were laid over each other. tag_vote: intercept and slopes of the log
    odds that a proposed term is right over its log share of the votes and the log odds of its best witness. listed: for
    neighbours on a list, in with_agreement's place; None in tables made before there was one.
    measures: what was measured on gatherings kept apart (calibration error and so on). made_by: the command.
    """

    encoder: str
    mean: tuple[float, ...]
    similarity_only: tuple[float, float]
    with_agreement: tuple[float, float, float]
    tag_vote: tuple[float, float, float]
    measures: Mapping[str, float]
    made_by: str
    listed: ListedCurve | None = None

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


def way_feature(near: float) -> float:
    """What a curve for lists takes of a nearness by way of neighbours, 0..1."""
    return math.log(max(near, FARTHEST))


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
    if not isinstance(document, dict) or set(document) | {"listed"} != known:
        raise ModelError(f"{path.name} is no likeness table (its entries are others); put the original file back")
    if document["encoder"] != encoder:
        return None
    try:
        for name in ("mean", "similarity_only", "with_agreement", "tag_vote"):
            document[name] = tuple(float(value) for value in document[name])
        if document.get("listed") is not None:
            document["listed"] = ListedCurve(**document["listed"])
        return Likeness(**document)
    except (TypeError, ValueError) as problem:
        raise ModelError(f"{path.name} is no likeness table ({problem}); put the original file back") from problem
