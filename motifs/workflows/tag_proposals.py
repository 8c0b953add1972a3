"""Tags proposed from what people tagged on the nearest sherds, with the evidence; and which sherds would teach most.

A tagged neighbour votes for its terms with the probability that it shows the same motif. How often a term with so
many votes is right was fitted on practice gatherings (see the encoder's likeness table), so that a confidence
of 0.9 means right nine times in ten on gatherings like those. A proposal is never a tag: a person accepts or
refuses it, and what was refused for a sherd is not proposed for it again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.errors import InputError
from motifs.workflows.compared import compared_sherds
from motifs.workflows.vectors import comparanda_encoder

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import Catalogue, SherdRow, TagRow
    from motifs.retrieval.likeness import Likeness
    from motifs.workflows import Progress
    from motifs.workflows.compared import ComparedSherds

PROPOSED_KINDS = ("motif", "element", "layout")
"""What looking alike tells of; the encoder is trained to look past technique, and sees no position on the vessel."""
VOTERS = 8
LEAST_CONFIDENCE = 0.2


@dataclass(frozen=True, slots=True)
class Witness:
    """A tagged sherd that speaks for a term. probability: that it shows the same motif. by: who tagged it."""

    sherd: str
    similarity: float
    probability: float
    by: str


@dataclass(frozen=True, slots=True)
class TagProposal:
    """A term proposed for a sherd. confidence: probability that it is right, 0..1; witnesses: most probable first."""

    sherd: str
    kind: str
    term: str
    confidence: float
    witnesses: tuple[Witness, ...]


@dataclass(frozen=True, slots=True)
class TeachingSherd:
    """An untagged sherd whose tag would teach much.

    settles: how many untagged sherds, itself among them, would most probably follow its tag. confidence: of the best
    proposal for it, 0 where there is none. gain: what the order goes by.
    """

    sherd: str
    settles: int
    confidence: float
    gain: float


def propose_tags(
    cat: Catalogue,
    sherds: Sequence[SherdRow],
    *,
    least_confidence: float = LEAST_CONFIDENCE,
    by: str,
    progress: Progress | None = None,
) -> dict[str, tuple[TagProposal, ...]]:
    """Propose terms for sherds.

    Returns
    -------
    Proposals by number, surest first; terms that a sherd has, and terms refused for it, are left out.

    Raises
    ------
    InputError
        The encoder has no fitted likeness, or a confidence outside 0..1.
    """
    if not 0.0 <= least_confidence <= 1.0:
        raise InputError(f"a confidence of {least_confidence} cannot be; give a number from 0 to 1")
    ready = compared_sherds(cat, comparanda_encoder(), by=by, progress=progress)
    curves = _curves(ready)
    tags = cat.tags_of(ready.sherds)
    refused = cat.refused_tags_of([sherd.number for sherd in sherds])
    proposals: dict[str, tuple[TagProposal, ...]] = {}
    for sherd in sherds:
        found = [one for kind in PROPOSED_KINDS for one in _proposed(ready, curves, sherd.number, kind, tags)]
        has = {(tag.kind, tag.term) for tag in tags[sherd.number]} | refused[sherd.number]
        kept = [one for one in found if (one.kind, one.term) not in has and one.confidence >= least_confidence]
        proposals[sherd.number] = tuple(sorted(kept, key=lambda one: (-one.confidence, one.kind, one.term)))
    return proposals


def _curves(ready: ComparedSherds) -> Likeness:
    if ready.likeness is None:
        raise InputError(
            "tags cannot be proposed with this encoder: no likeness is fitted for it "
            "(python -m motifs.training.likeness); tag by hand meanwhile"
        )
    return ready.likeness


def _proposed(
    ready: ComparedSherds, curves: Likeness, number: str, kind: str, tags: Mapping[str, tuple[TagRow, ...]]
) -> list[TagProposal]:
    bearers = {other: [t for t in found if t.kind == kind] for other, found in tags.items() if other != number}
    allowed = {other for other, found in bearers.items() if found and other in ready.sherds}
    if not allowed:
        return []
    nearest = ready.index.search(ready.vectors_of([number]), VOTERS, allowed)[0]
    votes = [(near, similarity, curves.probability(similarity)) for near, similarity in nearest]
    total = sum(p for _, _, p in votes)
    terms = dict.fromkeys(tag.term for near, _, _ in votes for tag in bearers[near])
    return [_proposal(curves, number, kind, term, votes, total, bearers) for term in terms]


def _proposal(
    curves: Likeness,
    number: str,
    kind: str,
    term: str,
    votes: Sequence[tuple[str, float, float]],
    total: float,
    bearers: Mapping[str, Sequence[TagRow]],
) -> TagProposal:
    witnesses = [
        Witness(near, round(similarity, 4), round(p, 4), next(t.by for t in bearers[near] if t.term == term))
        for near, similarity, p in votes
        if any(tag.term == term for tag in bearers[near])
    ]
    own = sum(one.probability for one in witnesses)
    confidence = curves.tag_confidence(own, total, max(one.probability for one in witnesses))
    ranked = sorted(witnesses, key=lambda one: (-one.probability, one.sherd))
    return TagProposal(number, kind, term, round(confidence, 4), tuple(ranked))


def accept_proposal(cat: Catalogue, proposal: TagProposal, *, by: str) -> TagRow:
    """Put the term on the sherd, as this person's tag; UnknownName where the sherd is gone."""
    with cat.transaction(by=by):
        return cat.add_tag(proposal.sherd, proposal.term, proposal.kind)


