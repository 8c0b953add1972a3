"""Learners: exercises kept with their marks, how each gets on, and how a class does."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from motifs.sites import share_interval

if TYPE_CHECKING:
    from collections.abc import Mapping

    from motifs.catalogue import Catalogue, Json, QuizAnswerRow
    from motifs.sites import ShareInterval
    from motifs.workflows.exercise import ExerciseMark, OpenExercise


@dataclass(frozen=True, slots=True)
class LearnerStanding:
    """One learner. mean_adjusted_rand: of the exercises marked, None without any. right: share of quiz answers, None without any.

    confused: (tagged, answered, how often), most often first.
    """

    learner: str
    exercises: int
    mean_adjusted_rand: float | None
    answers: int
    right: ShareInterval | None
    confused: tuple[tuple[str, str, int], ...]


@dataclass(frozen=True, slots=True)
class ClassSummary:
    """Every learner by name, what the class confuses most, and which cues its exercises missed most."""

    learners: tuple[LearnerStanding, ...]
    confused: tuple[tuple[str, str, int], ...]
    missed: tuple[tuple[str, int], ...]


def keep_turn(
    cat: Catalogue,
    exercise: OpenExercise,
    piles: Mapping[str, str | None],
    mark: ExerciseMark,
    *,
    learner: str,
) -> None:
    """Keep how a learner sorted an exercise, with its mark."""
    document: dict[str, Json] = {
        "own": asdict(mark.own),
        "machine": None if mark.machine is None else asdict(mark.machine),
        "missed": [{"cue": one.cue.name, "pairs": one.pairs} for one in mark.missed],
        "pots": exercise.pots,
        "alike": float(exercise.answer["alike"]),
        "seed": int(exercise.answer["seed"]),
    }
    with cat.transaction(by=learner):
        cat.keep_turn(
            learner,
            exercise.name,
            piles,
            document,
            adjusted_rand=mark.own.adjusted_rand,
            seconds=mark.seconds,
            hints=mark.hints,
        )


def class_summary(cat: Catalogue) -> ClassSummary:
    """How everybody does who sorted an exercise or answered a question here."""
    turns, answers = cat.turns(), cat.quiz_answers()
    names = sorted({turn.learner for turn in turns} | {answer.learner for answer in answers})
    missed: Counter[str] = Counter()
    for turn in turns:
        listed = turn.mark.get("missed")
        missed.update(str(one["cue"]) for one in (listed if isinstance(listed, list) else []) if isinstance(one, dict))
    return ClassSummary(
        tuple(learner_standing(cat, name) for name in names),
        confusions(answers),
        tuple(sorted(missed.items(), key=lambda one: (-one[1], one[0]))),
    )


def learner_standing(cat: Catalogue, learner: str) -> LearnerStanding:
    """How one learner does; zeros for somebody who did nothing yet."""
    turns, answers = cat.turns(learner), cat.quiz_answers(learner)
    rands = [turn.adjusted_rand for turn in turns]
    right = sum(answer.is_right for answer in answers)
    return LearnerStanding(
        learner,
        len(turns),
        sum(rands) / len(rands) if rands else None,
        len(answers),
        share_interval(right, len(answers)) if answers else None,
        confusions(answers),
    )


def confusions(answers: tuple[QuizAnswerRow, ...], most: int = 10) -> tuple[tuple[str, str, int], ...]:
    """What was tagged and what was answered instead, most often first."""
    counts = Counter((answer.term, answer.given) for answer in answers if not answer.is_right)
    ranked = sorted(counts.items(), key=lambda one: (-one[1], one[0]))
    return tuple((term, given, count) for (term, given), count in ranked[:most])
