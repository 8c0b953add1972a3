"""Catalogue numbers read off photographs: proposed for each sherd; a person accepts or refuses, and only then it is numbered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.errors import InputError, NameRefused

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, LabelRow, PhotoRow
    from motifs.imaging.label_reading import LabelledSherd
    from motifs.workflows import Progress

PROGRAM = "program"


@dataclass(frozen=True, slots=True)
class ReadLabels:
    """What was read in a lot. without: sherds that nothing was read for. unclear: sherds whose slip lies near another too."""

    lot: str
    labels: tuple[LabelRow, ...]
    unclear: tuple[str, ...]
    without: tuple[str, ...]


def read_labels(cat: Catalogue, lot: str, *, by: str, progress: Progress | None = None) -> ReadLabels:
    """Read the numbers on every photograph of a lot and keep them as proposals; nothing is renamed.

    Slips beside a sherd and numbers inked on its face are read on the photographs of faces; numbers inked on the inside, on
    photographs of views that are paired with a sherd. What a person accepted or refused for a sherd is not proposed again.

    Raises
    ------
    UnknownName, CollectionDamaged
        No such lot; an original is missing.
    """
    photos = cat.photos(lot)
    found: list[tuple[str, PhotoRow, LabelledSherd]] = []
    for done, photo in enumerate(photos):
        _tell(progress, done, len(photos))
        found += [(number, photo, label) for number, label in _read(cat, photo)]
    _tell(progress, len(photos), len(photos))
    with cat.transaction(by=by):
        for number, photo, label in _surest(found):
            _propose(cat, number, photo, label)
    unclear = {number for number, _, label in found if not label.is_clear}
    labels = cat.labels(lot)
    with_label = {label.sherd for label in labels}
    numbers = [sherd.number for sherd in cat.sherds(lot)]
    return ReadLabels(
        lot,
        labels,
        tuple(number for number in numbers if number in unclear),
        tuple(number for number in numbers if number not in with_label),
    )


def accept_labels(
    cat: Catalogue, lot: str, numbers: Mapping[str, str | None], *, by: str
) -> tuple[tuple[str, str], ...]:
    """Give sherds the numbers that a person confirmed, all of them or none; undo takes it back.

    Parameters
    ----------
    numbers : by present number, the right one as typed; None: as proposed.

    Returns
    -------
    tuple of (before, now)

    Raises
    ------
    UnknownName, NameRefused, InputError
        No such sherd in the lot; nothing was proposed for it; not a number, or another sherd's.
    """
    proposed = {label.sherd: label for label in cat.labels(lot, state="proposed")}
    wanted = {old: _wanted(old, new, proposed, lot) for old, new in numbers.items()}
    with cat.transaction(by=by):
        for old, new in wanted.items():
            label = proposed.get(old)
            if label is not None:
                cat.settle_label(label.label_id, "accepted" if label.text == new else "refused")
        cat.renumber(wanted)
    return tuple(wanted.items())


def refuse_labels(cat: Catalogue, lot: str, numbers: Sequence[str], *, by: str) -> None:
    """Record that what was read is wrong; the sherds keep their numbers.

    Raises
    ------
    InputError
        Nothing was proposed for one of them.
    """
    proposed = {label.sherd: label for label in cat.labels(lot, state="proposed")}
    with cat.transaction(by=by):
        for number in numbers:
            if number not in proposed:
                raise InputError(f"nothing is proposed for sherd '{number}' of lot '{lot}'; list its labels first")
            cat.settle_label(proposed[number].label_id, "refused")


def _read(cat: Catalogue, photo: PhotoRow) -> list[tuple[str, LabelledSherd]]:
    from motifs.imaging import read_photo  # noqa: PLC0415  (the reader loads only when something is read)
    from motifs.imaging.label_reading import label_sherds, read_texts  # noqa: PLC0415

    pieces = _pieces(cat, photo)
    if not pieces:
        return []
    texts = read_texts(read_photo(cat.photo_file(photo)))
    return [(pieces[label.sherd][0], label) for label in label_sherds(texts, [outline for _, outline in pieces])]


def _pieces(cat: Catalogue, photo: PhotoRow) -> list[tuple[str, NDArray[np.float32]]]:
    """Catalogue number and outline of everything on a photograph: faces, and views whose sherd is known."""
    faces = [(sherd.number, sherd.outline_px) for sherd in cat.sherds(photo_id=photo.photo_id)]
    views = [view for view in cat.views(photo.lot) if view.photo_id == photo.photo_id]
    return faces + [(view.sherd, view.outline_px) for view in views if view.sherd is not None]


def _surest(found: list[tuple[str, PhotoRow, LabelledSherd]]) -> list[tuple[str, PhotoRow, LabelledSherd]]:
    """One label a sherd: inked before slip, then the surer."""
    best: dict[str, tuple[str, PhotoRow, LabelledSherd]] = {}
    for one in found:
        other = best.get(one[0])
        if other is None or _rank(one[2]) > _rank(other[2]):
            best[one[0]] = one
    return list(best.values())


def _rank(label: LabelledSherd) -> tuple[bool, float]:
    return label.is_inked, label.read.confidence


def _propose(cat: Catalogue, number: str, photo: PhotoRow, label: LabelledSherd) -> None:
    read = label.read
    if read.text == number:
        return
    try:
        cat.propose_label(
            number,
            photo.photo_id,
            read.text,
            confidence=read.confidence,
            place="inked" if label.is_inked else "slip",
            box_px=[(float(x), float(y)) for x, y in read.box_px],
            rival=read.rival,
        )
    except NameRefused:
        return  # what was read cannot be a number, so there is nothing to ask


def _wanted(old: str, new: str | None, proposed: Mapping[str, LabelRow], lot: str) -> str:
    if new is not None:
        return new
    if old not in proposed:
        raise InputError(
            f"nothing is proposed for sherd '{old}' of lot '{lot}'; type its number, or read the labels first"
        )
    return proposed[old].text


def _tell(progress: Progress | None, done: int, total: int) -> None:
    if progress is not None:
        progress("reading labels", done, total)
