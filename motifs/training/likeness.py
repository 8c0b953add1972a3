"""Fit models/*.likeness.json: practice gatherings of several lots that share motif families kept out of training.

    python -m motifs.training.likeness --work DIR --out models/motif.likeness.json

Crops are kept in DIR, so that a new encoder needs no new rendering. Curves are fitted on gatherings of the `tune`
families and measured on gatherings of the `report` families, which nothing was chosen on.
"""

from __future__ import annotations

import argparse
import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import cv2
import numpy as np
from sklearn.linear_model import LogisticRegression

from motifs.embedding import encode_crops, encoder_named, shipped_encoders
from motifs.practice import FAMILIES, family_split, make_lot
from motifs.practice.camera import jpeg_bytes
from motifs.records import SherdCrop
from motifs.retrieval.likeness import Likeness, calibration_error, logistic, save_likeness, vote_features
from motifs.retrieval.lots import averaged_in_lots, centred
from motifs.training.lots import read_sherds

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from motifs.embedding import EncoderSpec
    from motifs.practice import Family

LOTS, POTS, SHERDS, FAMILIES_SHARED = 3, 4, 40, 10
LEAST_SHARE = 0.1
"""A sherd shows a family that covers at least this share of it."""
CHECKED = 20
VOTERS = 8


@dataclass(frozen=True, slots=True)
class Gathering:
    """Sherds of several lots. shows: (N, F) bool, families shown; lots: N names; families: F names."""

    crops: tuple[SherdCrop, ...]
    lots: tuple[str, ...]
    shows: NDArray[np.bool_]
    families: tuple[str, ...]
    name: str


@dataclass(frozen=True, slots=True)
class Compared:
    """One gathering compared. similarity: (N, N) of averaged vectors. same, other_lot: (N, N) bool.

    checked: (K, 2), each query with its nearest: what a search lays over each other.
    """

    similarity: NDArray[np.float64]
    same: NDArray[np.bool_]
    other_lot: NDArray[np.bool_]
    checked: NDArray[np.int64]
    shows: NDArray[np.bool_]


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
    tune = pooled([gathering(given.work, "tune", given.seed + i) for i in range(given.gatherings)])
    report = pooled([gathering(given.work, "report", given.seed + 500 + i) for i in range(given.gatherings)])
    likeness = fit(spec, tune, report, given.work)
    save_likeness(likeness, given.out)
    for name, value in likeness.measures.items():
        print(f"{name}: {value:.3f}")
    return 0


def _newest_motif_encoder() -> EncoderSpec:
    return max((one for one in shipped_encoders() if one.tag.startswith("motif.")), key=lambda one: one.tag)


def gathering(folder: Path, split: str, seed: int) -> Gathering:
    """Read a gathering from the folder, or render and read it as intake would."""
    file = folder / f"gathering-{split}-{seed}.npz"
    families = _shared_families(split, np.random.default_rng([47, seed]))
    if not file.exists():
        _save(_rendered(split, seed), file)
        print(f"{file.name} rendered", flush=True)
    return _load(file, tuple(family.name for family in families))


def pooled(gatherings: Sequence[Gathering]) -> Gathering:
    """Several gatherings as one collection: then most pairs of sherds share no motif, as in a collection."""
    families = tuple(sorted({name for one in gatherings for name in one.families}))
    place = {name: column for column, name in enumerate(families)}
    shows = np.zeros((sum(len(one.lots) for one in gatherings), len(families)), np.bool_)
    start = 0
    for one in gatherings:
        for column, name in enumerate(one.families):
            shows[start : start + len(one.lots), place[name]] = one.shows[:, column]
        start += len(one.lots)
    return Gathering(
        tuple(crop for one in gatherings for crop in one.crops),
        tuple(f"{one.name} {lot}" for one in gatherings for lot in one.lots),
        shows,
        families,
        "+".join(one.name for one in gatherings),
    )


def _shared_families(split: str, rng: np.random.Generator) -> list[Family]:
    families = [family for family in FAMILIES if family_split(family.name) == split]
    return [families[int(i)] for i in rng.choice(len(families), FAMILIES_SHARED, replace=False)]


