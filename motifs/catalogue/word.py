"""The analyst's word: links between sherds, and attributions to vessels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import select

from motifs.catalogue import tables as t
from motifs.catalogue.chains import DIFFERENT, SAME, Pair, check_links
from motifs.catalogue.derived import Derived
from motifs.catalogue.lookup import find_kept_sherd, lot_id_of
from motifs.catalogue.names import check_name, check_note
from motifs.catalogue.rows import AttributionRow, LinkRow
from motifs.catalogue.store import Edit
from motifs.catalogue.takeover import active_links
from motifs.errors import InputError, LinksContradict, UnknownName

if TYPE_CHECKING:
    from sqlalchemy import RowMapping


class Word(Derived):
    """What people said."""

    def tell(self, lot: str, a: str, b: str, relation: str) -> int:
        """Record that two sherds are of the same vessel, or of different ones. Undoable.

        Parameters
        ----------
        lot
            Of both.
        a, b
            Catalogue numbers.
        relation
            "same" or "different".

        Returns
        -------
        int
            How many links the lot has now. Telling the same again changes nothing.

        Raises
        ------
        UnknownName
            No such lot, or no such kept sherd in it.
        InputError
            A sherd with itself, or another relation.
        LinksContradict
            It cannot hold together with what was told before; the message names the chain.
        """
        connection = self._work.connection
        lot_id = lot_id_of(connection, lot)
        if relation not in {SAME, DIFFERENT}:
            raise InputError(f"a link is 'same' or 'different', not '{relation}'")
        if a == b:
            raise InputError(f"sherd '{a}' cannot be linked with itself; name two sherds")
        low, high = self._pair(lot, a, b)
        links = self.links(lot)
        if any({link.a, link.b} == {a, b} and link.relation == relation for link in links):
            return len(links)
        _refuse_opposite(links, a, b)
        check_links([*(Pair(link.a, link.b, link.relation) for link in links), Pair(a, b, relation)])
        edit = Edit(self._work)
        values = {"lot_id": lot_id, "a_id": low, "b_id": high, "relation": relation, "is_active": True}
        edit.insert(t.link, values)
        edit.log(f"told {relation}", lot_id, f"{a}, {b}", is_undoable=True)
        return len(links) + 1

    def links(self, lot: str) -> tuple[LinkRow, ...]:
        """Return the links between kept sherds of a lot, oldest first; UnknownName for the lot."""
        with self._reading() as connection:
            query = active_links(lot_id_of(connection, lot))
            query = query.where(self._shown(connection, t.link.c.a_id), self._shown(connection, t.link.c.b_id))
            rows = connection.execute(query).mappings()
            return tuple(
                LinkRow(row["id"], lot, row["a"], row["b"], row["relation"], row["made_by"], row["made_at"])
                for row in rows
            )

    def withdraw(self, lot: str, a: str, b: str) -> int:
        """Take a link back. Undoable.

        Returns
        -------
        int
            How many links the lot has left.

        Raises
        ------
        UnknownName
            No such lot, or no link between the two.
        """
        links = self.links(lot)
        found = [link for link in links if {link.a, link.b} == {a, b}]
        if not found:
            raise UnknownName(f"no link between '{a}' and '{b}' in lot '{lot}'; list the lot's links to see them")
        edit = Edit(self._work)
        edit.update(t.link, found[0].link_id, is_active=False)
        edit.log("link withdrawn", lot_id_of(self._work.connection, lot), f"{a}, {b}", is_undoable=True)
        return len(links) - 1

    def attribute(self, number: str, vessel: str | None, *, note: str = "") -> AttributionRow:
        """Record a person's judgement; it replaces the earlier one, which the history keeps. Undoable.

        Parameters
        ----------
        number
            Of the sherd.
        vessel
            The vessel's name in the lot; None: left unassigned on purpose.
        note
            Why.

        Raises
        ------
        UnknownName
            No such kept sherd.
        NameRefused
            The vessel's name cannot be one.
        """
        sherd = find_kept_sherd(self._work.connection, number)
        vessel = None if vessel is None else check_name(vessel, "vessel")
        present = self._attribution_of(sherd["id"])
        if present is None or (present["vessel"], present["note"]) != (vessel, note):
            edit = Edit(self._work)
            if present is not None:
                edit.update(t.attribution, present["id"], is_active=False)
            values = {"sherd_id": sherd["id"], "vessel": vessel, "note": check_note(note), "is_active": True}
            edit.insert(t.attribution, values)
            edit.log("attributed", sherd["lot_id"], number, is_undoable=True)
        return self.attributions(sherd["lot"])[number]

    def withdraw_attribution(self, number: str) -> None:
        """Leave the sherd to the proposals again; nothing happens where nobody judged it. Undoable.

        Raises
        ------
        UnknownName
            No such kept sherd.
        """
        sherd = find_kept_sherd(self._work.connection, number)
        present = self._attribution_of(sherd["id"])
        if present is not None:
            edit = Edit(self._work)
            edit.update(t.attribution, present["id"], is_active=False)
            edit.log("attribution withdrawn", sherd["lot_id"], number, is_undoable=True)

    def attributions(self, lot: str) -> dict[str, AttributionRow]:
        """Return what people judged, by sherd number; a sherd nobody judged is absent. UnknownName for the lot."""
        query = (
            select(t.attribution, t.sherd.c.number)
            .select_from(t.attribution.join(t.sherd))
            .where(t.attribution.c.is_active, t.sherd.c.state == "kept")
            .order_by(t.sherd.c.id)
        )
        with self._reading() as connection:
            query = query.where(t.sherd.c.lot_id == lot_id_of(connection, lot), self._shown(connection))
            rows = connection.execute(query)
            return {
                row.number: AttributionRow(row.number, row.vessel, row.made_by, row.note, row.made_at) for row in rows
            }

    def _pair(self, lot: str, a: str, b: str) -> tuple[int, int]:
        ids = sorted(find_kept_sherd(self._work.connection, number, lot)["id"] for number in (a, b))
        return ids[0], ids[1]

    def _attribution_of(self, sherd_id: int) -> RowMapping | None:
        query = select(t.attribution).where(t.attribution.c.sherd_id == sherd_id, t.attribution.c.is_active)
        return self._work.connection.execute(query).mappings().one_or_none()


def _refuse_opposite(links: tuple[LinkRow, ...], a: str, b: str) -> None:
    for link in links:
        if {link.a, link.b} == {a, b}:
            raise LinksContradict(
                f"{link.by} told that {link.a} and {link.b} are {link.relation}; withdraw that link first"
            )
