"""Second looks: a sample of sherds tagged again, blind. The answers are kept apart and never become tags."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sqlalchemy import select

from motifs.catalogue import tables as t
from motifs.catalogue.lookup import find_kept_sherd
from motifs.catalogue.names import check_name, unknown
from motifs.catalogue.rows import TAG_KINDS
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError, UnknownName

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy import RowMapping


@dataclass(frozen=True, slots=True)
class FirstLook:
    """What was said of a sherd the first time, and by whom; never shown before the second look is over."""

    sherd: str
    term: str
    by: str


@dataclass(frozen=True, slots=True)
class SecondLookRow:
    """One second look. first: the sample, in the order to look at it, with what was said the first time, before first_before."""

    name: str
    kind: str
    seed: int
    first: tuple[FirstLook, ...]
    first_before: str
    by: str
    at: str

    @property
    def sherds(self) -> tuple[str, ...]:
        """Catalogue numbers of the sample, in the order to look at them."""
        return tuple(one.sherd for one in self.first)


@dataclass(frozen=True, slots=True)
class SecondAnswerRow:
    """One blind answer."""

    sherd: str
    term: str
    confidence: float | None
    by: str
    at: str


class SecondLooks(Store):
    """Samples to be tagged again, and the answers."""

    def add_second_look(self, name: str, kind: str, first: Sequence[FirstLook], *, seed: int) -> SecondLookRow:
        """Begin a second look at a sample.

        Raises
        ------
        NameRefused, UnknownName
            The name cannot be one; no such kept sherd.
        InputError
            The name is taken, another kind, or an empty sample.
        """
        name = check_name(name, "second look")
        if kind not in TAG_KINDS:
            raise InputError(f"'{kind}' is no kind of tag; the kinds are {', '.join(TAG_KINDS)}")
        if not first:
            raise InputError(
                f"the second look '{name}' has no sherd to look at; tag some sherds first, or take a larger sample"
            )
        if any(look.name == name for look in self.second_looks()):
            raise InputError(f"there is a second look '{name}' already; give another name")
        connection = self._work.connection
        sample = [
            {"sherd_id": find_kept_sherd(connection, one.sherd)["id"], "term": one.term, "by": one.by} for one in first
        ]
        edit = Edit(self._work)
        values = {"name": name, "kind": kind, "seed": seed, "sherds": sample, "first_before": self._work.at}
        edit.insert(t.second_look, values)
        edit.log("second look begun", None, name, is_undoable=False)
        return self.second_look(name)

    def second_looks(self) -> tuple[SecondLookRow, ...]:
        """Return all second looks, oldest first."""
        with self._reading() as connection:
            rows = connection.execute(select(t.second_look).order_by(t.second_look.c.id)).mappings().all()
            ids = {one["sherd_id"] for row in rows for one in row["sherds"]}
            found = select(t.sherd.c.id, t.sherd.c.number).where(t.sherd.c.id.in_(ids), self._shown(connection))
            numbers = {int(row.id): str(row.number) for row in connection.execute(found)}
        return tuple(_look(row, numbers) for row in rows)

    def second_look(self, name: str) -> SecondLookRow:
        """Return one second look, or raise UnknownName."""
        looks = self.second_looks()
        for look in looks:
            if look.name == name:
                return look
        if not looks:
            raise UnknownName(f"no second look '{name}'; there is none yet: begin one first")
        raise unknown("second look", name, [look.name for look in looks])

    def answer_second_look(self, name: str, number: str, term: str, *, confidence: float | None = None) -> None:
        """Record what the person of this transaction sees; a later answer of the same person replaces it.

        Raises
        ------
        UnknownName, NameRefused
            No such second look; the sherd is not in its sample; the term cannot be one.
        InputError
            A confidence outside 0..1.
        """
        look = self.second_look(name)
        if number not in look.sherds:
            raise UnknownName(
                f"sherd '{number}' is not in the sample of '{name}'; look at one of its {len(look.sherds)} sherds"
            )
        if confidence is not None and not 0 <= confidence <= 1:
            raise InputError(f"a confidence of {confidence} is not possible; give a number from 0 to 1")
        connection = self._work.connection
        sherd = find_kept_sherd(connection, number)
        look_id = connection.scalar(select(t.second_look.c.id).where(t.second_look.c.name == name))
        mine = select(t.second_answer.c.id).where(
            t.second_answer.c.look_id == look_id,
            t.second_answer.c.sherd_id == sherd["id"],
            t.second_answer.c.made_by == self._work.by,
            t.second_answer.c.is_active,
        )
        edit = Edit(self._work)
        for old in connection.scalars(mine).all():
            edit.update(t.second_answer, old, is_active=False)
        values = {
            "look_id": look_id,
            "sherd_id": sherd["id"],
            "term": check_name(term, "term"),
            "confidence": confidence,
        }
        edit.insert(t.second_answer, {**values, "is_active": True})
        # The line names no term, so that whoever reads the history before looking stays blind.
        edit.log("second look answered", None, f"{name}: {number}", is_undoable=False)

    def second_answers(self, name: str) -> tuple[SecondAnswerRow, ...]:
        """Return the answers that hold, oldest first; UnknownName for the second look."""
        self.second_look(name)
        query = (
            select(t.second_answer, t.sherd.c.number)
            .select_from(t.second_answer.join(t.sherd).join(t.second_look))
            .where(t.second_look.c.name == name, t.second_answer.c.is_active)
            .order_by(t.second_answer.c.id)
        )
        with self._reading() as connection:
            rows = connection.execute(query.where(self._shown(connection))).mappings().all()
        return tuple(
            SecondAnswerRow(row["number"], row["term"], row["confidence"], row["made_by"], row["made_at"])
            for row in rows
        )


def _look(row: RowMapping, numbers: Mapping[int, str]) -> SecondLookRow:
    first = tuple(
        FirstLook(numbers[one["sherd_id"]], one["term"], one["by"])
        for one in row["sherds"]
        if one["sherd_id"] in numbers
    )
    return SecondLookRow(
        row["name"], row["kind"], row["seed"], first, row["first_before"], row["made_by"], row["made_at"]
    )
