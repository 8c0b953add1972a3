"""What learners did: kept by learner, outside the history of the sherds, since it says nothing of a sherd."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import insert, select, update

from motifs.catalogue import tables as t
from motifs.catalogue.lookup import find_kept_sherd
from motifs.catalogue.names import check_name
from motifs.catalogue.store import Store

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy import RowMapping

    from motifs.catalogue.rows import Json


@dataclass(frozen=True, slots=True)
class ExerciseTurnRow:
    """One exercise sorted by one learner. mark: as a JSON document; seconds None where nobody measured."""

    learner: str
    exercise: str
    piles: dict[str, str | None]
    mark: dict[str, Json]
    adjusted_rand: float
    seconds: float | None
    hints: int
    at: str


@dataclass(frozen=True, slots=True)
class QuizCardRow:
    """Where a card stands for a learner. box: from 1; due_on: ISO date."""

    learner: str
    sherd: str
    kind: str
    box: int
    due_on: str


@dataclass(frozen=True, slots=True)
class QuizAnswerRow:
    """One answer. term: what the sherd was tagged with then; given: what was answered."""

    learner: str
    sherd: str
    kind: str
    term: str
    given: str
    is_right: bool
    at: str


class Learners(Store):
    """Exercises sorted, and quizzes."""

    def keep_turn(
        self,
        learner: str,
        exercise: str,
        piles: Mapping[str, str | None],
        mark: Mapping[str, Json],
        *,
        adjusted_rand: float,
        seconds: float | None,
        hints: int,
    ) -> None:
        """Keep how a learner sorted an exercise; NameRefused for a name that cannot be one."""
        values = {
            "learner": check_name(learner, "learner"),
            "exercise": exercise,
            "piles": dict(piles),
            "mark": dict(mark),
            "adjusted_rand": adjusted_rand,
            "seconds": seconds,
            "hints": hints,
        }
        self._work.connection.execute(insert(t.exercise_turn).values({**self._work.made(), **values}))

    def turns(self, learner: str | None = None) -> tuple[ExerciseTurnRow, ...]:
        """Return the exercises sorted, by a learner or by all, oldest first."""
        query = select(t.exercise_turn).order_by(t.exercise_turn.c.id)
        if learner is not None:
            query = query.where(t.exercise_turn.c.learner == learner)
        with self._reading() as connection:
            return tuple(_turn(row) for row in connection.execute(query).mappings())

    def keep_answer(self, card: QuizCardRow, term: str, given: str) -> None:
        """Keep an answer, and where its card stands now.

        Raises
        ------
        UnknownName, NameRefused
            No such kept sherd; the learner cannot be called so.
        """
        connection = self._work.connection
        learner = check_name(card.learner, "learner")
        sherd_id = int(find_kept_sherd(connection, card.sherd)["id"])
        key = {"learner": learner, "sherd_id": sherd_id, "kind": card.kind}
        said = {**self._work.made(), **key, "term": term, "given": given, "is_right": term == given}
        connection.execute(insert(t.quiz_answer).values(said))
        column = t.quiz_card.c
        found = connection.scalar(
            select(column.id).where(column.learner == learner, column.sherd_id == sherd_id, column.kind == card.kind)
        )
        place = {"box": card.box, "due_on": card.due_on}
        if found is None:
            connection.execute(insert(t.quiz_card).values({**self._work.made(), **key, **place}))
        else:
            connection.execute(update(t.quiz_card).where(column.id == found).values(place))

    def quiz_cards(self, learner: str) -> tuple[QuizCardRow, ...]:
        """Return where a learner's cards stand, of kept sherds."""
        rows = self._of_sherds(t.quiz_card, learner)
        return tuple(QuizCardRow(row["learner"], row["number"], row["kind"], row["box"], row["due_on"]) for row in rows)

    def quiz_answers(self, learner: str | None = None) -> tuple[QuizAnswerRow, ...]:
        """Return the answers of a learner or of all, oldest first."""
        return tuple(
            QuizAnswerRow(
                row["learner"], row["number"], row["kind"], row["term"], row["given"], row["is_right"], row["made_at"]
            )
            for row in self._of_sherds(t.quiz_answer, learner)
        )

    def _of_sherds(self, table: Any, learner: str | None) -> list[RowMapping]:
        query = (
            select(table, t.sherd.c.number)
            .join(t.sherd, t.sherd.c.id == table.c.sherd_id)
            .where(t.sherd.c.state == "kept")
            .order_by(table.c.id)
        )
        if learner is not None:
            query = query.where(table.c.learner == learner)
        with self._reading() as connection:
            return list(connection.execute(query.where(self._shown(connection))).mappings())


def _turn(row: RowMapping) -> ExerciseTurnRow:
    return ExerciseTurnRow(
        row["learner"],
        row["exercise"],
        dict(row["piles"]),
        dict(row["mark"]),
        row["adjusted_rand"],
        row["seconds"],
        row["hints"],
        row["made_at"],
    )
