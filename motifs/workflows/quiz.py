"""Quizzes on style from any collection: which motif, which technique, which symmetry; repeated at growing distances.

Cards lie in boxes. A right answer moves a card one box up, a wrong one back to the first, and a card of a higher box waits
longer until it is asked again (Leitner 1972, So lernt man lernen, from memory; the waiting times are common practice).
"""

from __future__ import annotations

import csv
import io
import json
import random
import tempfile
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final

from motifs.catalogue import QuizCardRow
from motifs.catalogue.files import write_atomically
from motifs.design.starter import INDETERMINATE
from motifs.errors import CollectionNotWritable, InputError, UnknownName
from motifs.workflows.comparanda_lists import FORMULA_STARTS
from motifs.workflows.pictures import sherd_pictures

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue
    from motifs.workflows import Progress

KINDS: Final = ("motif", "technique", "symmetry")
"""Kinds of tags that are asked."""
WAITS_DAYS: Final = (0, 1, 3, 7, 21)
"""Days until a card of box 1, 2, ... is due again."""
OPTIONS: Final = 4
BANK_PX_PER_MM: Final = 8.0


@dataclass(frozen=True, slots=True)
class QuizQuestion:
    """One question. options: terms in the order shown, the right one among them. box: where the card lies, 0 for a new one."""

    sherd: str
    kind: str
    options: tuple[str, ...]
    box: int
    due_on: str

    @property
    def words(self) -> str:
        """The question in words."""
        return f"Which {self.kind} is on this sherd?"


@dataclass(frozen=True, slots=True)
class QuizOutcome:
    """What became of an answer. term: as the sherd is tagged; tagged_by: by whom; due_on: when it is asked again."""

    is_right: bool
    term: str
    tagged_by: str
    box: int
    due_on: str


@dataclass(frozen=True, slots=True)
class QuizCard:
    """A sherd that can be asked about: exactly one term of the kind, which a person put on it."""

    sherd: str
    kind: str
    term: str
    tagged_by: str


def quiz_cards(cat: Catalogue, kind: str | None = None) -> tuple[QuizCard, ...]:
    """Cards of a collection, of a kind or of all; sherds that carry two terms of a kind, or an indeterminate one, are none.

    Restricted sherds are never asked about.

    Raises
    ------
    InputError
        A kind that is not asked.
    """
    if kind is not None and kind not in KINDS:
        raise InputError(f"'{kind}' is no kind of quiz; choose one of {', '.join(KINDS)}")
    numbers = [number for lot in cat.lots() for number in cat.sherd_numbers(lot.name)]
    cards = []
    for number, tags in cat.tags_of(numbers).items():
        for asked in KINDS if kind is None else (kind,):
            said = {tag.term: tag.by for tag in tags if tag.kind == asked}
            if len(said) == 1 and INDETERMINATE not in said:
                (term, by), *_ = said.items()
                cards.append(QuizCard(number, asked, term, by))
    terms = {asked: {card.term for card in cards if card.kind == asked} for asked in KINDS}
    return tuple(card for card in cards if len(terms[card.kind]) > 1)


def next_question(
    cat: Catalogue, learner: str, *, kind: str | None = None, today: date | None = None
) -> QuizQuestion | None:
    """The card that is due longest, else a new one; None where nothing is due today.

    Raises
    ------
    InputError
        Nothing can be asked yet: too few sherds are tagged.
    """
    day = today or date.today()
    cards = quiz_cards(cat, kind)
    if not cards:
        raise InputError(
            "nothing can be asked yet: tag sherds with two terms or more of one kind (motif, technique, symmetry)"
        )
    standing = {(row.sherd, row.kind): row for row in cat.quiz_cards(learner)}
    known = [(standing[card.sherd, card.kind], card) for card in cards if (card.sherd, card.kind) in standing]
    due = sorted(
        (row.due_on, row.box, card.sherd, card.kind, card.term) for row, card in known if row.due_on <= day.isoformat()
    )
    if due:
        due_on, box, sherd, asked, term = due[0]
        return QuizQuestion(sherd, asked, _options(cat, cards, asked, term, f"{learner}|{sherd}|{day}"), box, due_on)
    fresh = [card for card in cards if (card.sherd, card.kind) not in standing]
    if not fresh:
        return None
    card = min(fresh, key=lambda one: random.Random(f"{learner}|{one.sherd}|{one.kind}").random())
    options = _options(cat, cards, card.kind, card.term, f"{learner}|{card.sherd}|{day}")
    return QuizQuestion(card.sherd, card.kind, options, 0, day.isoformat())


