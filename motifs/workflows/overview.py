"""How far each lot has got, and what waits for a person."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.workflows.table import lay_out_table

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, LotRow


@dataclass(frozen=True, slots=True)
class LotStanding:
    """One lot at a glance.

    to_look: outlines that ask for a look. without_scale: photographs without one. vessels: on the table now, None before
    the first sort; vessels_range: what the evidence does not rule out. judged: sherds that lie where a person put them.
    """

    lot: str
    site: str | None
    photos: int
    sherds: int
    to_look: int
    without_scale: int
    vessels: int | None
    vessels_range: tuple[int, int] | None
    unassigned: int
    judged: int
    questions: int
    is_current: bool


def lots_at_a_glance(cat: Catalogue) -> tuple[LotStanding, ...]:
    """Every lot of the collection, in the order they came in."""
    return tuple(lot_at_a_glance(cat, lot) for lot in cat.lots())


def lot_at_a_glance(cat: Catalogue, lot: LotRow) -> LotStanding:
    """One lot."""
    table = lay_out_table(cat, lot.name)
    return LotStanding(
        lot=lot.name,
        site=lot.site,
        photos=lot.photos,
        sherds=lot.sherds,
        to_look=sum(sherd.look is not None for sherd in cat.sherds(lot.name)),
        without_scale=sum(photo.scale is None for photo in cat.photos(lot.name)),
        vessels=len(table.vessels) if table.is_sorted else None,
        vessels_range=table.vessels_range,
        unassigned=len(table.unassigned),
        judged=sum(sherd.judged_by is not None for sherd in table.sherds),
        questions=len(table.questions),
        is_current=table.is_current,
    )
