"""The decision and treatment record of a vessel: what was found, decided and done, by whom, and how to take it apart again."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from motifs.errors import InputError
from motifs.workflows.mending_cautions import FIRST, MENDING, SOLVENT
from motifs.workflows.recipes import BASES, mass_share

if TYPE_CHECKING:
    from collections.abc import Mapping

    from motifs.catalogue import Catalogue, TreatmentRow

FIELDS: Final[dict[str, tuple[str, ...]]] = {
    "decision": ("answer", "for", "against", "storage", "research", "display", "consulted"),
    "condition": ("found", "breaks", "residues", "salts", "friable", "glaze", "samples"),
    "cleaning": ("method", "water", "desalination", "drying"),
    "marking": ("number", "place", "base coat", "ink", "top coat"),
    "joining": ("adhesive", "solvent", "percent", "basis", "batch", "joins", "support", "setting"),
    "fill": ("material", "where", "tone", "barrier"),
    "photographs": ("before", "during", "after"),
    "taking apart": ("how", "solvent", "watch"),
}
"""What each kind of entry may say, all of it as text."""
NEEDED: Final[dict[str, tuple[str, ...]]] = {
    "decision": ("answer",),
    "condition": ("found",),
    "cleaning": ("method",),
    "marking": ("number", "place"),
    "joining": ("adhesive", "joins"),
    "fill": ("material",),
    "photographs": (),
    "taking apart": ("how",),
}
ANSWERS: Final = ("mend", "mend in part", "leave apart", "not decided")
HARD_TO_UNDO: Final[dict[str, str]] = {
    "epoxy": "is not reversible on porous ware",
    "cyanoacrylate": "is not for porous ware or thick walls, and does not last",
    "superglue": "is not for porous ware or thick walls, and does not last",
    "nitrate": "embrittles and fails with age",
    "polyester": "is not reversible on porous ware",
    "white glue": "swells with water, may yellow and turn acid, and creeps under load",
    "pvac": "swells with water, may yellow and turn acid, and creeps under load",
    "pva": "swells with water, may yellow and turn acid, and creeps under load",
}
"""What is said of an adhesive whose name holds the word."""
SOFTENS_C: Final = 37.0
"""Reported lower bound of the softening of B-72; in hot stores a join may creep."""


@dataclass(frozen=True, slots=True)
class Entered:
    """An entry as kept, and what to keep in mind."""

    row: TreatmentRow
    warnings: tuple[str, ...]


def add_entry(
    cat: Catalogue,
    lot: str,
    vessel: str,
    kind: str,
    fields: Mapping[str, str],
    *,
    done_on: str,
    person: str,
    note: str = "",
    replaces: int | None = None,
    by: str,
) -> Entered:
    """Add to a vessel's record, or correct an entry; the history keeps what it was.

    Parameters
    ----------
    fields : names of FIELDS[kind] and what they say; empty ones are left out.
    done_on : date of the work, YYYY-MM-DD. person : who did it.

    Raises
    ------
    UnknownName, NameRefused
        No such lot or entry; a vessel that cannot be one.
    InputError
        A kind, field, date or concentration that cannot be, or one that is needed and missing.
    """
    said = {name: value.strip() for name, value in fields.items() if value.strip()}
    _check(kind, said, done_on, person)
    with cat.transaction(by=by):
        row = cat.add_treatment(
            lot, vessel, kind, done_on=done_on, person=person.strip(), fields=said, note=note, replaces=replaces
        )
    return Entered(row, warnings_of(kind, said))


def take_out(cat: Catalogue, lot: str, treatment_id: int, *, by: str) -> None:
    """Take an entry out of the record; the history keeps it. UnknownName for lot and entry."""
    with cat.transaction(by=by):
        cat.withdraw_treatment(lot, treatment_id)


def warnings_of(kind: str, fields: Mapping[str, str]) -> tuple[str, ...]:
    """What to keep in mind about an entry; the caution comes first wherever hands or solvents are at work."""
    out: list[str] = []
    if kind in {"joining", "fill", "taking apart", "cleaning", "marking"}:
        out.append(FIRST)
    if kind == "joining":
        name = fields.get("adhesive", "").lower()
        out += [f"'{fields['adhesive']}' {why}" for word, why in HARD_TO_UNDO.items() if word in name][:1]
        if "72" in name:
            out.append(f"B-72 softens from about {SOFTENS_C:.0f} °C: mind hot stores and transport")
    if "acetone" in " ".join((fields.get("solvent", ""), fields.get("base coat", ""))).lower():
        out += SOLVENT
    if kind == "condition":
        troubles = [name for name in ("residues", "salts", "friable", "glaze") if fields.get(name)]
        if troubles:
            out.append(
                f"recorded as found: {', '.join(troubles)}; no washing, brushing or adhesive before a conservator has looked"
            )
    if kind == "decision" and fields.get("answer", "").startswith("mend"):
        out += MENDING[1:3]
        if not fields.get("against"):
            out.append("no reason against mending is recorded; write it down too, for those who come after")
    return tuple(out)


def missing_kinds(rows: tuple[TreatmentRow, ...]) -> tuple[str, ...]:
    """Kinds that a record of a mended vessel should have, and that this one lacks."""
    there = {row.kind for row in rows}
    if "joining" not in there:
        return () if "decision" in there else ("decision",)
    wanted = ("decision", "condition", "joining", "photographs", "taking apart")
    return tuple(kind for kind in wanted if kind not in there)


def _check(kind: str, fields: Mapping[str, str], done_on: str, person: str) -> None:
    if kind not in FIELDS:
        raise InputError(f"'{kind}' is no kind of entry; the kinds are {', '.join(FIELDS)}")
    for name in fields:
        if name not in FIELDS[kind]:
            raise InputError(f"'{name}' is no field of {kind}; its fields are {', '.join(FIELDS[kind])}")
    absent = [name for name in NEEDED[kind] if name not in fields]
    if absent:
        raise InputError(f"{kind}: {' and '.join(absent)} missing; say it, or write 'unknown'")
    if kind == "decision" and fields["answer"] not in ANSWERS:
        raise InputError(f"a decision is one of: {', '.join(ANSWERS)}; not '{fields['answer']}'")
    try:
        datetime.date.fromisoformat(done_on)
    except ValueError:
        raise InputError(f"'{done_on}' is no date; write it as 2026-03-05") from None
    if not person.strip():
        raise InputError("the person who did the work is missing; give a name or initials")
    _check_concentration(fields)


def _check_concentration(fields: Mapping[str, str]) -> None:
    if ("percent" in fields) != ("basis" in fields):
        raise InputError(
            f"a concentration means nothing without its basis; give percent and basis ({', '.join(BASES)}) together"
        )
    if "percent" in fields:
        try:
            percent = float(fields["percent"].replace(",", "."))
        except ValueError:
            raise InputError(f"percent '{fields['percent']}' is no number; write 25") from None
        mass_share(percent, fields["basis"])
