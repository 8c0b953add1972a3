"""What the whole takes over from its parts when outlines are merged: links, attribution, tags."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, RowMapping, Select, or_, select

from motifs.catalogue import tables as t
from motifs.catalogue.chains import Pair, check_links
from motifs.errors import LinksContradict

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue.store import Edit


def active_links(lot_id: int) -> Select[Any]:
    """Select the links that hold between kept sherds of a lot, oldest first."""
    return _every_link().where(t.link.c.lot_id == lot_id)


@cache
def _every_link() -> Select[Any]:
    """The links of all lots; built once, since building it takes longer than asking."""
    a, b = t.sherd.alias("a"), t.sherd.alias("b")
    return (
        select(t.link, a.c.number.label("a"), b.c.number.label("b"))
        .select_from(t.link.join(a, t.link.c.a_id == a.c.id).join(b, t.link.c.b_id == b.c.id))
        .where(t.link.c.is_active, a.c.state == "kept", b.c.state == "kept")
        .order_by(t.link.c.id)
    )


def check_lot(connection: Connection, lot_id: int) -> None:
    """Raise LinksContradict where the links of a lot cannot all hold."""
    check_links([Pair(row.a, row.b, row.relation) for row in connection.execute(active_links(lot_id))])


def take_over(connection: Connection, edit: Edit, parts: Sequence[RowMapping], whole: RowMapping) -> None:
    """Move links, attribution and tags of merged parts to the whole, keeping who said so and when.

    Raises
    ------
    LinksContradict
        The parts were told different, or their links cannot hold together.
    """
    ids = [part["id"] for part in parts]
    _links(connection, edit, ids, whole)
    _attribution(connection, edit, ids, whole)
    _tags(connection, edit, ids, whole)


def _links(connection: Connection, edit: Edit, ids: list[int], whole: RowMapping) -> None:
    touching = select(t.link).where(t.link.c.is_active, or_(t.link.c.a_id.in_(ids), t.link.c.b_id.in_(ids)))
    outward: dict[int, RowMapping] = {}
    for link in connection.execute(touching.order_by(t.link.c.id)).mappings().all():
        others = {link["a_id"], link["b_id"]} - set(ids)
        edit.update(t.link, link["id"], is_active=False)
        other = next(iter(others), None)
        if (other is None and link["relation"] == "different") or (
            other in outward and outward[other]["relation"] != link["relation"]
        ):
            raise LinksContradict(
                f"the parts of '{whole['number']}' cannot be merged: their links say they are of different vessels; "
                "withdraw one of these links first"
            )
        if other is not None:
            outward.setdefault(other, link)
    for other, link in outward.items():
        said = {"relation": link["relation"], "made_by": link["made_by"], "made_at": link["made_at"]}
        # The whole is the newest sherd, so its id is the larger one.
        edit.insert(t.link, {"lot_id": whole["lot_id"], "a_id": other, "b_id": whole["id"], "is_active": True, **said})
    check_lot(connection, whole["lot_id"])


def _attribution(connection: Connection, edit: Edit, ids: list[int], whole: RowMapping) -> None:
    query = select(t.attribution).where(t.attribution.c.sherd_id.in_(ids), t.attribution.c.is_active)
    judged = connection.execute(query.order_by(t.attribution.c.id)).mappings().all()
    if len({row["vessel"] for row in judged}) == 1:
        kept = {name: judged[-1][name] for name in ("vessel", "note", "made_by", "made_at")}
        edit.insert(t.attribution, {"sherd_id": whole["id"], "is_active": True, **kept})


def _tags(connection: Connection, edit: Edit, ids: list[int], whole: RowMapping) -> None:
    query = select(t.tag).where(t.tag.c.sherd_id.in_(ids), t.tag.c.is_active).order_by(t.tag.c.id)
    by_term = {(row["term"], row["kind"]): row for row in connection.execute(query).mappings()}
    for row in by_term.values():
        kept = {name: row[name] for name in ("term", "kind", "confidence", "made_by", "made_at")}
        edit.insert(t.tag, {"sherd_id": whole["id"], "box_px": None, "is_active": True, **kept})