def refuse_proposal(cat: Catalogue, sherd: str, kind: str, term: str, *, by: str) -> None:
    """Remember that this person refused a term for a sherd; UnknownName, InputError as the catalogue."""
    with cat.transaction(by=by):
        cat.refuse_tag(sherd, term, kind)


def teaching_sherds(
    cat: Catalogue, lot: str | None = None, *, top: int = 10, by: str, progress: Progress | None = None
) -> tuple[TeachingSherd, ...]:
    """Untagged sherds whose motif tag would teach most, best first.

    Each is taken in turn: the one that most untagged and so far uncertain sherds would follow (those that more
    probably than not show its motif), less those that an earlier one in the list settles already.

    Parameters
    ----------
    lot : only of this lot; None for the whole collection.
    top : at most so many, >= 1.

    Raises
    ------
    UnknownName
        No such lot.
    InputError
        The encoder has no fitted likeness, or top below 1.
    """
    if top < 1:
        raise InputError(f"{top} sherds cannot be listed; give 1 or more")
    wanted = cat.sherds(lot)
    ready = compared_sherds(cat, comparanda_encoder(), by=by, progress=progress)
    curves = _curves(ready)
    tags = cat.tags_of([sherd.number for sherd in wanted])
    untagged = [s for s in wanted if not any(tag.kind == "motif" for tag in tags[s.number])]
    proposals = propose_tags(cat, untagged, by=by)
    sure = {n: max((p.confidence for p in found if p.kind == "motif"), default=0.0) for n, found in proposals.items()}
    follows = _follows(ready, curves, [sherd.number for sherd in untagged])
    return _chosen_in_turn(follows, sure, top)


def _follows(ready: ComparedSherds, curves: Likeness, numbers: Sequence[str]) -> dict[str, dict[str, float]]:
    """For each sherd, the others that more probably than not show its motif, with the probability."""
    if not numbers:
        return {}
    found = ready.index.search(ready.vectors_of(numbers), min(len(numbers), 200), set(numbers))
    follows = {}
    for number, near in zip(numbers, found, strict=True):
        probable = {other: curves.probability(similarity) for other, similarity in near}
        follows[number] = {other: p for other, p in probable.items() if p >= 0.5} | {number: 1.0}
    return follows


def _chosen_in_turn(
    follows: Mapping[str, Mapping[str, float]], sure: Mapping[str, float], top: int
) -> tuple[TeachingSherd, ...]:
    open_ = {number: 1.0 - sure[number] for number in follows}  # how unsettled each sherd is
    chosen: list[TeachingSherd] = []
    while len(chosen) < min(top, len(follows)):
        left = [number for number in follows if number not in {one.sherd for one in chosen}]
        gains = {n: sum(p * open_[other] for other, p in follows[n].items()) for n in left}
        best = min(left, key=lambda number: (-gains[number], number))
        chosen.append(TeachingSherd(best, len(follows[best]), sure[best], round(gains[best], 3)))
        for other, p in follows[best].items():
            open_[other] *= 1.0 - p
    return tuple(chosen)
