"""The gate: which sherds, lots, sites and motifs a restriction keeps from being shown.

Everything that reads sherds asks `is_shown` (through `Store._shown`), so that listings, pictures, neighbours, sorting and exports
cannot differ in what they keep back. What is restricted here: a sherd, its lot, its site, or a motif that is tagged on it, by
any of the motif's names or by a narrower motif.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import ColumnElement, Connection, Select, or_, select, true, union

from motifs.catalogue import tables as t
from motifs.errors import Restricted

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from sqlalchemy import RowMapping

MOTIF = "motif"


def is_restricting(connection: Connection) -> bool:
    """Whether anything is restricted at all."""
    return connection.scalar(select(t.restriction.c.id).where(t.restriction.c.is_active).limit(1)) is not None


def is_shown(connection: Connection, sherd_id: ColumnElement[Any]) -> ColumnElement[bool]:
    """The condition that a sherd is not kept back; sherd_id: a column that holds its id."""
    return sherd_id.not_in(hidden_sherds(connection)) if is_restricting(connection) else true()


def is_sherd_hidden(connection: Connection, sherd_id: int) -> bool:
    """Whether one sherd is kept back, without looking at the others."""
    if not is_restricting(connection):
        return False
    named = (
        select(t.restriction.c.id)
        .select_from(t.sherd.join(t.lot, t.sherd.c.lot_id == t.lot.c.id))
        .join(
            t.restriction,
            or_(
                t.restriction.c.sherd_id == t.sherd.c.id,
                t.restriction.c.lot_id == t.lot.c.id,
                t.restriction.c.site_id == t.lot.c.site_id,
            ),
        )
        .where(t.sherd.c.id == sherd_id, t.restriction.c.is_active)
    )
    if connection.scalar(named.limit(1)) is not None:
        return True
    terms = hidden_terms(connection)
    if not terms:
        return False
    own = select(t.tag.c.term).where(t.tag.c.sherd_id == sherd_id, t.tag.c.is_active, t.tag.c.kind == MOTIF)
    return any(term.casefold() in terms for term in connection.scalars(own))


def is_lot_shown(connection: Connection, lot_id: ColumnElement[Any]) -> ColumnElement[bool]:
    """The condition that a lot is not kept back, with its photographs; lot_id: a column that holds its id."""
    return lot_id.not_in(hidden_lots()) if is_restricting(connection) else true()


def hidden_lots() -> Select[Any]:
    """Ids of lots that are restricted, or whose site is."""
    lots = select(t.lot.c.id).join(t.restriction, t.restriction.c.lot_id == t.lot.c.id).where(t.restriction.c.is_active)
    of_sites = (
        select(t.lot.c.id)
        .join(t.restriction, t.restriction.c.site_id == t.lot.c.site_id)
        .where(t.restriction.c.is_active)
    )
    return select(union(lots, of_sites).subquery().c.id)


def hidden_sites() -> Select[Any]:
    """Ids of sites that are restricted."""
    return select(t.restriction.c.site_id).where(t.restriction.c.is_active, t.restriction.c.site_id.is_not(None))


def hidden_sherds(connection: Connection) -> Select[Any]:
    """Ids of sherds that are kept back, by whatever restriction."""
    own = select(t.restriction.c.sherd_id.label("id")).where(
        t.restriction.c.is_active, t.restriction.c.sherd_id.is_not(None)
    )
    in_lots = select(t.sherd.c.id).where(t.sherd.c.lot_id.in_(hidden_lots()))
    parts = [own, in_lots]
    terms = hidden_terms(connection)
    if terms:
        tagged = select(t.tag.c.sherd_id.label("id")).where(
            t.tag.c.is_active, t.tag.c.kind == MOTIF, t.tag.c.term.in_(_spellings(connection, terms))
        )
        parts.append(tagged)
    return select(union(*parts).subquery().c.id)


def hidden_terms(connection: Connection) -> frozenset[str]:
    """Names of restricted motifs, in lower case: their labels, synonyms, and the same of every narrower motif."""
    query = select(t.restriction.c.motif).where(t.restriction.c.is_active, t.restriction.c.motif.is_not(None))
    found = {motif.casefold() for motif in connection.scalars(query)}
    if not found:
        return frozenset()
    rows = connection.execute(select(t.term).where(t.term.c.is_active, t.term.c.kind == MOTIF)).mappings().all()
    size = -1
    while size != len(found):
        size = len(found)
        for row in rows:
            if found & (_names(row) | {one.casefold() for one in row["broader"]}):
                found |= _names(row)
    return frozenset(found)


def refusal(connection: Connection, kind: str, name: str, row_ids: Mapping[str, int | None]) -> Restricted:
    """Return the error for something that is kept back; row_ids: {"site_id", "lot_id", "sherd_id"} as known."""
    columns = [t.restriction.c[column] == row_id for column, row_id in row_ids.items() if row_id is not None]
    grounds: set[str] = set()
    for column in columns:
        grounds |= set(connection.scalars(select(t.restriction.c.ground).where(t.restriction.c.is_active, column)))
    why = ", ".join(sorted(grounds)) or "its motif"
    return Restricted(
        f"{kind} '{name}' is restricted ({why}) and not shown; where you may see it, unlock it with a reason "
        "that goes on record (--unlock 'REASON')"
    )


def _names(row: RowMapping) -> set[str]:
    return {row["label"].casefold(), *(one.casefold() for one in row["synonyms"])}


def _spellings(connection: Connection, terms: Iterable[str]) -> list[str]:
    """The tags as typed that mean one of the terms: databases differ in what they call the same letter."""
    wanted = set(terms)
    query = select(t.tag.c.term).where(t.tag.c.is_active, t.tag.c.kind == MOTIF).distinct()
    return [term for term in connection.scalars(query) if term.casefold() in wanted]
