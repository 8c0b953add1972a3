"""Paint many practice pots and keep their surfaces in flat files that a graphics card can hold.

Pots come in groups of three: one drawn freely and two more or less like it (same motifs, other hand, paste and paint), which is
what the vessel encoder learns to tell apart. Only families of one split are used, so that whole families stay unseen.
"""

from __future__ import annotations

import json
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from motifs.practice import DRAWN_FAMILIES, FAMILIES, family_split, paint_pot

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray

PX_PER_MM = 5.0
HEIGHT_PX, WIDTH_PX = 800, 1920
MAP_STEP = 8
"""The motif map is kept at every eighth pixel."""
RELIEF_STEP_MM = 0.02
GROUP = 3


@dataclass(frozen=True, slots=True)
class Surfaces:
    """Painted surfaces, N pots.

    packed: (N, HEIGHT_PX, WIDTH_PX, 4) uint8: square roots of linear red, green, blue times 255, and relief in steps of
    RELIEF_STEP_MM around 128. motifs: (N, H / MAP_STEP, W / MAP_STEP) int16 family numbers or -1. size_px: (N, 2) rows and columns
    in use. group: (N,) pots of one group are alike. girth_mm: (N,). families: highest family number + 1.
    """

    packed: NDArray[np.uint8]
    motifs: NDArray[np.int16]
    size_px: NDArray[np.int32]
    group: NDArray[np.int32]
    girth_mm: NDArray[np.float32]
    families: int


def paint_surfaces(folder: Path, split: str, groups: int, first_seed: int, *, workers: int, seconds: float) -> int:
    """Paint up to `groups` groups of pots, or as many as the time allows, into `folder`; returns the number of pots.

    Deterministic for a seed up to where the time ran out.
    """
    folder.mkdir(parents=True, exist_ok=True)
    most = groups * GROUP
    packed = np.lib.format.open_memmap(
        folder / "packed.npy", mode="w+", dtype=np.uint8, shape=(most, HEIGHT_PX, WIDTH_PX, 4)
    )
    motifs = np.full((most, HEIGHT_PX // MAP_STEP, WIDTH_PX // MAP_STEP), -1, np.int16)
    size_px, girth = np.zeros((most, 2), np.int32), np.zeros(most, np.float32)
    done, start = 0, time.monotonic()
    with ProcessPoolExecutor(workers) as pool:
        for painted in _in_order(pool, split, groups, first_seed, workers * 4):
            for pot in painted:
                packed[done, : pot[0].shape[0], : pot[0].shape[1]] = pot[0]
                motifs[done, : pot[1].shape[0], : pot[1].shape[1]] = pot[1]
                size_px[done], girth[done] = pot[0].shape[:2], pot[2]
                done += 1
            if time.monotonic() - start > seconds:
                pool.shutdown(cancel_futures=True)
                break
    np.savez(folder / "rest.npz", motifs=motifs[:done], size_px=size_px[:done], girth=girth[:done])
    families = max(family.ident for family in FAMILIES) + 1
    (folder / "about.json").write_text(json.dumps({"split": split, "pots": done, "families": families}))
    return done


def open_surfaces(folder: Path) -> Surfaces:
    """Open what paint_surfaces wrote; the packed pixels stay on disk until used."""
    about = json.loads((folder / "about.json").read_text())
    rest = np.load(folder / "rest.npz", allow_pickle=False)
    packed = np.load(folder / "packed.npy", mmap_mode="r")[: about["pots"]]
    group = np.arange(about["pots"], dtype=np.int32) // GROUP
    return Surfaces(packed, rest["motifs"], rest["size_px"], group, rest["girth"], about["families"])


def _in_order(
    pool: ProcessPoolExecutor, split: str, groups: int, first_seed: int, ahead: int
) -> Iterator[list[tuple[NDArray[np.uint8], NDArray[np.int16], float]]]:
    waiting = [pool.submit(_paint_group, split, first_seed + number) for number in range(min(ahead, groups))]
    for number in chain(range(ahead, groups), [None] * min(ahead, groups)):
        yield waiting.pop(0).result()
        if number is not None:
            waiting.append(pool.submit(_paint_group, split, first_seed + number))


def _paint_group(split: str, seed: int) -> list[tuple[NDArray[np.uint8], NDArray[np.int16], float]]:
    cv2.setNumThreads(1)
    rng = np.random.default_rng([23, seed])
    pool = [family for family in (FAMILIES or DRAWN_FAMILIES) if family_split(family.name) == split]
    chosen = [pool[int(i)] for i in rng.choice(len(pool), int(rng.integers(2, 6)), replace=False)]
    size: dict[str, Any] = {
        "girth_mm": float(rng.uniform(300, WIDTH_PX / PX_PER_MM)),
        "height_mm": float(rng.uniform(110, HEIGHT_PX / PX_PER_MM)),
    }
    first = paint_pot(seed * GROUP, families=chosen, px_per_mm=PX_PER_MM, **size)
    pots = [first]
    for other in range(1, GROUP):
        alike = float(rng.choice([0.25, 0.5, 0.5, 0.75, 1.0]))
        pots.append(
            paint_pot(seed * GROUP + other, families=chosen, px_per_mm=PX_PER_MM, alike_to=first, alike=alike, **size)
        )
    return [_pack(pot.albedo, pot.relief_mm, pot.motif_map, pot.circumference_mm) for pot in pots]


def _pack(
    albedo: NDArray[np.float32], relief_mm: NDArray[np.float32], motif_map: NDArray[np.int16], girth_mm: float
) -> tuple[NDArray[np.uint8], NDArray[np.int16], float]:
    window = slice(0, HEIGHT_PX), slice(0, WIDTH_PX)
    colour = np.sqrt(np.clip(albedo[window], 0, 1)) * 255
    relief = np.clip(relief_mm[window] / RELIEF_STEP_MM + 128, 0, 255)
    packed = np.rint(np.concatenate([colour, relief[..., None]], axis=2)).astype(np.uint8)
    half = MAP_STEP // 2
    return packed, motif_map[window][half::MAP_STEP, half::MAP_STEP].astype(np.int16), girth_mm
