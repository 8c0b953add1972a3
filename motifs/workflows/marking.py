"""A sorting marked against a known answer, as practice lots and the demo have one."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import numpy as np

from motifs.practice import SortingMark, mark_sorting

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import Catalogue, SherdRow
    from motifs.workflows.sorting import LotSorting

FAR_MM = 5.0
"""A sherd whose middle lies farther from every true middle than this was not there: a false find."""
NOMINAL_PX_PER_MM = 10.0
"""Taken for a photograph without a scale."""


@dataclass(frozen=True, slots=True)
class LotMark:
    """How a sorted lot agrees with its answer.

    pots: in the answer. sorting: as practice marks it; a sherd that was not found counts as unassigned. missed: sherds of
    the answer that nothing was found for. false_finds: sherds found where the answer has none.
    """

    pots: int
    sorting: SortingMark
    missed: int
    false_finds: int


def mark_lot(cat: Catalogue, sorting: LotSorting, answer: Mapping[str, Any]) -> LotMark:
    """Mark a sorted lot.

    Parameters
    ----------
    answer : "photos" in order, each with "file" and "sherds", each of these with "number", "pot" and "outline_px".
    """
    vessel = {placed.sherd: placed.vessel for placed in sorting.assignments}
    given = {
        place: vessel[sherd] for place, sherd in found_in_answer(cat, sorting.lot, answer).items() if sherd in vessel
    }
    true_sherds = [sherd for photo in answer["photos"] for sherd in photo["sherds"]]
    return LotMark(
        pots=len({sherd["pot"] for sherd in true_sherds}),
        sorting=mark_sorting(answer, given),
        missed=len(true_sherds) - len(given),
        false_finds=len(vessel) - len(given),
    )


def found_in_answer(cat: Catalogue, lot: str, answer: Mapping[str, Any]) -> dict[tuple[int, int], str]:
    """Catalogue number of each sherd of an answer that was found, by (photograph, sherd number), both from 1."""
    by_name = {photo.file_name: photo for photo in cat.photos(lot)}
    found: dict[tuple[int, int], str] = {}
    for place, true_photo in enumerate(answer["photos"], start=1):
        photo = by_name.get(PurePath(true_photo["file"]).name)
        if photo is not None:
            px_per_mm = NOMINAL_PX_PER_MM if photo.scale is None else photo.scale.px_per_mm
            pairs = _same_place(cat.sherds(photo_id=photo.photo_id), true_photo["sherds"], FAR_MM * px_per_mm)
            found.update({(place, number): sherd for sherd, number in pairs.items()})
    return found


def _same_place(sherds: Sequence[SherdRow], truth: Sequence[Mapping[str, Any]], far_px: float) -> dict[str, int]:
    """Number in the answer of each sherd that lies where a true one lies; every one is taken once, nearest first."""
    if not sherds or not truth:
        return {}
    found = np.array([_middle(sherd.outline_px) for sherd in sherds])
    real = np.array([_middle(sherd["outline_px"]) for sherd in truth])
    gaps_px = np.linalg.norm(found[:, None] - real[None], axis=2)
    numbers: dict[str, int] = {}
    for flat in np.argsort(gaps_px, axis=None):
        i, j = divmod(int(flat), len(truth))
        if gaps_px[i, j] > far_px:
            break
        if sherds[i].number not in numbers and truth[j]["number"] not in numbers.values():
            numbers[sherds[i].number] = truth[j]["number"]
    return numbers


def _middle(outline_px: Any) -> tuple[float, float]:
    """Middle of the outline's upright box, px."""
    points = np.asarray(outline_px, dtype=np.float64)
    x, y = (points.min(axis=0) + points.max(axis=0)) / 2
    return float(x), float(y)
