"""`quiz`: which motif, technique or symmetry; progress of learners and of a class."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection

if TYPE_CHECKING:
    import argparse

    from motifs.catalogue import Catalogue

SUMMARY = "ask about motif, technique or symmetry of tagged sherds, again at growing distances; how a class does"
KINDS = ("motif", "technique", "symmetry")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("--kind", choices=KINDS, help="ask about this only")
    doing = parser.add_mutually_exclusive_group()
    doing.add_argument("--answer", nargs=3, metavar=("SHERD", "KIND", "TERM"), help="answer a question")
    doing.add_argument("--summary", action="store_true", help="how everybody does: exercises and quizzes")
    doing.add_argument(
        "--bank", type=Path, metavar="DIR", help="write every question with its picture into a new folder"
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Ask, mark, sum up or write out; the learner is who --by names."""
    with collection(arguments.collection) as cat:
        if arguments.answer is not None:
            return _answered(cat, by_name(arguments), *arguments.answer)
        if arguments.summary:
            return _summary(cat)
        if arguments.bank is not None:
            from motifs.workflows.quiz import write_bank

            number = write_bank(cat, arguments.bank, kind=arguments.kind)
            return Answer(
                {"questions": number, "folder": str(arguments.bank)}, [f"{number} questions in {arguments.bank}"]
            )
        return _asked(cat, by_name(arguments), arguments.kind)


def _asked(cat: Catalogue, learner: str, kind: str | None) -> Answer:
    from motifs.workflows.crops import store_crops
    from motifs.workflows.quiz import next_question

    question = next_question(cat, learner, kind=kind)
    if question is None:
        return Answer({"question": None}, ["Nothing is due today; come back tomorrow."])
    if cat.crop_file(question.sherd) is None:
        with cat.transaction(by=learner):
            store_crops(cat, [cat.sherd(question.sherd)])
    picture = cat.crop_file(question.sherd)
    lines = [
        f"{question.words} {picture}",
        *(f"  {place}  {option}" for place, option in enumerate(question.options, start=1)),
        f"answer with: quiz --answer {question.sherd} {question.kind} TERM",
    ]
    document = {"question": {**asdict(question), "words": question.words, "picture": str(picture)}}
    return Answer(document, lines)


def _answered(cat: Catalogue, learner: str, sherd: str, kind: str, term: str) -> Answer:
    from motifs.workflows.quiz import answer_question

    outcome = answer_question(cat, learner, sherd, kind, term)
    said = "right" if outcome.is_right else f"not so: {outcome.tagged_by} tagged it {outcome.term}"
    return Answer(asdict(outcome), [f"{said}; asked again on {outcome.due_on} (box {outcome.box})"])


def _summary(cat: Catalogue) -> Answer:
    from motifs.workflows.learning import class_summary

    found = class_summary(cat)
    head = ["learner", "exercises", "mean adjusted Rand", "answers", "right", "95 % (Wilson)"]
    rows = [
        [
            one.learner,
            one.exercises,
            one.mean_adjusted_rand,
            one.answers,
            None if one.right is None else f"{one.right.share:.0%}",
            None if one.right is None else f"{one.right.low:.0%} to {one.right.high:.0%}",
        ]
        for one in found.learners
    ]
    lines = table(head, rows)
    if found.confused:
        lines += ["", *table(["tagged", "answered", "times"], [list(one) for one in found.confused])]
    if found.missed:
        lines += ["", *table(["cue missed", "exercises"], [list(one) for one in found.missed])]
    return Answer(asdict(found), lines)
