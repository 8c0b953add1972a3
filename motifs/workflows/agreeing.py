"""Where two sherds agree: local features of both, laid over each other; kept in memory for the next question."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from motifs.embedding import cut_box
from motifs.retrieval.agreement import LEAST_PAIRS, Agreement, agreement_of
from motifs.workflows.crops import crops_of
from motifs.workflows.vectors import vector_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from motifs.catalogue import BoxPx, Catalogue, SherdHead, SherdRow
    from motifs.embedding import EncoderSpec
    from motifs.records import LocalFeatures, SherdCrop
    from motifs.workflows import Progress

MOST_KEPT = 4000
"""Sherds whose features are kept in memory, some 30 kB each."""

Ring = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class MatchedRegions:
    """Where a query and a neighbour agree.

    query: the sherd of the query that was laid over it. query_px, other_px: outlines in px of the two crops.
    matches: places that agree. strength: sum of their similarities. turn_deg: anticlockwise turn of the query that
    fits. scale: sizes on the neighbour over sizes on the query. is_mirrored: the query's mirror image fits.
    """

    query: str
    query_px: Ring
    other_px: Ring
    matches: int
    strength: float
    turn_deg: float
    scale: float
    is_mirrored: bool


class SherdFeatures:
    """Local features by content key, the oldest dropped first."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        self._kept: OrderedDict[tuple[str, str], LocalFeatures] = OrderedDict()
        self._most = most

    def of(self, cat: Catalogue, spec: EncoderSpec, sherds: Sequence[SherdHead]) -> Iterator[tuple[str, LocalFeatures]]:
        """Features of sherds as photographed, by number; those kept first."""
        from motifs.embedding.local import local_features  # noqa: PLC0415  (torch only when it is needed)

        key = vector_key(spec)
        absent = []
        for sherd in sherds:
            kept = self._kept.get((key, sherd.content_key))
            if kept is None:
                absent.append(sherd)
            else:
                self._kept.move_to_end((key, sherd.content_key))
                yield sherd.number, kept
        for sherd, crop in crops_of(cat, absent):
            features = local_features(spec, crop)[0]
            self._kept[key, sherd.content_key] = features
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
            yield sherd.number, features


_features = SherdFeatures()


def regions_of(
    cat: Catalogue,
    spec: EncoderSpec,
    pairs: Sequence[tuple[SherdRow, SherdHead]],
    *,
    box_px: BoxPx | None = None,
    with_mirror: bool = False,
    progress: Progress | None = None,
) -> dict[str, MatchedRegions]:
    """Lay queries over neighbours.

    Parameters
    ----------
    pairs : (sherd of the query, neighbour), each neighbour once.
    box_px : lay only this part of the query; then all pairs have one query.
    with_mirror : try the query's mirror image too.

    Returns
    -------
    Regions by the neighbour's number; of strength 0 and without outlines where nothing agrees. Nothing at all for an
    encoder whose middle layers are not known.
    """
    from motifs.embedding.local import has_local_features, query_features  # noqa: PLC0415  (torch, see above)

    if not has_local_features(spec) or not pairs:
        return {}
    queries = {query.number: query for query, _ in pairs}
    turns = {
        sherd.number: query_features(spec, _part(crop, box_px), with_mirror=with_mirror)
        for sherd, crop in crops_of(cat, list(queries.values()))
    }
    if box_px is not None:
        turns = {number: [_moved(one, box_px) for one in shown] for number, shown in turns.items()}
    asked = {other.number: query.number for query, other in pairs}
    found: dict[str, MatchedRegions] = {}
    for number, features in _features.of(cat, spec, [other for _, other in pairs]):
        found[number] = _regions(asked[number], agreement_of(turns[asked[number]], features))
        if progress is not None:
            progress("laying decorations over each other", len(found), len(pairs))
    return found


def _part(crop: SherdCrop, box_px: BoxPx | None) -> SherdCrop:
    return crop if box_px is None else cut_box(crop, box_px)


def _moved(features: LocalFeatures, box_px: BoxPx) -> LocalFeatures:
    """Places of a part, as places on its whole crop."""
    corner = np.array([max(box_px[0], 0), max(box_px[1], 0)], np.float32)
    return replace(features, places_px=features.places_px + corner)


def _regions(query: str, found: Agreement) -> MatchedRegions:
    if found.matches < LEAST_PAIRS:
        return MatchedRegions(query, (), (), 0, 0.0, 0.0, 1.0, False)
    here, there = found.regions()
    return MatchedRegions(
        query,
        tuple((float(x), float(y)) for x, y in here.round(1)),
        tuple((float(x), float(y)) for x, y in there.round(1)),
        found.matches,
        round(found.strength, 4),
        round(found.turn_deg, 1),
        round(found.scale, 3),
        found.is_mirrored,
    )
