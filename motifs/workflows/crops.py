"""Crops of catalogued sherds: taken from the cache, or cut again from the untouched original."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, TypeVar

from motifs.catalogue import SherdHead, SherdRow
from motifs.errors import CollectionDamaged
from motifs.imaging import cut_crop, read_photo

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from motifs.catalogue import Catalogue
    from motifs.records import SherdCrop

Sherd = TypeVar("Sherd", SherdRow, SherdHead)


def crops_of(cat: Catalogue, sherds: Sequence[Sherd]) -> Iterator[tuple[Sherd, SherdCrop]]:
    """Yield every sherd with its crop, photo by photo, so that an original is decoded once at most.

    Writes nothing; `store_crops` does. Sherds as rows or as heads: the outline is only needed where a crop has to be cut.

    Raises
    ------
    CollectionDamaged
        An original is missing or altered.
    """
    ordered = sorted(sherds, key=lambda sherd: sherd.photo_id)
    for photo_id, members in groupby(ordered, key=lambda sherd: sherd.photo_id):
        absent = []
        for sherd in members:
            crop = cat.crop(sherd.number)
            if crop is None:
                absent.append(sherd)
            else:
                yield sherd, crop
        yield from _cut(cat, photo_id, absent)


def store_crops(cat: Catalogue, sherds: Sequence[SherdRow]) -> dict[str, SherdCrop]:
    """Cut and keep the crop of every sherd that has none; inside a transaction. Returns those cut now, by number."""
    cut = {}
    for sherd, crop in crops_of(cat, [sherd for sherd in sherds if cat.crop_file(sherd.number) is None]):
        cat.save_crop(sherd.number, crop)
        cut[sherd.number] = crop
    return cut


def recut(cat: Catalogue, sherd: SherdRow) -> SherdCrop:
    """Cut one sherd from its original, whatever the cache holds."""
    return next(crop for _, crop in _cut(cat, sherd.photo_id, [sherd]))


def _cut(cat: Catalogue, photo_id: int, sherds: Sequence[Sherd]) -> Iterator[tuple[Sherd, SherdCrop]]:
    if not sherds:
        return
    row = cat.photo(photo_id)
    photo = read_photo(cat.photo_file(row))
    if photo.sha256 != row.sha256:
        raise CollectionDamaged(
            f"the original of '{row.file_name}' was altered; restore it from a backup, then run check"
        )
    if row.light is None:
        raise CollectionDamaged(f"photo '{row.file_name}' was catalogued without its light; take it in again")
    for sherd in sherds:
        whole = cat.sherd(sherd.number) if isinstance(sherd, SherdHead) else sherd
        yield sherd, cut_crop(photo, row.light, row.scale, whole.outline_px)
