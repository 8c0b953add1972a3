"""Gatherings: practice lots of several sites that share motif families kept out of training, read as intake reads them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.practice import FAMILIES, family_split, make_lot
from motifs.practice.camera import jpeg_bytes
from motifs.records import SherdCrop
from motifs.training.lots import read_sherds

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.practice import Family

LOTS, POTS, SHERDS, FAMILIES_SHARED = 3, 4, 40, 10
LEAST_SHARE = 0.1
"""A sherd shows a family that covers at least this share of it."""


@dataclass(frozen=True, slots=True)
class Gathering:
    """Sherds of several lots. shows: (N, F) bool, families shown; lots: N names; families: F names."""

    crops: tuple[SherdCrop, ...]
    lots: tuple[str, ...]
    shows: NDArray[np.bool_]
    families: tuple[str, ...]
    name: str


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