def _rendered(split: str, seed: int) -> Gathering:
    cv2.setNumThreads(1)
    rng = np.random.default_rng([47, seed])
    shared = _shared_families(split, rng)
    crops: list[SherdCrop] = []
    lots: list[str] = []
    shown: list[dict[str, float]] = []
    with TemporaryDirectory() as place:
        for number in range(LOTS):
            lot = make_lot(seed * 10 + number, POTS, 0.0, sherds=SHERDS, families=shared)
            for photo_number, photo in enumerate(lot.photos):
                file = Path(place) / f"{number}-{photo_number}.jpg"
                file.write_bytes(jpeg_bytes(photo.rgb, int(rng.integers(78, 96))))
                for seen in read_sherds(file, photo_number, photo):
                    crops.append(seen.crop)
                    lots.append(f"lot {number}")
                    shown.append(seen.families)
    shows = np.array([[one.get(family.name, 0.0) >= LEAST_SHARE for family in shared] for one in shown])
    return Gathering(tuple(crops), tuple(lots), shows, tuple(family.name for family in shared), f"{split}-{seed}")


def _save(one: Gathering, file: Path) -> None:
    arrays: dict[str, NDArray[np.generic]] = {"lots": np.array(one.lots), "shows": one.shows}
    for number, crop in enumerate(one.crops):
        arrays[f"image{number:04d}"], arrays[f"mask{number:04d}"] = crop.image, crop.mask
        arrays[f"scale{number:04d}"] = np.array([crop.px_per_mm, crop.source_px_per_mm, crop.is_scaled])
    with file.open("wb") as stream:
        np.savez_compressed(stream, **arrays)  # type: ignore[arg-type]  # its stubs take the first keyword for a flag


def _load(file: Path, families: tuple[str, ...]) -> Gathering:
    with np.load(file, allow_pickle=False) as stored:
        lots = tuple(str(lot) for lot in stored["lots"])
        crops = []
        for number in range(len(lots)):
            scale = stored[f"scale{number:04d}"]
            crops.append(
                SherdCrop(
                    stored[f"image{number:04d}"],
                    stored[f"mask{number:04d}"],
                    float(scale[0]),
                    float(scale[1]),
                    bool(scale[2]),
                )
            )
        return Gathering(tuple(crops), lots, stored["shows"], families, file.stem.removeprefix("gathering-"))


def _encoded(spec: EncoderSpec, one: Gathering, folder: Path) -> NDArray[np.float32]:
    """Vectors of a gathering, kept in the folder by the encoder's fingerprint."""
    file = folder / f"vectors-{hashlib.sha256(one.name.encode()).hexdigest()[:12]}-{spec.fingerprint}.npy"
    if not file.exists():
        np.save(file, encode_crops(spec, one.crops))
    vectors: NDArray[np.float32] = np.load(file, allow_pickle=False)
    return vectors


def fit(spec: EncoderSpec, tune: Gathering, report: Gathering, folder: Path) -> Likeness:
    """Fit the curves on the first gathering and measure them on the other; vectors are kept in the folder."""
    raw = _encoded(spec, tune, folder)
    mean = raw.mean(axis=0)
    compared = [_compared(tune, raw, mean)]
    similarity, same = _pairs(compared)
    plain = _fitted(similarity[:, None], same)
    # The nearest are a choice: of two pairs as alike, the one that came out first is less often right. Agreement gets no
    # say: beside the similarity it told nothing more on practice gatherings, and is there to be looked at.
    checked = _fitted(*_checked_pairs(compared))
    unvoted = Likeness(
        f"{spec.tag}.{spec.fingerprint}",
        tuple(float(value) for value in mean),
        (plain[0], plain[1]),
        (checked[0], checked[1], 0.0),
        (0.0, 1.0, 1.0),
        {},
        "python -m motifs.training.likeness",
    )
    votes, right = _votes(unvoted, compared)
    voted = _fitted(votes, right)
    fitted = replace(unvoted, tag_vote=(voted[0], voted[1], voted[2]))
    apart = [_compared(report, _encoded(spec, report, folder), mean)]
    return replace(fitted, measures=_measured(fitted, apart))


