"""Finding rows by the names people use, with the nearest names where one is not there."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
from sqlalchemy import ColumnElement, Connection, RowMapping, Select, func, select

from motifs.catalogue import gate
from motifs.catalogue import tables as t
from motifs.catalogue.names import composed, unknown
from motifs.catalogue.rows import LotRow, SherdRow
from motifs.errors import UnknownName

if TYPE_CHECKING:
    from collections.abc import Iterable


def lot_id_of(connection: Connection, name: str) -> int:
    """Return the id of a lot, or raise UnknownName."""
    found = connection.scalar(select(t.lot.c.id).where(t.lot.c.name == composed(name)))
    if found is None:
        shown = select(t.lot.c.name).where(gate.is_lot_shown(connection, t.lot.c.id)).order_by(t.lot.c.id)
        raise unknown("lot", name, connection.scalars(shown))
    return int(found)


def lot_query(is_counted: ColumnElement[bool]) -> Select[Any]:
    """Select what a LotRow needs, plus `id` and `site_id`; is_counted: which of its kept sherds are counted."""
    kept = (
        select(func.count())
        .select_from(t.sherd)
        .where(t.sherd.c.lot_id == t.lot.c.id, t.sherd.c.state == "kept", is_counted)
        .scalar_subquery()
    )
    photos = select(func.count()).select_from(t.photo).where(t.photo.c.lot_id == t.lot.c.id).scalar_subquery()
    return (
        select(
            t.lot.c.id,
            t.lot.c.name,
            t.lot.c.site_id,
            t.site.c.name.label("site"),
            kept.label("sherds"),
            photos.label("photos"),
        )
        .select_from(t.lot.outerjoin(t.site))
        .order_by(t.lot.c.id)
    )


def lot_row(row: RowMapping) -> LotRow:
    """Build the typed row."""
    return LotRow(row["name"], row["site"], row["sherds"], row["photos"])


@cache
def sherd_query() -> Select[Any]:
    """Select what a SherdRow needs, plus `id` and `lot_id`; built once, since building it takes longer than asking."""
    target = t.sherd.alias("target")
    source = (
        t.sherd.join(t.lot, t.sherd.c.lot_id == t.lot.c.id)
        .outerjoin(t.site)
        .join(t.photo, t.sherd.c.photo_id == t.photo.c.id)
    )
    return (
        select(
            t.sherd,
            t.lot.c.name.label("lot"),
            t.site.c.name.label("site"),
            t.photo.c.file_name.label("photo_name"),
            target.c.number.label("merged_into"),
        )
        .select_from(source.outerjoin(target, t.sherd.c.merged_into_id == target.c.id))
        .order_by(t.sherd.c.id)
    )


def sherd_row(row: RowMapping) -> SherdRow:
    """Build the typed row."""
    return SherdRow(
        number=row["number"],
        lot=row["lot"],
        site=row["site"],
        photo_id=row["photo_id"],
        photo_name=row["photo_name"],
        outline_px=np.asarray(row["outline_px"], dtype=np.float32),
        area_mm2=row["area_mm2"],
        max_dimension_mm=row["max_dimension_mm"],
        look=row["look"],
        state=row["state"],
        merged_into=row["merged_into"],
        content_key=row["content_key"],
        added_at=row["made_at"],
        rim_up_deg=row["rim_up_deg"],
        outline_by=row["outline_by"],
    )


def find_sherd(connection: Connection, number: str) -> RowMapping:
    """Return the sherd's row (any state), or raise UnknownName."""
    found = connection.execute(sherd_query().where(t.sherd.c.number == composed(number))).mappings().one_or_none()
    if found is None:
        # What is kept back is never suggested.
        shown = gate.is_shown(connection, t.sherd.c.id)
        kept = select(t.sherd.c.number).where(t.sherd.c.state == "kept", shown).order_by(t.sherd.c.id)
        raise unknown("sherd", number, connection.scalars(kept))
    return found


def find_kept_sherd(connection: Connection, number: str, lot: str | None = None) -> RowMapping:
    """Return the row of a sherd that is kept (and in the lot, if one is named), or raise UnknownName."""
    found = find_sherd(connection, number)
    if found["state"] == "dropped":
        raise UnknownName(f"sherd '{number}' was dropped; undo that, or name another sherd")
    if found["state"] == "merged":
        raise UnknownName(f"sherd '{number}' was merged into '{found['merged_into']}'; name that one")
    if lot is not None and found["lot"] != composed(lot):
        raise UnknownName(f"sherd '{number}' is in lot '{found['lot']}', not in lot '{lot}'; name a sherd of the lot")
    return found


def ids_and_keys(connection: Connection, numbers: Iterable[str]) -> dict[str, tuple[int, str]]:
    """Return (id, content key) by number, in the order asked for; UnknownName for a number not there."""
    asked = list(dict.fromkeys(numbers))
    wanted = [composed(number) for number in asked]
    columns = select(t.sherd.c.number, t.sherd.c.id, t.sherd.c.content_key)
    found: dict[str, tuple[int, str]] = {}
    for start in range(0, len(wanted), 500):  # well under SQLite's limit of parameters in one statement
        part = columns.where(t.sherd.c.number.in_(wanted[start : start + 500]))
        found |= {number: (row_id, key) for number, row_id, key in connection.execute(part)}
    for number in wanted:
        if number not in found:
            find_sherd(connection, number)
    return {number: found[composed(number)] for number in asked}
