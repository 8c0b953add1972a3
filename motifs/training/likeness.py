"""Fit models/*.likeness.json: practice gatherings of several lots that share motif families kept out of training.

    python -m motifs.training.likeness --work DIR --out models/motif.likeness.json

Crops are kept in DIR, so that a new encoder needs no new rendering. Curves are fitted on gatherings of families kept out
of training, `tune` and `report` ones alike, since how surely one motif is told from another differs more between
gatherings than a few of them can tell. What is measured is measured on each gathering in turn with curves fitted on
the others.
"""

from __future__ import annotations

import argparse
import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from sklearn.linear_model import LogisticRegression

from motifs.embedding import encode_crops, encoder_named, shipped_encoders
from motifs.retrieval.diffusion import Diffusion, diffused_similarity
from motifs.retrieval.likeness import (
    COMPARABLE,
    Background,
    Likeness,
    ListedCurve,
    background_of,
    calibration_error,
    logistic,
    save_likeness,
    vote_features,
    way_feature,
)
from motifs.retrieval.lots import averaged_in_lots, centred
from motifs.training.gatherings import gathering, pooled

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from motifs.embedding import EncoderSpec
    from motifs.training.gatherings import Gathering

CHECKED = 20
VOTERS = 8
ABSENT = 1.0 / 3.0
"""Share of the lists in which nothing shows the query's motif."""
TURNS = 4
"""Times every sherd is asked, of other lots each time."""


@dataclass(frozen=True, slots=True)
class Compared:
    """Gatherings compared. similarity: (N, N) of averaged vectors. same: (N, N) bool. lots: (N,). shows: (N, F) bool.

    near: (N, N), of row to column by way of neighbours, 0..1. gatherings: (N,) number of each sherd's.
    """

    similarity: NDArray[np.float64]
    near: NDArray[np.float64]
    same: NDArray[np.bool_]
    lots: NDArray[np.str_]
    shows: NDArray[np.bool_]
    gatherings: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Listed:
    """One list, nearest first. similarities, nears: (K,). is_same: (K,) bool, shows the query's motif. background: of all compared."""

    similarities: NDArray[np.float64]
    nears: NDArray[np.float64]
    is_same: NDArray[np.bool_]
    background: Background


def main(argv: Sequence[str] | None = None) -> int:
    """Render what is not there yet, fit, measure, write."""
    parser = argparse.ArgumentParser(prog="python -m motifs.training.likeness", description=__doc__)
    parser.add_argument("--work", type=Path, required=True, help="folder for crops, kept between runs")
    parser.add_argument("--out", type=Path, required=True, help="the table to write")
    parser.add_argument("--encoder", help="tag (default: the newest motif encoder of models/)")
    parser.add_argument("--gatherings", type=int, default=4, help="for fitting, and as many for measuring")
    parser.add_argument("--seed", type=int, default=31_000)
    given = parser.parse_args(argv)
    given.work.mkdir(parents=True, exist_ok=True)
    spec = encoder_named(given.encoder) if given.encoder else _newest_motif_encoder()
    tune = [gathering(given.work, "tune", given.seed + i) for i in range(given.gatherings)]
    report = [gathering(given.work, "report", given.seed + 500 + i) for i in range(given.gatherings)]
    likeness = fit(spec, [*tune, *report], given.work)
    save_likeness(likeness, given.out)
    for name, value in likeness.measures.items():
        print(f"{name}: {value:.3f}")
    return 0


def _newest_motif_encoder() -> EncoderSpec:
    return max((one for one in shipped_encoders() if one.tag.startswith("motif.")), key=lambda one: one.tag)


def _encoded(spec: EncoderSpec, one: Gathering, folder: Path) -> NDArray[np.float32]:
    """Vectors of a gathering, kept in the folder by the encoder's fingerprint."""
    file = folder / f"vectors-{hashlib.sha256(one.name.encode()).hexdigest()[:12]}-{spec.fingerprint}.npy"
    if not file.exists():
        np.save(file, encode_crops(spec, one.crops))
    vectors: NDArray[np.float32] = np.load(file, allow_pickle=False)
    return vectors


def fit(spec: EncoderSpec, gatherings: Sequence[Gathering], folder: Path) -> Likeness:
    """Fit the curves, and measure them on each gathering with those of the others; vectors are kept in the folder."""
    raw = np.concatenate([_encoded(spec, one, folder) for one in gatherings])
    mean = raw.mean(axis=0)
    compared = _compared(gatherings, raw, mean)
    curves = fitted(compared, compared.gatherings >= 0)
    return replace(
        curves,
        encoder=f"{spec.tag}.{spec.fingerprint}",
        mean=tuple(float(value) for value in mean),
        measures=measured(compared),
    )


