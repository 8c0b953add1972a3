"""How far lots have got, counted in the database: a handful of queries for all lots, whatever their number."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import Select, func, select

from motifs.catalogue import tables as t
from motifs.catalogue.store import Store

if TYPE_CHECKING:
    from sqlalchemy import ColumnElement, Connection


@dataclass(frozen=True, slots=True)
class LotTally:
    """What was done in a lot and what waits, in numbers.

    to_look: outlines that ask for a look. without_scale: photographs without one. tagged: sherds with any tag. judged: sherds with a
    person's attribution. labels: numbers read and not settled. views: pairings of a turned-over sherd that ask for a look. compared:
    sherds for which a comparandum was kept.
    """

    to_look: int = 0
    without_scale: int = 0
    tagged: int = 0
    judged: int = 0
    labels: int = 0
    views: int = 0
    compared: int = 0


class Tallies(Store):
    """Counts by lot."""

    def lot_tallies(self) -> dict[str, LotTally]:
        """Return the tally of every lot by name; sherds that are kept back are not counted, and lots that are not listed."""
        with self._reading() as connection:
            named = select(t.lot.c.name).where(self._lot_shown(connection)).order_by(t.lot.c.id)
            names = [str(name) for name in connection.scalars(named)]
            shown = self._shown(connection)
            counted = {"without_scale": _by_lot(connection, _photos_without_scale())}
            for what, condition in _conditions().items():
                counted[what] = _by_lot(connection, _kept_sherds().where(shown, condition))
        return {name: LotTally(**{what: of.get(name, 0) for what, of in counted.items()}) for name in names}


def _conditions() -> dict[str, ColumnElement[bool]]:
    """What makes a sherd count, by what is counted."""
    tagged = select(t.tag.c.sherd_id).where(t.tag.c.is_active)
    judged = select(t.attribution.c.sherd_id).where(t.attribution.c.is_active)
    labels = select(t.label.c.sherd_id).where(t.label.c.state == "proposed")
    compared = select(t.comparanda_entry.c.query_id).where(t.comparanda_entry.c.is_active)
    views = select(t.view.c.sherd_id).where(t.view.c.standing == "look", t.view.c.sherd_id.is_not(None))
    # With a sum in place of the column, the index by lot is gone through once; by their ids, long rows would be looked up one by one.
    one = t.sherd.c.id + 0
    return {
        "to_look": t.sherd.c.look.is_not(None),
        "tagged": one.in_(tagged),
        "judged": one.in_(judged),
        "labels": one.in_(labels),
        "views": one.in_(views),
        "compared": one.in_(compared),
    }


def _kept_sherds() -> Select[Any]:
    return (
        select(t.lot.c.name, func.count(t.sherd.c.id))
        .select_from(t.sherd.join(t.lot, t.sherd.c.lot_id == t.lot.c.id))
        .where(t.sherd.c.state == "kept")
        .group_by(t.lot.c.name)
    )


def _photos_without_scale() -> Select[Any]:
    return (
        select(t.lot.c.name, func.count(t.photo.c.id))
        .select_from(t.photo.join(t.lot, t.photo.c.lot_id == t.lot.c.id))
        .where(t.photo.c.scale_px_per_mm.is_(None))
        .group_by(t.lot.c.name)
    )


def _by_lot(connection: Connection, query: Select[Any]) -> dict[str, int]:
    return {str(name): int(number) for name, number in connection.execute(query)}
