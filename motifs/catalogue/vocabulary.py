"""The vocabulary as it is kept: terms by kind and label, every change in the history."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import TYPE_CHECKING, Any

from sqlalchemy import select, update

from motifs.catalogue import gate
from motifs.catalogue import tables as t
from motifs.catalogue.names import check_name, check_note, unknown
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError
from motifs.records import Term

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy import RowMapping

_LISTS = ("synonyms", "broader", "examples")


class Vocabulary(Store):
    """Terms; whether they make a sound whole is for the caller to check before the transaction ends."""

    def terms(self, kind: str | None = None) -> tuple[Term, ...]:
        """Return the terms, of one kind or all, by kind and label."""
        query = select(t.term).where(t.term.c.is_active)
        if kind is not None:
            query = query.where(t.term.c.kind == kind)
        with self._reading() as connection:
            rows = connection.execute(query).mappings().all()
            hidden = frozenset() if self._sees_all else gate.hidden_terms(connection)
        shown = [row for row in rows if row["kind"] != gate.MOTIF or row["label"].casefold() not in hidden]
        return tuple(sorted((_term(row) for row in shown), key=lambda term: (term.kind, term.label)))

    def add_terms(self, terms: Sequence[Term]) -> None:
        """Add terms. NameRefused or InputError for a name that cannot be, or one that is there."""
        present = {(term.kind, term.label) for term in self.terms()}
        for term in terms:
            if (term.kind, term.label) in present:
                raise InputError(f"{term.kind} '{term.label}' is in the vocabulary already; edit that one")
            edit = Edit(self._work)
            edit.insert(t.term, {**_columns(term), "is_active": True})
            edit.log("term added", None, f"{term.kind}: {term.label}", is_undoable=False)

    def replace_term(self, was: Term, term: Term) -> None:
        """Put a term in the place of another of its kind; with a new label, what names it follows.

        Raises
        ------
        UnknownName
            `was` is not there.
        InputError
            `was` has been changed by somebody else since it was read.
        """
        row = self._row(was.kind, was.label)
        if _term(row) != was:
            raise InputError(
                f"{was.kind} '{was.label}' was changed by {row['made_by']} in the meantime; look at it again, then edit it"
            )
        edit = Edit(self._work)
        edit.update(t.term, int(row["id"]), **_columns(term))
        if term.label != was.label:
            self._follow(edit, was, term.label)
        edit.log("term changed", None, f"{term.kind}: {term.label}", is_undoable=False)
        made = update(t.term).where(t.term.c.id == row["id"]).values(self._work.made())
        self._work.connection.execute(made)

    def drop_term(self, kind: str, label: str) -> None:
        """Take a term out; tags that use the word keep it. UnknownName if it is not there."""
        edit = Edit(self._work)
        edit.update(t.term, int(self._row(kind, label)["id"]), is_active=False)
        edit.log("term dropped", None, f"{kind}: {label}", is_undoable=False)

    def _follow(self, edit: Edit, was: Term, label: str) -> None:
        """Rename what refers to a term: narrower terms, and tags, which keep who said so and when."""
        connection = self._work.connection
        for row in connection.execute(select(t.term).where(t.term.c.kind == was.kind, t.term.c.is_active)).mappings():
            if was.label in row["broader"]:
                renamed = [label if one == was.label else one for one in row["broader"]]
                edit.update(t.term, int(row["id"]), broader=renamed)
        used = select(t.tag.c.id).where(t.tag.c.kind == was.kind, t.tag.c.term == was.label, t.tag.c.is_active)
        for tag_id in connection.scalars(used).all():
            edit.update(t.tag, tag_id, term=label)

    def _row(self, kind: str, label: str) -> RowMapping:
        query = select(t.term).where(t.term.c.kind == kind, t.term.c.label == label, t.term.c.is_active)
        found = self._work.connection.execute(query).mappings().one_or_none()
        if found is None:
            raise unknown(kind, label, [term.label for term in self.terms(kind)])
        return found


def _columns(term: Term) -> dict[str, Any]:
    check_name(term.label, term.kind)
    for text in (term.definition, term.period_note, term.region_note, *term.synonyms):
        check_note(text, "the term's text")
    values = asdict(term)
    return {**values, **{name: list(values[name]) for name in _LISTS}}


def _term(row: RowMapping) -> Term:
    values = {field.name: row[field.name] for field in fields(Term)}
    return Term(**{**values, **{name: tuple(values[name]) for name in _LISTS}})