def fitted(one: Compared, is_asked: NDArray[np.bool_]) -> Likeness:
    """Curves from what some of the sherds were told when asked. is_asked: (N,)."""
    plain = _fitted(*_pairs(one, is_asked))
    unvoted = Likeness(
        "", (), (plain[0], plain[1]),
        # Agreement gets no say: beside the similarity it told nothing more on practice gatherings.
        (plain[0], plain[1], 0.0),
        (0.0, 1.0, 1.0), {}, "python -m motifs.training.likeness",
        listed_curve(_asked(one, is_asked, 0, ABSENT)),
    )  # fmt: skip
    voted = _fitted(*_votes(unvoted, one, is_asked))
    return replace(unvoted, tag_vote=(voted[0], voted[1], voted[2]))


def _compared(gatherings: Sequence[Gathering], raw: NDArray[np.float32], mean: NDArray[np.float32]) -> Compared:
    one = pooled(gatherings)
    vectors = averaged_in_lots(centred(raw, mean), one.lots).astype(np.float64)
    same = (one.shows.astype(int) @ one.shows.T.astype(int)) > 0
    number = np.repeat(np.arange(len(gatherings)), [len(part.lots) for part in gatherings])
    return Compared(vectors @ vectors.T, nearness(vectors), same, np.array(one.lots), one.shows, number)


