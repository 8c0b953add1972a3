"""A lot as a map: every sherd a point, near where the evidence for one vessel is strong.

The two axes are the principal ones of the calibrated cues (in which one vessel has unit spread), each component weighed by how far
vessels usually lie apart in it. A map shows two dimensions of many: vessels that lie over each other here may still be told apart.

References
----------
Jolliffe, I. T. 2002. Principal Component Analysis, 2nd ed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from motifs.evidence import load_calibration, lot_blocks, settle_polarity
from motifs.workflows.changing import cue_words
from motifs.workflows.describe import ensure_evidence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue
    from motifs.records import CueBlock
    from motifs.workflows import Progress

FARTHEST_SD = 4.0
"""A reading is taken no farther out than this many of the spreads expected over a lot, so that one fire cloud does not squeeze the map."""


@dataclass(frozen=True, slots=True)
class MapPoint:
    """Where a sherd lies; in spreads of one vessel, middle of the lot at 0, 0."""

    sherd: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class LotMap:
    """A lot's map. axes: what each axis is made of, in words. without: sherds that no cue could be measured on."""

    lot: str
    points: tuple[MapPoint, ...]
    axes: tuple[str, str]
    without: tuple[str, ...]


def map_lot(cat: Catalogue, lot: str, *, by: str, progress: Progress | None = None) -> LotMap:
    """Map a lot by its evidence; measures what is not measured yet.

    Raises
    ------
    UnknownName
        No such lot.
    ModelError
        The calibration is missing.
    """
    sherds = cat.sherds(lot)
    evidence = ensure_evidence(cat, sherds, by=by, progress=progress)
    readings = [evidence[sherd.number] for sherd in sherds]
    blocks = lot_blocks(load_calibration(), settle_polarity(readings)) if readings else []
    seen = np.zeros(len(sherds), bool)
    for block in blocks:
        seen |= block.present
    places, axes = principal_axes(blocks, len(sherds))
    points = [
        MapPoint(sherd.number, float(place[0]), float(place[1]))
        for sherd, place, is_seen in zip(sherds, places, seen, strict=True)
        if is_seen
    ]
    absent = tuple(sherd.number for sherd, is_seen in zip(sherds, seen, strict=True) if not is_seen)
    return LotMap(lot, tuple(points), axes, absent)


def principal_axes(blocks: Sequence[CueBlock], count: int) -> tuple[NDArray[np.float64], tuple[str, str]]:
    """Two principal axes of the cues.

    Parameters
    ----------
    blocks : all over the same `count` sherds.

    Returns
    -------
    (count, 2) float64 places, and what each axis is made of, in words ("" where there is no such axis). Signs are fixed: the
    component that weighs most in an axis points up it.
    """
    columns = [_weighed(block) for block in blocks]
    owners = [block.name for block, column in zip(blocks, columns, strict=True) for _ in range(column.shape[1])]
    table = np.hstack([np.zeros((count, 0)), *columns])
    places = np.zeros((count, 2))
    if count < 2 or not table.any():
        return places, ("", "")
    left, size, right = np.linalg.svd(table, full_matrices=False)
    words = ["", ""]
    for axis in range(min(2, len(size))):
        if size[axis] <= 1e-9 * size[0]:
            break
        sign = np.sign(right[axis, np.abs(right[axis]).argmax()])
        places[:, axis] = sign * left[:, axis] * size[axis]
        words[axis] = _axis_words(owners, right[axis])
    return places, (words[0], words[1])


def _weighed(block: CueBlock) -> NDArray[np.float64]:
    """The block's components about their medians, (n, d), each by the share of its spread that lies between vessels; 0 where absent."""
    within = block.x[block.present]
    if len(within) == 0:
        return np.zeros_like(block.x)
    expected = np.sqrt(1.0 + block.between)
    centred = np.clip((block.x - np.median(within, axis=0)) / expected, -FARTHEST_SD, FARTHEST_SD) * expected
    # A crumb's reading says less, so it is drawn towards the middle.
    centred = centred / np.sqrt(np.maximum(block.spread, 1.0))[:, None]
    weighed = centred * np.sqrt(block.say) * block.between / (1.0 + block.between)
    return np.asarray(np.where(block.present[:, None], weighed, 0.0))


def _axis_words(owners: Sequence[str], loading: NDArray[np.float64]) -> str:
    shares: dict[str, float] = {}
    for owner, weight in zip(owners, loading, strict=True):
        shares[owner] = shares.get(owner, 0.0) + float(weight**2)
    told = sorted(((share, owner) for owner, share in shares.items() if share >= 0.1), reverse=True)[:3]
    return ", ".join(f"{cue_words(owner)} {share:.0%}" for share, owner in told)
