"""A sorting marked against a known answer, as practice lots and the demo have one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from sklearn.metrics import adjusted_rand_score

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import Catalogue, SherdRow
    from motifs.workflows.sorting import LotSorting

FAR_MM = 5.0
"""A sherd whose middle lies farther from every true middle than this was not there: a false find."""


@dataclass(frozen=True, slots=True)
class Mark:
    """How a sorting agrees with the answer.

    pots: in the answer. ari: adjusted Rand index (Hubert & Arabie 1985, as scikit-learn has it) over the sherds found,
    each unassigned one counted as a vessel of its own. found: sherds that are in the answer; false_finds: that are not;
    missed: sherds of the answer that nothing was found for.
    """

    pots: int
    ari: float
    found: int
    false_finds: int
    missed: int


def mark_sorting(cat: Catalogue, sorting: LotSorting, answer: Mapping[str, Sequence[Mapping[str, Any]]]) -> Mark:
    """Mark a sorted lot.

    Parameters
    ----------
    answer : by name of photograph: its sherds, each with "pot" and "outline_px".
    """
    pot_of: dict[str, int] = {}
    for photo in cat.photos(sorting.lot):
        px_per_mm = photo.scale.px_per_mm if photo.scale is not None else 10.0
        truth = answer.get(photo.file_name, ())
        pot_of.update(_pots(cat.sherds(photo_id=photo.photo_id), truth, FAR_MM * px_per_mm))
    placed = [sherd for sherd in sorting.assignments if sherd.sherd in pot_of]
    vessels = [sherd.vessel if sherd.vessel is not None else -1 - place for place, sherd in enumerate(placed)]
    pots = [pot_of[sherd.sherd] for sherd in placed]
    true_sherds = [sherd for sherds in answer.values() for sherd in sherds]
    return Mark(
        pots=len({sherd["pot"] for sherd in true_sherds}),
        ari=float(adjusted_rand_score(pots, vessels)) if placed else 0.0,
        found=len(placed),
        false_finds=len(sorting.assignments) - len(placed),
        missed=len(true_sherds) - len(placed),
    )


def _pots(sherds: Sequence[SherdRow], truth: Sequence[Mapping[str, Any]], far_px: float) -> dict[str, int]:
    """Pot of each sherd that lies where a true one lies; every true one is taken once, nearest first."""
    if not sherds or not truth:
        return {}
    found = np.array([_middle(sherd.outline_px) for sherd in sherds])
    real = np.array([_middle(sherd["outline_px"]) for sherd in truth])
    gaps = np.linalg.norm(found[:, None] - real[None], axis=2)
    pots: dict[str, int] = {}
    taken: set[int] = set()
    for flat in np.argsort(gaps, axis=None):
        i, j = divmod(int(flat), len(truth))
        if gaps[i, j] > far_px:
            break
        if sherds[i].number not in pots and j not in taken:
            pots[sherds[i].number] = int(truth[j]["pot"])
            taken.add(j)
    return pots


def _middle(outline_px: Any) -> tuple[float, float]:
    """Middle of the outline's upright box, px."""
    points = np.asarray(outline_px, dtype=np.float64)
    x, y = (points.min(axis=0) + points.max(axis=0)) / 2
    return float(x), float(y)