def nearness(vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    """(N, N): of every row, asked of all the others, by way of those around it."""
    near = np.zeros((len(vectors), len(vectors)))
    rows = vectors.astype(np.float32)
    for query in range(len(rows)):
        alike = rows @ rows[query]
        alike[query] = -2.0
        region = np.argsort(-alike, kind="stable")[: min(Diffusion().region, len(rows) - 1)]
        near[query, region] = diffused_similarity(rows[query], rows[region])
    return near


def _nearest(similarity: NDArray[np.float64], allowed: NDArray[np.bool_], count: int) -> NDArray[np.int64]:
    found = np.flatnonzero(allowed)
    return found[np.argsort(-similarity[found], kind="stable")[:count]]


def _pairs(one: Compared, is_asked: NDArray[np.bool_]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Every pair of sherds of two lots, the first of which was asked."""
    other_lot = (one.lots[:, None] != one.lots[None, :]) & is_asked[:, None]
    return one.similarity[other_lot][:, None], one.same[other_lot]


def _fitted(
    features: NDArray[np.float64], right: NDArray[np.bool_], weights: NDArray[np.float64] | None = None
) -> tuple[float, ...]:
    model = LogisticRegression(C=1e4, max_iter=2000).fit(features, right, sample_weight=weights)
    return (float(model.intercept_[0]), *(float(value) for value in model.coef_[0]))


def _asked(one: Compared, is_asked: NDArray[np.bool_], seed: int, absent: float) -> list[Listed]:
    return [found for turn in range(TURNS) for found in listed(one, is_asked, seed + turn, absent)]


def listed(one: Compared, is_asked: NDArray[np.bool_], seed: int, absent: float) -> Iterator[Listed]:
    """Lists as a page shows them: each sherd asked of some of the other lots.

    Parameters
    ----------
    is_asked: (N,). absent: share of the lists from which every sherd that shows the query's motif was taken away first.
    """
    rng = np.random.default_rng([53, seed])
    names = np.unique(one.lots)
    for query in np.flatnonzero(is_asked):
        others = names[names != one.lots[query]]
        chosen = rng.choice(others, int(rng.integers(1, len(others) + 1)), replace=False)
        allowed = np.isin(one.lots, chosen)
        if rng.random() < absent:
            allowed &= ~one.same[query]
        near = _nearest(one.near[query] + 1e-6 * one.similarity[query], allowed, CHECKED)
        if len(near):
            background = background_of(one.similarity[query, allowed])
            yield Listed(one.similarity[query, near], one.near[query, near], one.same[query, near], background)


def listed_curve(lists: Sequence[Listed]) -> ListedCurve:
    """Fit the curve for neighbours on a list; the first of a list weighs as much as all that follow it."""
    usual = ListedCurve(
        0.0, 0.0, 0.0,
        float(np.median([found.background.centre for found in lists])),
        float(np.median([found.background.spread for found in lists])),
    )  # fmt: skip
    features = np.array([row for found in lists for row in _features(usual, found)])
    right = np.concatenate([found.is_same for found in lists])
    weights = np.concatenate([[1.0] + [1.0 / CHECKED] * (len(found.is_same) - 1) for found in lists])
    intercept, weight, way = _fitted(features, right, weights)
    return replace(usual, intercept=intercept, weight=weight, way=way)


def _features(usual: ListedCurve, found: Listed) -> Iterator[tuple[float, float]]:
    standing = usual.standing(float(found.similarities.max()), found.background)
    for near in found.nears:
        yield standing, way_feature(float(near))


def _votes(
    likeness: Likeness, one: Compared, is_asked: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """What the first proposal of each sherd rests on when some of the others bear their true terms, and if it is right."""
    found = list(_gathering_votes(likeness, one, is_asked))
    return np.array([vote[:2] for vote in found]), np.array([vote[2] for vote in found], dtype=bool)


def _gathering_votes(
    likeness: Likeness, one: Compared, is_asked: NDArray[np.bool_]
) -> Iterator[tuple[float, float, bool]]:
    rng = np.random.default_rng(5)
    shows_any = one.shows.any(axis=1)
    for share in (0.2, 0.5, 0.8):
        is_tagged = rng.random(len(one.shows)) < share
        for sherd in np.flatnonzero(shows_any & is_asked):
            allowed = is_tagged & shows_any
            allowed[sherd] = False
            if rng.random() < ABSENT:  # its terms are nobody's yet
                allowed &= ~one.same[sherd]
            near = _nearest(one.similarity[sherd], allowed, VOTERS)
            if not len(near):
                continue
            p = np.array([likeness.probability(float(one.similarity[sherd, o])) for o in near])
            votes = p @ one.shows[near]
            term = int(votes.argmax())
            bearing = one.shows[near, term]
            yield (*vote_features(float(votes[term]), float(p.sum()), float(p[bearing].max())), one.shows[sherd, term])


def measured(one: Compared) -> dict[str, float]:
    """Figures on each gathering, with curves fitted on the others."""
    parts = []
    for number in np.unique(one.gatherings):
        is_out = one.gatherings == number
        parts.append(_stated_and_right(fitted(one, ~is_out), one, is_out))
    found = {"pairs of two lots": float(sum(len(part["similarity only"][0]) for part in parts))}
    for name in parts[0]:
        stated = np.concatenate([part[name][0] for part in parts])
        right = np.concatenate([part[name][1] for part in parts])
        found[f"calibration error, {name}"] = calibration_error(stated, right)
        found[f"stated on average, {name}"] = float(stated.mean())
        found[f"right, {name}"] = float(right.mean())
        if name != "similarity only":
            found |= _sure(name, stated, right)
    return found


def _sure(name: str, stated: NDArray[np.float64], right: NDArray[np.bool_]) -> dict[str, float]:
    """Shares that claim a half and nine tenths, and how many of those are right."""
    found: dict[str, float] = {}
    for least in (COMPARABLE, 0.9):
        sure = stated >= least
        found[f"claims {least:g}, {name}"] = float(sure.mean())
        if sure.any():
            found[f"right among those, {least:g}, {name}"] = float(right[sure].mean())
    return found


def _stated_and_right(
    likeness: Likeness, one: Compared, is_asked: NDArray[np.bool_]
) -> dict[str, tuple[NDArray[np.float64], NDArray[np.bool_]]]:
    similarity, same = _pairs(one, is_asked)
    plain = np.array([likeness.probability(float(value)) for value in similarity[:, 0]])
    found = {"similarity only": (plain, same)}
    for name, absent in (("", ABSENT), (", motif always absent", 1.0), (", nothing taken away", 0.0)):
        lists = _asked(one, is_asked, 100, absent)
        told = [stated(likeness, each) for each in lists]
        found[f"first of a list{name}"] = (
            np.array([each[0] for each in told]),
            np.array([each.is_same[0] for each in lists]),
        )
        found[f"twenty of a list{name}"] = (np.concatenate(told), np.concatenate([each.is_same for each in lists]))
    votes, right = _votes(likeness, one, is_asked)
    intercept, first, second = likeness.tag_vote
    found["first tag proposal"] = (np.array([logistic(intercept + first * a + second * b) for a, b in votes]), right)
    return found


def stated(likeness: Likeness, one: Listed) -> NDArray[np.float64]:
    """(K,) probabilities stated for one list."""
    if likeness.listed is None:
        return np.array([likeness.probability(float(similarity)) for similarity in one.similarities])
    best = float(one.similarities.max())
    return np.array([logistic(likeness.listed.log_odds(float(near), best, one.background)) for near in one.nears])


if __name__ == "__main__":
    raise SystemExit(main())