def answer_question(
    cat: Catalogue, learner: str, sherd: str, kind: str, given: str, *, today: date | None = None
) -> QuizOutcome:
    """Mark an answer, keep it, and put the card into its next box.

    Raises
    ------
    UnknownName
        The sherd is no card of that kind.
    NameRefused
        The learner cannot be called so.
    """
    day = today or date.today()
    card = next((one for one in quiz_cards(cat, kind) if one.sherd == sherd), None)
    if card is None:
        raise UnknownName(f"sherd '{sherd}' is not asked about its {kind}; ask for the next question")
    box = next((row.box for row in cat.quiz_cards(learner) if (row.sherd, row.kind) == (sherd, kind)), 0)
    is_right = given == card.term
    box = min(max(box, 1) + 1, len(WAITS_DAYS)) if is_right else 1
    due_on = (day + timedelta(days=WAITS_DAYS[box - 1])).isoformat()
    with cat.transaction(by=learner):
        cat.keep_answer(QuizCardRow(learner, sherd, kind, box, due_on), card.term, given)
    return QuizOutcome(is_right, card.term, card.tagged_by, box, due_on)


def write_bank(cat: Catalogue, folder: Path, *, kind: str | None = None, progress: Progress | None = None) -> int:
    """Write every question with its picture into a new folder: questions.csv, questions.json and pictures/.

    The folder appears when everything in it is written: what is stopped before leaves nothing.

    Returns
    -------
    The number of questions.

    Raises
    ------
    InputError
        The folder is there already, or nothing can be asked.
    CollectionNotWritable
        No permission or no space there.
    """
    cards = quiz_cards(cat, kind)
    if not cards:
        raise InputError("nothing can be asked yet: tag sherds with two terms or more of one kind first")
    if folder.exists():
        raise InputError(f"'{folder}' is there already and is not overwritten; give the question bank another folder")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".new-", dir=folder.parent) as scratch:
            _write_bank(cat, Path(scratch) / "bank", cards, progress)
            (Path(scratch) / "bank").rename(folder)
    except OSError as problem:
        raise CollectionNotWritable(
            f"'{folder}' cannot be written ({problem.strerror}); name another place"
        ) from problem
    return len(cards)


def _write_bank(cat: Catalogue, folder: Path, cards: Sequence[QuizCard], progress: Progress | None) -> None:
    numbers = sorted({card.sherd for card in cards})
    files = {number: f"pictures/{place:04d}.webp" for place, number in enumerate(numbers, start=1)}
    (folder / "pictures").mkdir(parents=True)
    pictures = sherd_pictures(cat, [cat.sherd(n) for n in numbers], px_per_mm=BANK_PX_PER_MM)
    for done, (sherd, shown) in enumerate(pictures, start=1):
        write_atomically(folder / files[sherd.number], shown.webp, is_lasting=True)
        if progress is not None:
            progress("drawing the questions", done, len(numbers))
    rows = [_bank_row(cat, cards, card, files[card.sherd]) for card in cards]
    write_atomically(
        folder / "questions.json", json.dumps(rows, ensure_ascii=False, indent=1).encode(), is_lasting=True
    )
    write_atomically(folder / "questions.csv", _csv(rows).encode("utf-8-sig"), is_lasting=True)


def _options(cat: Catalogue, cards: Sequence[QuizCard], kind: str, term: str, seed: str) -> tuple[str, ...]:
    """The term and others of its kind, those of the collection before those that are only in the vocabulary; order by seed."""
    dice = random.Random(seed)
    used = sorted({card.term for card in cards if card.kind == kind} - {term})
    listed = sorted({one.label for one in cat.terms(kind)} - {term, INDETERMINATE, *used})
    dice.shuffle(used)
    dice.shuffle(listed)
    options = [term, *(used + listed)[: OPTIONS - 1]]
    dice.shuffle(options)
    return tuple(options)


def _bank_row(cat: Catalogue, cards: Sequence[QuizCard], card: QuizCard, picture: str) -> dict[str, object]:
    options = _options(cat, cards, card.kind, card.term, f"bank|{card.sherd}|{card.kind}")
    question = f"Which {card.kind} is on this sherd?"
    return {**asdict(card), "question": question, "options": list(options), "picture": picture}


def _csv(rows: Sequence[dict[str, object]]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(("sherd", "kind", "question", "picture", "answer", *(f"option {k}" for k in range(1, OPTIONS + 1))))
    for row in rows:
        options = [str(option) for option in row["options"]]  # type: ignore[attr-defined]
        cells = [row["sherd"], row["kind"], row["question"], row["picture"], row["term"], *options]
        writer.writerow([_cell(str(cell)) for cell in cells])
    return stream.getvalue()


def _cell(text: str) -> str:
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text
