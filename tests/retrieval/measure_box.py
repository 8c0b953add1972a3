"""Print how well a box finds its motif, beside the whole sherd: ``python -m tests.retrieval.measure_box --work DIR``.

Sherds that show two motifs: one sherd each of two motif families of one lot, set side by side in one crop. Asked is for
the first motif among the sherds of all other lots, by the whole of it and by a box around the first half. Practice
gatherings of families kept out of training, rendered into DIR where they are not there yet (see
``python -m motifs.training.likeness``). Vectors are made ready as the program does it.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from motifs.embedding import cut_box, encode_crops
from motifs.records import SherdCrop
from motifs.retrieval import VectorIndex, average_precision, averaged_in_lots, averaged_with, centred
from motifs.training.likeness import gathering, pooled
from motifs.workflows import compared
from motifs.workflows.compared import ComparedSherds, likeness_of
from motifs.workflows.vectors import comparanda_encoder

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.training.likeness import Gathering

    Vectors = NDArray[np.float32]


def side_by_side(first: SherdCrop, second: SherdCrop) -> tuple[SherdCrop, tuple[int, int, int, int]] | None:
    """Two sherds as one crop, and the box of the first; None where their scales differ."""
    if abs(first.px_per_mm - second.px_per_mm) > 0.01 * first.px_per_mm:
        return None
    a, b = _trimmed(first), _trimmed(second)
    height = min(a.mask.shape[0], b.mask.shape[0])
    parts = [(one.image[_middle(one, height)], one.mask[_middle(one, height)]) for one in (a, b)]
    image = np.concatenate([image for image, _ in parts], axis=1)
    mask = np.concatenate([mask for _, mask in parts], axis=1)
    whole = SherdCrop(image, mask, first.px_per_mm, first.source_px_per_mm, first.is_scaled)
    return whole, (0, 0, parts[0][1].shape[1], height)


def _middle(crop: SherdCrop, height: int) -> slice:
    top = (crop.mask.shape[0] - height) // 2
    return slice(top, top + height)


def _trimmed(crop: SherdCrop) -> SherdCrop:
    rows, columns = np.flatnonzero(crop.mask.any(axis=1)), np.flatnonzero(crop.mask.any(axis=0))
    inner = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    return SherdCrop(crop.image[inner], crop.mask[inner], crop.px_per_mm, crop.source_px_per_mm, crop.is_scaled)


def two_motifs(one: Gathering, most: int, seed: int) -> list[tuple[str, int, SherdCrop, SherdCrop]]:
    """Up to so many: lot, family of the first half, the whole, the box."""
    rng = np.random.default_rng(seed)
    lots, family = np.array(one.lots), one.shows.argmax(axis=1)
    shows_one = one.shows.sum(axis=1) == 1
    found = []
    for first in rng.permutation(np.flatnonzero(shows_one)):
        fellows = np.flatnonzero(shows_one & (lots == lots[first]) & (family != family[first]))
        made = side_by_side(one.crops[first], one.crops[rng.choice(fellows)]) if len(fellows) else None
        if made is not None:
            found.append((str(lots[first]), int(family[first]), made[0], cut_box(*made)))
    return found[:most]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--work", type=Path, required=True, help="folder that keeps the gatherings")
    parser.add_argument("--split", choices=("tune", "report"), default="report")
    parser.add_argument("--gatherings", type=int, default=3)
    parser.add_argument("--queries", type=int, default=100)
    given = parser.parse_args()
    first_seed = 31_000 if given.split == "tune" else 31_500
    one = pooled([gathering(given.work, given.split, first_seed + i) for i in range(given.gatherings)])
    queries = two_motifs(one, given.queries, 7)
    spec = comparanda_encoder()
    likeness = likeness_of(spec)
    mean = None if likeness is None else np.array(likeness.mean)
    raw, lots = encode_crops(spec, one.crops), np.array(one.lots)
    wholes = centred(encode_crops(spec, [whole for _, _, whole, _ in queries]), mean)
    boxes = encode_crops(spec, [box for _, _, _, box in queries])
    cleared = centred(raw, mean)
    averaged = averaged_in_lots(cleared, list(lots))
    found: dict[str, list[tuple[float, float]]] = {"whole sherd": [], "box": []}
    for (lot, family, _, _), whole, box in zip(queries, wholes, boxes, strict=True):
        whole_vector = averaged_with(whole[None], np.concatenate([whole[None], cleared[lots == lot]]))[0]
        index = VectorIndex("m.one", spec.dim)
        index.add(["query"], whole_vector[None])
        ready = ComparedSherds({}, index, likeness)
        others, relevant = averaged[lots != lot], one.shows[lots != lot, family]
        if not relevant.any():
            continue
        box_vector = ready.vector_of_detail("query", box, raw[lots == lot])
        for name, vector in (("whole sherd", whole_vector), ("box", box_vector)):
            similarity = others @ vector
            found[name].append((average_precision(similarity, relevant), float(relevant[similarity.argmax()])))
    print(
        f"{spec.tag}, {len(found['box'])} sherds of two motifs, own lot left out; whole sherd's say {compared.WHOLE_SAY}"
    )
    for name, values in found.items():
        mean_ap, first = np.mean(values, axis=0)
        print(f"{name:12s} mAP {mean_ap:.3f}   precision at 1 {first:.3f}")


if __name__ == "__main__":
    main()
