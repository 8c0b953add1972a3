"""Comparanda that a person chose to keep, each with the reason; and tags that a person refused."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any

from sqlalchemy import Select, insert, or_, select

from motifs.catalogue import tables as t
from motifs.catalogue.lookup import find_kept_sherd, ids_and_keys
from motifs.catalogue.names import check_name, check_note, unknown
from motifs.catalogue.rows import TAG_KINDS
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError, UnknownName

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlalchemy import RowMapping

LIST_VERBS = ("comparandum kept", "comparandum dropped", "tag refused")
"""Lines of the history that change nothing a sorting rests on."""


@dataclass(frozen=True, slots=True)
class Citation:
    """Where a piece is published and kept, as typed; empty where nobody said. piece: what the publication calls it."""

    author: str = ""
    year: str = ""
    title: str = ""
    pages: str = ""
    figure: str = ""
    piece: str = ""
    holder: str = ""
    inventory_number: str = ""
    rights: str = ""

    @property
    def is_empty(self) -> bool:
        """Whether nothing was said."""
        return not any(asdict(self).values())


@dataclass(frozen=True, slots=True)
class ComparandumRow:
    """One kept comparandum: `sherd` is compared with `query`. sherd None: a published piece, told by its citation.

    site, lot, photo_name: of the sherd. similarity, probability, encoder: as the search gave them; None where the
    piece did not come from a search.
    """

    entry_id: int
    list_name: str
    query: str
    sherd: str | None
    lot: str | None
    site: str | None
    photo_name: str | None
    reason: str
    citation: Citation
    similarity: float | None
    probability: float | None
    encoder: str | None
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class ComparandaListRow:
    """A list and how many comparanda it holds."""

    name: str
    entries: int
    by: str
    at: str


class ComparandaLists(Store):
    """Lists of comparanda, and refused tags."""

    def keep_comparandum(
        self,
        list_name: str,
        query: str,
        sherd: str | None,
        reason: str,
        *,
        citation: Citation | None = None,
        similarity: float | None = None,
        probability: float | None = None,
        encoder: str | None = None,
    ) -> ComparandumRow:
        """Keep a comparandum in a list, which is made if need be. Undoable.

        Parameters
        ----------
        list_name
            As typed.
        query, sherd
            Catalogue numbers; sherd None for a piece that only its citation tells of.
        reason
            Why it is comparable; must not be empty.

        Returns
        -------
        ComparandumRow
            The new one; the old one, with its reason and citation as given now, where the pair is in the list already.

        Raises
        ------
        UnknownName, NameRefused
            No such kept sherd; the list cannot be called so.
        InputError
            No reason, a sherd compared with itself, or neither a sherd nor a citation.
        """
        cited = citation or Citation()
        connection = self._work.connection
        asked = find_kept_sherd(connection, query)
        other = None if sherd is None else find_kept_sherd(connection, sherd)
        name = check_name(list_name, "list")
        _check_entry(query, sherd, reason, cited)
        values = {"reason": check_note(reason.strip(), "reason"), "citation": asdict(cited)}
        edit = Edit(self._work)
        entry_id = None if other is None else self._entry_of(name, int(asked["id"]), int(other["id"]))
        if entry_id is not None:
            edit.update(t.comparanda_entry, entry_id, **values)
        else:
            row = {"list_id": self._list_id(name), "query_id": asked["id"], "sherd_id": other and other["id"], **values}
            row |= {"similarity": similarity, "probability": probability, "encoder": encoder, "is_active": True}
            entry_id = edit.insert(t.comparanda_entry, row)
        told = f"{query}: {sherd or cited.piece or cited.title} in '{name}'"
        edit.log("comparandum kept", asked["lot_id"], told, is_undoable=True)
        return self.comparandum(entry_id)

    def drop_comparandum(self, entry_id: int) -> None:
        """Take a comparandum out of its list. Undoable; UnknownName for one that is not there."""
        entry = self.comparandum(entry_id)
        edit = Edit(self._work)
        edit.update(t.comparanda_entry, entry_id, is_active=False)
        lot_id = find_kept_sherd(self._work.connection, entry.query)["lot_id"]
        edit.log(
            "comparandum dropped", lot_id, f"{entry.query}: {entry.sherd or entry.citation.piece}", is_undoable=True
        )

    def comparandum(self, entry_id: int) -> ComparandumRow:
        """Return one kept comparandum, or raise UnknownName."""
        with self._reading() as connection:
            found = connection.execute(_entries().where(t.comparanda_entry.c.id == entry_id)).mappings().one_or_none()
        if found is None:
            raise UnknownName(f"no comparandum {entry_id} in any list; list them to see which there are")
        return _entry_row(found)

    def comparanda_lists(self) -> tuple[ComparandaListRow, ...]:
        """Return the lists that hold something, oldest first."""
        counts: dict[str, int] = {}
        for entry in self._all_entries():
            counts[entry.list_name] = counts.get(entry.list_name, 0) + 1
        with self._reading() as connection:
            rows = connection.execute(select(t.comparanda_list).order_by(t.comparanda_list.c.id)).mappings().all()
        return tuple(
            ComparandaListRow(row["name"], counts[row["name"]], row["made_by"], row["made_at"])
            for row in rows
            if row["name"] in counts
        )

    def comparanda_in(self, list_name: str) -> tuple[ComparandumRow, ...]:
        """Return what a list holds, oldest first; UnknownName for a list that holds nothing."""
        found = tuple(entry for entry in self._all_entries() if entry.list_name == list_name)
        if not found:
            names = [row.name for row in self.comparanda_lists()]
            if not names:
                raise UnknownName("there is no list of comparanda yet; keep a comparandum first")
            raise unknown("list", list_name, names)
        return found

    def comparanda_kept_for(self, query: str) -> tuple[ComparandumRow, ...]:
        """Return what was kept for a sherd, in any list, oldest first."""
        return tuple(entry for entry in self._all_entries() if entry.query == query)

    def refuse_tag(self, number: str, term: str, kind: str) -> None:
        """Remember that a person refused a term for a sherd, so that it is not proposed again. Undoable.

        Raises
        ------
        UnknownName, NameRefused
            No such kept sherd; the term cannot be one.
        InputError
            Another kind.
        """
        sherd = find_kept_sherd(self._work.connection, number)
        term = check_name(term, "term")
        if kind not in TAG_KINDS:
            raise InputError(f"'{kind}' is no kind of tag; the kinds are {', '.join(TAG_KINDS)}")
        if (kind, term) in self.refused_tags_of([number])[number]:
            return
        edit = Edit(self._work)
        edit.insert(t.tag_refusal, {"sherd_id": sherd["id"], "term": term, "kind": kind, "is_active": True})
        edit.log("tag refused", sherd["lot_id"], f"{number}: {term}", is_undoable=True)

    def refused_tags_of(self, numbers: Iterable[str]) -> dict[str, frozenset[tuple[str, str]]]:
        """Return (kind, term) of every refused tag by sherd; every number asked for is in the answer."""
        with self._reading() as connection:
            ids = {row_id: number for number, (row_id, _) in ids_and_keys(connection, numbers).items()}
            refused: dict[str, set[tuple[str, str]]] = {number: set() for number in ids.values()}
            query = select(t.tag_refusal).where(t.tag_refusal.c.is_active)
            for row in connection.execute(query).mappings():
                if row["sherd_id"] in ids:
                    refused[ids[row["sherd_id"]]].add((row["kind"], row["term"]))
        return {number: frozenset(found) for number, found in refused.items()}

    def _list_id(self, name: str) -> int:
        connection = self._work.connection
        found = connection.scalar(select(t.comparanda_list.c.id).where(t.comparanda_list.c.name == name))
        if found is not None:
            return int(found)
        # Not in the history: a list without comparanda counts as not there.
        made = insert(t.comparanda_list).values({**self._work.made(), "name": name})
        return int(connection.execute(made.returning(t.comparanda_list.c.id)).scalar_one())

    def _entry_of(self, name: str, query_id: int, sherd_id: int) -> int | None:
        entry = t.comparanda_entry.c
        query = (
            select(entry.id)
            .join(t.comparanda_list, t.comparanda_list.c.id == entry.list_id)
            .where(t.comparanda_list.c.name == name, entry.query_id == query_id, entry.sherd_id == sherd_id)
            .where(entry.is_active)
        )
        found = self._work.connection.scalar(query)
        return None if found is None else int(found)

    def _all_entries(self) -> tuple[ComparandumRow, ...]:
        with self._reading() as connection:
            column = t.comparanda_entry.c
            is_cited = column.sherd_id.is_(None)
            query = _entries().where(self._shown(connection, column.query_id))
            query = query.where(or_(is_cited, self._shown(connection, column.sherd_id)))
            return tuple(_entry_row(row) for row in connection.execute(query).mappings())


def _check_entry(query: str, sherd: str | None, reason: str, citation: Citation) -> None:
    if not reason.strip():
        raise InputError("a comparandum needs a reason: write what the two have in common")
    if sherd == query:
        raise InputError(f"'{query}' cannot be its own comparandum; name another sherd")
    if sherd is None and citation.is_empty:
        raise InputError("name a sherd of the collection, or cite the piece: at least its author, title or piece")
    for field in fields(citation):
        check_note(getattr(citation, field.name), field.name)


def _entries() -> Select[Any]:
    query, other = t.sherd.alias("query"), t.sherd.alias("other")
    entry = t.comparanda_entry
    source = (
        entry.join(t.comparanda_list, t.comparanda_list.c.id == entry.c.list_id)
        .join(query, query.c.id == entry.c.query_id)
        .outerjoin(other, other.c.id == entry.c.sherd_id)
        .outerjoin(t.lot, t.lot.c.id == other.c.lot_id)
        .outerjoin(t.site, t.site.c.id == t.lot.c.site_id)
        .outerjoin(t.photo, t.photo.c.id == other.c.photo_id)
    )
    return (
        select(
            entry,
            t.comparanda_list.c.name.label("list_name"),
            query.c.number.label("query"),
            other.c.number.label("sherd"),
            t.lot.c.name.label("lot"),
            t.site.c.name.label("site"),
            t.photo.c.file_name.label("photo_name"),
        )
        .select_from(source)
        .where(entry.c.is_active)
        .order_by(entry.c.id)
    )


def _entry_row(row: RowMapping) -> ComparandumRow:
    known = {field.name for field in fields(Citation)}
    citation = Citation(**{name: str(value) for name, value in row["citation"].items() if name in known})
    return ComparandumRow(
        entry_id=row["id"],
        list_name=row["list_name"],
        query=row["query"],
        sherd=row["sherd"],
        lot=row["lot"],
        site=row["site"],
        photo_name=row["photo_name"],
        reason=row["reason"],
        citation=citation,
        similarity=row["similarity"],
        probability=row["probability"],
        encoder=row["encoder"],
        by=row["made_by"],
        at=row["made_at"],
    )
