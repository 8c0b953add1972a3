"""The analyst's word on joins: accepted or refused, with how the two sherds lay; a relation of its own beside links."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from sqlalchemy import RowMapping, Select, select

from motifs.catalogue import tables as t
from motifs.catalogue.lookup import find_kept_sherd, lot_id_of
from motifs.catalogue.names import check_note
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError, UnknownName

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

ACCEPTED, REFUSED = "accepted", "refused"
Matrix = tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class JoinWordRow:
    """What a person said of a join.

    answer: "accepted" or "refused". transform: b's outline into a's frame, 3 by 3, mm, or None where it was not given.
    """

    lot: str
    a: str
    b: str
    answer: str
    transform: Matrix | None
    note: str
    by: str
    at: str


class JoinWords(Store):
    """What people said of joins."""

    def judge_join(
        self,
        lot: str,
        a: str,
        b: str,
        answer: str,
        *,
        transform: Sequence[Sequence[float]] | None = None,
        note: str = "",
    ) -> JoinWordRow:
        """Record a yes ("accepted") or a no ("refused"); it replaces the earlier word. Undoable.

        Parameters
        ----------
        lot
            Of both.
        a, b
            Catalogue numbers, in any order.
        transform
            3 by 3, b's outline into a's frame (mm), as they lay when it was judged.
        note
            Why.

        Raises
        ------
        UnknownName
            No such lot, or no such kept sherd in it.
        InputError
            A sherd with itself, another answer, or a transform that is no 3 by 3 matrix that can be turned back.
        """
        connection = self._work.connection
        lot_id = lot_id_of(connection, lot)
        if answer not in {ACCEPTED, REFUSED}:
            raise InputError(f"a join is 'accepted' or 'refused', not '{answer}'")
        if a == b:
            raise InputError(f"sherd '{a}' cannot be joined to itself; name two sherds")
        first, second = (find_kept_sherd(connection, number, lot)["id"] for number in (a, b))
        matrix = None if transform is None else _checked(transform)
        if first > second:
            first, second, a, b = second, first, b, a
            matrix = None if matrix is None else _turned_back(matrix)
        kept = None if matrix is None else [[round(float(value), 6) for value in row] for row in matrix]
        values = {"answer": answer, "transform": kept, "note": check_note(note)}
        present = connection.execute(_words().where(t.join_word.c.a_id == first, t.join_word.c.b_id == second))
        row = present.mappings().one_or_none()
        if row is None or any(row[name] != value for name, value in values.items()):
            edit = Edit(self._work)
            if row is not None:
                edit.update(t.join_word, row["id"], is_active=False)
            edit.insert(t.join_word, {"lot_id": lot_id, "a_id": first, "b_id": second, **values, "is_active": True})
            edit.log(f"join {answer}", lot_id, f"{a}, {b}", is_undoable=True)
        return next(word for word in self.join_words(lot) if (word.a, word.b) == (a, b))

    def withdraw_join_word(self, lot: str, a: str, b: str) -> None:
        """Leave the pair to the proposals again. Undoable.

        Raises
        ------
        UnknownName
            No such lot, or nobody judged the two.
        """
        lot_id = lot_id_of(self._work.connection, lot)
        rows = self._work.connection.execute(_words().where(t.join_word.c.lot_id == lot_id)).mappings().all()
        found = [row for row in rows if {row["a"], row["b"]} == {a, b}]
        if not found:
            raise UnknownName(f"nobody judged a join of '{a}' and '{b}' in lot '{lot}'; list its joins to see which")
        edit = Edit(self._work)
        edit.update(t.join_word, found[0]["id"], is_active=False)
        edit.log("join word withdrawn", lot_id, f"{a}, {b}", is_undoable=True)

    def join_words(self, lot: str) -> tuple[JoinWordRow, ...]:
        """Return what was said of joins between kept sherds of a lot, oldest first; UnknownName for the lot."""
        with self._reading() as connection:
            query = _words().where(t.join_word.c.lot_id == lot_id_of(connection, lot))
            query = query.where(
                self._shown(connection, t.join_word.c.a_id), self._shown(connection, t.join_word.c.b_id)
            )
            rows = connection.execute(query).mappings()
            return tuple(_word_row(lot, row) for row in rows)


def _words() -> Select[Any]:
    a, b = t.sherd.alias("a"), t.sherd.alias("b")
    return (
        select(t.join_word, a.c.number.label("a"), b.c.number.label("b"))
        .select_from(t.join_word.join(a, t.join_word.c.a_id == a.c.id).join(b, t.join_word.c.b_id == b.c.id))
        .where(t.join_word.c.is_active, a.c.state == "kept", b.c.state == "kept")
        .order_by(t.join_word.c.id)
    )


def _word_row(lot: str, row: RowMapping) -> JoinWordRow:
    kept = row["transform"]
    matrix = None if kept is None else tuple(tuple(float(value) for value in line) for line in kept)
    return JoinWordRow(lot, row["a"], row["b"], row["answer"], matrix, row["note"], row["made_by"], row["made_at"])


def _checked(transform: Sequence[Sequence[float]]) -> NDArray[np.float64]:
    matrix = np.array(transform, dtype=np.float64)
    if matrix.shape != (3, 3) or not np.isfinite(matrix).all() or abs(float(np.linalg.det(matrix))) < 1e-9:
        raise InputError("a join's transform is 3 by 3, finite, and can be turned back; take the one of the proposal")
    return matrix


def _turned_back(matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.linalg.inv(matrix), np.float64)