def _compared(one: Gathering, raw: NDArray[np.float32], mean: NDArray[np.float32]) -> Compared:
    vectors = averaged_in_lots(centred(raw, mean), one.lots).astype(np.float64)
    lots = np.array(one.lots)
    same = (one.shows.astype(int) @ one.shows.T.astype(int)) > 0
    similarity, other = vectors @ vectors.T, lots[:, None] != lots[None, :]
    checked = np.array([(q, o) for q in range(len(lots)) for o in _nearest(similarity[q], other[q], CHECKED)])
    return Compared(similarity, same, other, checked, one.shows)


def _nearest(similarity: NDArray[np.float64], allowed: NDArray[np.bool_], count: int) -> NDArray[np.int64]:
    found = np.flatnonzero(allowed)
    return found[np.argsort(-similarity[found], kind="stable")[:count]]


def _pairs(compared: Sequence[Compared]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Every pair of sherds of two lots."""
    similarity = np.concatenate([one.similarity[one.other_lot] for one in compared])
    return similarity, np.concatenate([one.same[one.other_lot] for one in compared])


def _checked_pairs(compared: Sequence[Compared]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    rows, same = [], []
    for one in compared:
        q, o = one.checked.T
        rows.append(one.similarity[q, o][:, None])
        same.append(one.same[q, o])
    return np.concatenate(rows), np.concatenate(same)


def _fitted(features: NDArray[np.float64], right: NDArray[np.bool_]) -> tuple[float, ...]:
    model = LogisticRegression(C=1e4, max_iter=2000).fit(features, right)
    return (float(model.intercept_[0]), *(float(value) for value in model.coef_[0]))


def _votes(likeness: Likeness, compared: Sequence[Compared]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """What the first proposal of each sherd rests on when some of the others bear their true terms, and if it is right."""
    found = [vote for one in compared for vote in _gathering_votes(likeness, one)]
    return np.array([vote[:2] for vote in found]), np.array([vote[2] for vote in found], dtype=bool)


def _gathering_votes(likeness: Likeness, one: Compared) -> Iterator[tuple[float, float, bool]]:
    rng = np.random.default_rng(5)
    for share in (0.2, 0.5, 0.8):
        is_tagged = rng.random(len(one.shows)) < share
        for sherd in np.flatnonzero(one.shows.any(axis=1)):
            allowed = is_tagged & one.shows.any(axis=1)
            allowed[sherd] = False
            near = _nearest(one.similarity[sherd], allowed, VOTERS)
            if not len(near):
                continue
            p = np.array([likeness.probability(float(one.similarity[sherd, o])) for o in near])
            votes = p @ one.shows[near]
            term = int(votes.argmax())
            bearing = one.shows[near, term]
            yield (*vote_features(float(votes[term]), float(p.sum()), float(p[bearing].max())), one.shows[sherd, term])


def _measured(likeness: Likeness, apart: Sequence[Compared]) -> dict[str, float]:
    """Figures on gatherings kept apart."""
    similarity, same = _pairs(apart)
    features, checked_same = _checked_pairs(apart)
    votes, right = _votes(likeness, apart)
    plain = np.array([likeness.probability(float(value)) for value in similarity])
    checked = np.array([likeness.probability(float(value), 0.0) for value in features[:, 0]])
    intercept, first, second = likeness.tag_vote
    stated = np.array([logistic(intercept + first * a + second * b) for a, b in votes])
    sure = stated >= 0.9
    found = {
        "pairs of two lots": float(len(same)),
        "share of them with one motif": float(same.mean()),
        "calibration error, similarity only": calibration_error(plain, same),
        "calibration error, the nearest twenty": calibration_error(checked, checked_same),
        "calibration error, first tag proposal": calibration_error(stated, right),
        "first tag proposal right": float(right.mean()),
        "proposals that claim 0.9": float(sure.mean()),
    }
    return found | ({"right among those": float(right[sure].mean())} if sure.any() else {})


if __name__ == "__main__":
    raise SystemExit(main())
