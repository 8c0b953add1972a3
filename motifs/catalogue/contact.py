"""Sherds page by page, filtered where they lie: the contact sheet of a large collection never loads all of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import ColumnElement, Select, and_, exists, func, not_, or_, select

from motifs.catalogue import tables as t
from motifs.catalogue.names import composed
from motifs.catalogue.store import Store
from motifs.errors import InputError

if TYPE_CHECKING:
    from sqlalchemy import Connection

MAX_PAGE = 1000
ORDERS = ("number", "newest", "largest")


@dataclass(frozen=True, slots=True)
class SherdFilter:
    """Which sherds to show; None or empty shows all. text: part of a catalogue number, lot, site or term, in any case.

    kind with untagged: sherds that have no tag of that kind. term: sherds with this tag (of the kind, if one is named).
    """

    lot: str | None = None
    site: str | None = None
    kind: str | None = None
    term: str | None = None
    untagged: bool = False
    text: str = ""
    order: str = "number"


@dataclass(frozen=True, slots=True)
class SherdLine:
    """What a contact sheet shows of one sherd."""

    number: str
    lot: str
    site: str | None
    photo_name: str
    area_mm2: float | None
    max_dimension_mm: float | None
    look: str | None
    content_key: str


@dataclass(frozen=True, slots=True)
class SherdPage:
    """Some of the sherds that a filter lets through, and how many there are in all."""

    lines: tuple[SherdLine, ...]
    total: int
    offset: int


class ContactSheet(Store):
    """Pages of sherds, and how often terms are used."""

    def sherd_lines(self, wanted: SherdFilter, *, offset: int = 0, limit: int = 100) -> SherdPage:
        """Return one page of the kept sherds that a filter lets through.

        Raises
        ------
        InputError
            An offset below 0, a limit outside 1..MAX_PAGE, another order.
        """
        if offset < 0 or not 1 <= limit <= MAX_PAGE:
            raise InputError(f"a page of {limit} from {offset} cannot be; ask for 1 to {MAX_PAGE}, from 0")
        if wanted.order not in ORDERS:
            raise InputError(f"'{wanted.order}' is no order; the orders are {', '.join(ORDERS)}")
        source = t.sherd.join(t.lot, t.sherd.c.lot_id == t.lot.c.id).outerjoin(t.site)
        with self._reading() as connection:
            condition = and_(_condition(wanted), self._shown(connection))
            total = connection.scalar(select(func.count()).select_from(source).where(condition)) or 0
            lines = _lines(connection, condition, wanted.order, offset, limit)
        return SherdPage(lines, total, offset)

    def tag_counts(self, kind: str | None = None) -> dict[tuple[str, str], int]:
        """Return on how many kept sherds each (kind, term) is, commonest first."""
        count = func.count(t.tag.c.sherd_id.distinct())
        # The few that are not kept are left out, rather than every sherd's row looked up: rows are long, this runs on every page.
        gone = select(t.sherd.c.id).where(t.sherd.c.state != "kept")
        query = (
            select(t.tag.c.kind, t.tag.c.term, count)
            .where(t.tag.c.is_active, t.tag.c.sherd_id.not_in(gone))
            .group_by(t.tag.c.kind, t.tag.c.term)
            .order_by(count.desc(), t.tag.c.kind, t.tag.c.term)
        )
        if kind is not None:
            query = query.where(t.tag.c.kind == kind)
        with self._reading() as connection:
            query = query.where(self._shown(connection, t.tag.c.sherd_id))
            return {(row[0], row[1]): int(row[2]) for row in connection.execute(query)}


def _lines(
    connection: Connection, condition: ColumnElement[bool], order: str, offset: int, limit: int
) -> tuple[SherdLine, ...]:
    source = t.sherd.join(t.lot, t.sherd.c.lot_id == t.lot.c.id).outerjoin(t.site)
    query: Select[Any] = select(
        t.sherd.c.number,
        t.lot.c.name.label("lot"),
        t.site.c.name.label("site"),
        t.photo.c.file_name.label("photo_name"),
        t.sherd.c.area_mm2,
        t.sherd.c.max_dimension_mm,
        t.sherd.c.look,
        t.sherd.c.content_key,
    ).select_from(source.join(t.photo, t.sherd.c.photo_id == t.photo.c.id))
    keys: dict[str, tuple[ColumnElement[Any], ...]] = {
        "number": (t.lot.c.name.asc(), t.sherd.c.id.asc()),
        "newest": (t.sherd.c.id.desc(),),
        "largest": (func.coalesce(t.sherd.c.area_mm2, -1.0).desc(), t.sherd.c.id.asc()),
    }
    rows = connection.execute(query.where(condition).order_by(*keys[order]).offset(offset).limit(limit)).mappings()
    return tuple(SherdLine(**row) for row in rows)


def _condition(wanted: SherdFilter) -> ColumnElement[bool]:
    parts: list[ColumnElement[bool]] = [t.sherd.c.state == "kept"]
    if wanted.lot is not None:
        parts.append(t.lot.c.name == composed(wanted.lot))
    if wanted.site is not None:
        parts.append(t.site.c.name == composed(wanted.site))
    tagged: list[ColumnElement[bool]] = [t.tag.c.sherd_id == t.sherd.c.id, t.tag.c.is_active]
    if wanted.kind is not None:
        tagged.append(t.tag.c.kind == wanted.kind)
    if wanted.untagged:
        parts.append(not_(exists().where(*tagged)))
    elif wanted.term is not None:
        parts.append(exists().where(*tagged, t.tag.c.term == wanted.term))
    if wanted.text.strip():
        parts.append(_has_text(wanted.text.strip()))
    return and_(*parts)


def _has_text(text: str) -> ColumnElement[bool]:
    """Match a part of a name, with % and _ as they are."""
    columns = (t.sherd.c.number, t.lot.c.name, t.site.c.name)
    term = exists().where(
        t.tag.c.sherd_id == t.sherd.c.id, t.tag.c.is_active, t.tag.c.term.icontains(text, autoescape=True)
    )
    return or_(*(column.icontains(text, autoescape=True) for column in columns), term)
