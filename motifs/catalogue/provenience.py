"""Sites and lots."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import ColumnElement, and_, func, select, true

from motifs.catalogue import gate
from motifs.catalogue import tables as t
from motifs.catalogue.lookup import lot_id_of, lot_query, lot_row
from motifs.catalogue.names import check_name, composed, unknown
from motifs.catalogue.rows import LotRow, SiteRow
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError

if TYPE_CHECKING:
    from sqlalchemy import Connection


class Provenience(Store):
    """Where things come from."""

    def ensure_site(self, name: str) -> SiteRow:
        """Return the site of that name, made if it is not there.

        Raises
        ------
        NameRefused
            It cannot be a name.
        """
        name = check_name(name, "site")
        self._site_id(name)
        for row in self.sites():
            if row.name == name:
                return row
        raise gate.refusal(
            self._work.connection, "site", name, {"site_id": _known_site_id(self._work.connection, name)}
        )

    def sites(self) -> tuple[SiteRow, ...]:
        """Return all sites, in the order they came in."""
        with self._reading() as connection:
            # A lot that is kept back is not counted.
            lots = t.site.outerjoin(t.lot, and_(t.lot.c.site_id == t.site.c.id, self._lot_shown(connection)))
            columns = select(t.site.c.name, func.count(t.lot.c.id)).select_from(lots)
            columns = columns.where(self._site_shown(connection))
            rows = connection.execute(columns.group_by(t.site.c.id, t.site.c.name).order_by(t.site.c.id)).all()
        return tuple(SiteRow(name, lots) for name, lots in rows)

    def ensure_lot(self, name: str, site: str | None = None) -> LotRow:
        """Return the lot of that name, made if it is not there, and its site with it.

        Parameters
        ----------
        name
            Unique in the collection.
        site
            Given to a lot that has none yet.

        Raises
        ------
        NameRefused
            Lot or site cannot be a name.
        InputError
            The lot belongs to another site.
        """
        name = check_name(name, "lot")
        site = None if site is None else check_name(site, "site")
        found = self._work.connection.scalar(select(t.lot.c.id).where(t.lot.c.name == name))
        if found is None:
            self._add_lot(name, site)
        elif site is not None:
            self._confirm_site(name, site)
        return self.lot(name)

    def lot(self, name: str) -> LotRow:
        """Return the lot; UnknownName with the nearest names, or Restricted where it is kept back."""
        with self._reading() as connection:
            lot_id = lot_id_of(connection, name)
            query = lot_query(self._shown(connection)).where(t.lot.c.id == lot_id)
            row = connection.execute(query).mappings().one()
            if connection.scalar(select(t.lot.c.id).where(t.lot.c.id == lot_id, self._lot_shown(connection))) is None:
                raise gate.refusal(connection, "lot", name, {"lot_id": lot_id, "site_id": row["site_id"]})
            return lot_row(row)

    def lots(self, site: str | None = None) -> tuple[LotRow, ...]:
        """Return all lots, or those of a site, in the order they came in; UnknownName for the site."""
        with self._reading() as connection:
            query = lot_query(self._shown(connection)).where(self._lot_shown(connection))
            if site is not None:
                query = query.where(t.lot.c.site_id == _known_site_id(connection, site))
            return tuple(lot_row(row) for row in connection.execute(query).mappings())

    def set_site(self, lot: str, site: str | None) -> LotRow:
        """Give the lot to another site, made if it is not there, or to none. Undoable.

        Raises
        ------
        UnknownName, NameRefused
            No such lot; the site cannot be a name.
        """
        lot_id = lot_id_of(self._work.connection, lot)
        site_id = None if site is None else self._site_id(check_name(site, "site"))
        edit = Edit(self._work)
        edit.update(t.lot, lot_id, site_id=site_id)
        edit.log("site set", lot_id, lot, is_undoable=True)
        return self.lot(lot)

    def _site_shown(self, connection: Connection) -> ColumnElement[bool]:
        return true() if self._sees_all else t.site.c.id.not_in(gate.hidden_sites())

    def _site_id(self, name: str) -> int:
        found = self._work.connection.scalar(select(t.site.c.id).where(t.site.c.name == name))
        if found is not None:
            return int(found)
        edit = Edit(self._work)
        site_id = edit.insert(t.site, {"name": name})
        edit.log("site added", None, name, is_undoable=False)
        return site_id

    def _add_lot(self, name: str, site: str | None) -> None:
        site_id = None if site is None else self._site_id(site)
        edit = Edit(self._work)
        lot_id = edit.insert(t.lot, {"name": name, "site_id": site_id, "last_number": 0})
        edit.log("lot added", lot_id, name, is_undoable=False)

    def _confirm_site(self, lot: str, site: str) -> None:
        present = self.lot(lot).site
        if present is None:
            self.set_site(lot, site)
        elif present != site:
            raise InputError(
                f"lot '{lot}' belongs to site '{present}', not '{site}'; name that site, or give the lot another name"
            )


def _known_site_id(connection: Connection, name: str) -> int:
    found = connection.scalar(select(t.site.c.id).where(t.site.c.name == composed(name)))
    if found is None:
        raise unknown(
            "site",
            name,
            connection.scalars(
                select(t.site.c.name).where(t.site.c.id.not_in(gate.hidden_sites())).order_by(t.site.c.id)
            ),
        )
    return int(found)
