"""Second looks: a seeded sample tagged again, blind, and how far the two looks agree."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from motifs.catalogue import FirstLook
from motifs.design.agreement import Agreement, agreement_of, alpha_of
from motifs.design.starter import INDETERMINATE
from motifs.errors import InputError, UnknownName
from motifs.workflows.vocabulary import term_named

if TYPE_CHECKING:
    from collections.abc import Iterable

    from motifs.catalogue import Catalogue, SecondLookRow


@dataclass(frozen=True, slots=True)
class LookAgreement:
    """How one person's second look agrees with the first. is_complete: every sherd of the sample was looked at again."""

    by: str
    looked_at: int
    is_complete: bool
    agreement: Agreement


@dataclass(frozen=True, slots=True)
class LookReport:
    """All second lookers of one sample. alpha_of_all: of first look and all second lookers together; None if undefined."""

    name: str
    kind: str
    sample: int
    lookers: tuple[LookAgreement, ...]
    alpha_of_all: float | None


def begin_second_look(
    cat: Catalogue, name: str, kind: str, *, size: int, seed: int = 0, lot: str | None = None, by: str
) -> SecondLookRow:
    """Draw a sample of sherds that carry exactly one term of a kind, to be tagged again without seeing it.

    Parameters
    ----------
    name : of the second look.
    kind : what is judged again, e.g. "motif".
    size : how many sherds at most.
    seed : of the draw; the same seed and the same tags draw the same sample.
    lot : only of this lot.

    Raises
    ------
    UnknownName, NameRefused
        No such lot; the name cannot be one.
    InputError
        A size below 1, no sherd that can be drawn, or a name that is taken.
    """
    if size < 1:
        raise InputError(f"a sample of {size} cannot be; give 1 or more")
    numbers = [sherd.number for sherd in cat.sherds(lot)]
    judged: list[FirstLook] = []
    for number, tags in cat.tags_of(numbers).items():
        ours = [tag for tag in tags if tag.kind == kind]
        if len({tag.term for tag in ours}) == 1:
            judged.append(FirstLook(number, ours[0].term, ours[0].by))
    order = np.random.default_rng(seed).permutation(len(judged))[:size]
    with cat.transaction(by=by):
        return cat.add_second_look(name, kind, [judged[k] for k in order], seed=seed)


def next_to_look_at(cat: Catalogue, name: str, *, by: str) -> str | None:
    """Return the next sherd of the sample that a person has not looked at again; None when all that may be seen are done."""
    sample = cat.second_look(name).sherds
    done = {answer.sherd for answer in cat.second_answers(name) if answer.by == by}
    seen = may_be_seen(cat, sample)
    return next((number for number in sample if number in seen - done), None)


def may_be_seen(cat: Catalogue, numbers: Iterable[str]) -> frozenset[str]:
    """Those of the sherds that are in the catalogue still and not kept back."""
    there = {number for lot in cat.lots() for number in cat.sherd_numbers(lot.name)}
    return frozenset(numbers) & there


def look_again(cat: Catalogue, name: str, number: str, term: str, *, confidence: float | None = None, by: str) -> str:
    """Record what a person sees now; return the label it is recorded under.

    Raises
    ------
    UnknownName
        No such second look, sherd or term.
    InputError
        A confidence outside 0..1.
    """
    look = cat.second_look(name)
    label = term if term == INDETERMINATE else term_named(cat, look.kind, term).label
    with cat.transaction(by=by):
        cat.answer_second_look(name, number, label, confidence=confidence)
    return label


def report_agreement(cat: Catalogue, name: str) -> LookReport:
    """Compare every second looker with the first look.

    Raises
    ------
    UnknownName
        No such second look, or nobody has looked again yet.
    """
    look = cat.second_look(name)
    first = {one.sherd: one.term for one in look.first}
    answers: dict[str, dict[str, str]] = {}
    for answer in cat.second_answers(name):
        answers.setdefault(answer.by, {})[answer.sherd] = answer.term
    if not answers:
        raise UnknownName(f"nobody has looked again at '{name}'; answer for its {len(first)} sherds first")
    lookers = tuple(
        LookAgreement(by, len(given), len(given) == len(first), agreement_of(first, given))
        for by, given in sorted(answers.items())
    )
    coders = [[given.get(number) for number in first] for given in (first, *(answers[by] for by in sorted(answers)))]
    return LookReport(name, look.kind, len(first), lookers, alpha_of(coders))
