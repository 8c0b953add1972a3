"""The whole method on one screen: photographs of one lot in; vessels and comparanda out, with reasons.

    photographs --read_photos--> outlines, scale, light --catalogue_photos--> numbered sherds, crops
    crops --ensure_vectors--> what the decoration looks like   --find_comparanda--> nearest decorations
    crops --ensure_evidence--> paste, paint, line ... by cue   --sort_lot--> vessels, support, questions

Every step keeps what it found in the collection, so that asking again costs little, and none of them needs another
to have just run: a sort on its own measures what is not measured yet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.workflows.comparanda import find_comparanda
from motifs.workflows.intake import catalogue_photos, known_photos, read_photos
from motifs.workflows.sort import sort_lot
from motifs.workflows.vectors import comparanda_encoder, ensure_vectors

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from motifs.catalogue import Catalogue
    from motifs.workflows import Progress
    from motifs.workflows.comparanda import Comparanda
    from motifs.workflows.intake import TakenPhoto
    from motifs.workflows.sorting import LotSorting


@dataclass(frozen=True, slots=True)
class LotRun:
    """Everything the tool made of one lot's photographs."""

    photos: tuple[TakenPhoto, ...]
    sorting: LotSorting


def run_lot(
    cat: Catalogue, photos: Sequence[Path], *, lot: str, site: str | None, by: str, progress: Progress | None = None
) -> LotRun:
    """Photographs of one lot to catalogued, described and sorted sherds."""
    readings = read_photos(photos, known=known_photos(cat), progress=progress)
    taken = catalogue_photos(cat, readings, lot=lot, site=site, by=by, progress=progress)
    ensure_vectors(cat, comparanda_encoder(), cat.sherds(lot), by=by, progress=progress)
    return LotRun(taken, sort_lot(cat, lot, by=by, progress=progress))


def run_comparanda(cat: Catalogue, lot: str, *, by: str, progress: Progress | None = None) -> Comparanda | None:
    """Comparanda of the lot's largest sherd, at other sites where its own is recorded; None for an empty lot."""
    sherds = cat.sherds(lot)
    if not sherds:
        return None
    largest = max(sherds, key=lambda sherd: sherd.area_mm2 or 0.0)
    return find_comparanda(cat, largest.number, other_sites=largest.site is not None, by=by, progress=progress)
