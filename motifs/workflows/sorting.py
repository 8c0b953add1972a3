"""Records of a sorted lot, and their JSON as kept in the catalogue and printed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from motifs.records import CueVote

if TYPE_CHECKING:
    from motifs.catalogue import Json


@dataclass(frozen=True, slots=True)
class PlacedSherd:
    """Where one sherd stands.

    vessel: 0.. or None, unassigned. support: 0..1. next_best: the vessel it would go to otherwise. votes: what each cue
    said, strongest first. attributed: the vessel a person gave it to, if one did; left_out: a person left it unassigned.
    """

    sherd: str
    vessel: int | None
    support: float
    next_best: int | None
    votes: tuple[CueVote, ...] = ()
    attributed: str | None = None
    left_out: bool = False

    @property
    def why(self) -> tuple[str, ...]:
        """The reasons in words, strongest first; a person's judgement before any cue."""
        if self.left_out:
            return ("left unassigned by the analyst",)
        judged = () if self.attributed is None else (f"the analyst gave it to vessel '{self.attributed}'",)
        return (*judged, *(vote.why for vote in self.votes))


@dataclass(frozen=True, slots=True)
class PairQuestion:
    """Two sherds to compare at the table, and why the answer would help."""

    a: str
    b: str
    why: str


@dataclass(frozen=True, slots=True)
class LotSorting:
    """The proposal for a lot; assignments in the lot's order. joins_heard: how many joins spoke for one vessel of their two sherds."""

    lot: str
    vessels: int
    vessels_range: tuple[int, int]
    assignments: tuple[PlacedSherd, ...]
    questions: tuple[PairQuestion, ...]
    notes: tuple[str, ...] = ()
    joins_heard: int = 0

    @property
    def question(self) -> PairQuestion | None:
        """The question whose answer would help most."""
        return self.questions[0] if self.questions else None

    @property
    def unassigned(self) -> tuple[str, ...]:
        """Sherds that no vessel holds."""
        return tuple(placed.sherd for placed in self.assignments if placed.vessel is None)


def packed(sorting: LotSorting) -> dict[str, Json]:
    """The proposal as a JSON document; `unpacked` reads it back."""
    questions: list[Json] = [{"a": q.a, "b": q.b, "why": q.why} for q in sorting.questions]
    return {
        "lot": sorting.lot,
        "vessels": sorting.vessels,
        "vessels_range": list(sorting.vessels_range),
        "assignments": [_packed_sherd(placed) for placed in sorting.assignments],
        "question": questions[0] if questions else None,
        "questions": questions,
        "notes": list(sorting.notes),
        "joins_heard": sorting.joins_heard,
    }


def _packed_sherd(placed: PlacedSherd) -> dict[str, Json]:
    return {
        "sherd": placed.sherd,
        "vessel": placed.vessel,
        "support": round(placed.support, 4),
        "next_best": placed.next_best,
        "why": list(placed.why),
        "votes": [{"cue": vote.cue, "llr": round(vote.llr, 3), "why": vote.why} for vote in placed.votes],
        "attributed": placed.attributed,
        "left_out": placed.left_out,
    }


def unpacked(lot: str, kept: Any) -> LotSorting:
    """The proposal that a JSON document holds, under the name the lot has now."""
    low, high = kept["vessels_range"]
    return LotSorting(
        lot=lot,
        vessels=kept["vessels"],
        vessels_range=(low, high),
        assignments=tuple(_unpacked_sherd(placed) for placed in kept["assignments"]),
        questions=tuple(PairQuestion(**question) for question in kept["questions"]),
        notes=tuple(kept["notes"]),
        joins_heard=kept.get("joins_heard", 0),
    )


def _unpacked_sherd(kept: dict[str, Any]) -> PlacedSherd:
    return PlacedSherd(
        sherd=kept["sherd"],
        vessel=kept["vessel"],
        support=kept["support"],
        next_best=kept["next_best"],
        votes=tuple(CueVote(**vote) for vote in kept["votes"]),
        attributed=kept["attributed"],
        left_out=kept["left_out"],
    )
