"""An exercise opened, sorted by hand or by the program, and marked against its sealed answer, with what was to be seen."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

from motifs.catalogue import Catalogue
from motifs.catalogue.files import write_atomically
from motifs.errors import CollectionDamaged, InputError, UnknownName
from motifs.practice import mark_sorting, open_answer
from motifs.workflows.cells_out import FORMULA_STARTS, guarded, unguarded
from motifs.workflows.marking import found_in_answer
from motifs.workflows.pipeline import run_lot
from motifs.workflows.sort import latest_sorting
from motifs.workflows.telling_cues import TellingCue, telling_cues

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from motifs.practice import SortingMark
    from motifs.workflows import Progress

ANSWER = "answer.sealed.json"
OWN_COLLECTION = "collection"
"""Folder within an exercise where the program's own sorting lies, so that practice pots never mix with real sherds."""

Piles = "Mapping[str, str | None]"


@dataclass(frozen=True, slots=True)
class ExercisePiece:
    """One sherd of an exercise: key is "<photograph>-<number>", both from 1, as on the cut-out sheet."""

    key: str
    photo: int
    number: int
    outline_px: tuple[tuple[float, float], ...]
    mm_per_px: float


@dataclass(frozen=True, slots=True)
class OpenExercise:
    """An exercise. answer: what is true of it; a page shows nothing of it before it is marked."""

    name: str
    folder: Path
    photos: tuple[Path, ...]
    pieces: tuple[ExercisePiece, ...]
    answer: Mapping[str, Any]

    @property
    def pots(self) -> int:
        """How many pots were broken."""
        return len(self.answer["pots"])


@dataclass(frozen=True, slots=True)
class MissedCue:
    """A cue that would have told two pots apart which a pile mixes. pairs: of sherds put together wrongly that it tells apart."""

    cue: TellingCue
    pots: tuple[int, int]
    pairs: int


@dataclass(frozen=True, slots=True)
class ExerciseMark:
    """How an exercise was sorted.

    own, machine: against the answer; machine None where the program did not sort it. missed: strongest cue of each pair of
    pots that were mixed, most pairs first. split: pots that lie in several piles, with how many. cues: everything that tells the pots apart.
    seconds: how long it took, where somebody measured it.
    """

    own: SortingMark
    machine: SortingMark | None
    missed: tuple[MissedCue, ...]
    split: tuple[tuple[int, int], ...]
    cues: Mapping[tuple[int, int], tuple[TellingCue, ...]]
    explained: tuple[str, ...]
    seconds: float | None = None
    hints: int = 0


def open_exercise(folder: Path) -> OpenExercise:
    """Open an exercise's folder.

    Raises
    ------
    UnknownName
        No exercise there.
    CollectionDamaged
        Its answer was altered.
    """
    if not (folder / ANSWER).is_file():
        raise UnknownName(f"no exercise in '{folder}'; make one with practice, or name its folder")
    answer = open_answer(folder / ANSWER)
    files = sorted(folder.glob("tray_*.jpg"))
    try:
        photos = list(answer["photos"])
        pieces = _pieces(photos)
        if len(files) == len(photos):
            for photo, file in zip(photos, files, strict=True):
                photo["file"] = file.name
    except (LookupError, TypeError, ValueError, ArithmeticError) as wrong:
        raise CollectionDamaged(
            f"the answer of '{folder}' says nothing that an answer says ({type(wrong).__name__}); make the exercise again"
        ) from wrong
    if len(files) != len(photos):
        raise UnknownName(f"'{folder}' holds {len(files)} of {len(photos)} photographs; make the exercise again")
    return OpenExercise(folder.name, folder, tuple(files), pieces, answer)


def _pieces(photos: Sequence[dict[str, Any]]) -> tuple[ExercisePiece, ...]:
    return tuple(
        ExercisePiece(
            f"{place}-{int(sherd['number']):02d}",
            place,
            int(sherd["number"]),
            tuple((float(x), float(y)) for x, y in sherd["outline_px"]),
            float(photo["mm_per_px"]),
        )
        for place, photo in enumerate(photos, start=1)
        for sherd in photo["sherds"]
    )


def exercises_in(folder: Path) -> tuple[str, ...]:
    """Names of the exercises under a folder, sorted; none where the folder is not there."""
    return tuple(sorted(file.parent.name for file in folder.glob(f"*/{ANSWER}"))) if folder.is_dir() else ()


def sort_by_machine(exercise: OpenExercise, *, by: str, progress: Progress | None = None) -> dict[str, str | None]:
    """Let the program take the photographs in and sort them, in a collection within the exercise; its piles by key."""
    with Catalogue.open(exercise.folder / OWN_COLLECTION, create=True) as cat:
        run_lot(cat, exercise.photos, lot=exercise.name, site=None, by=by, progress=progress)
    piles = machine_piles(exercise)
    if piles is None:
        raise UnknownName(
            f"the program found no sherd on the photographs of '{exercise.name}'; make the exercise again"
        )
    return piles


def machine_piles(exercise: OpenExercise) -> dict[str, str | None] | None:
    """Piles of the program's own sorting, or None where it has not sorted this exercise yet."""
    place = exercise.folder / OWN_COLLECTION
    if not (place / "catalogue.sqlite").is_file():
        return None
    with Catalogue.open(place) as cat:
        names = {lot.name for lot in cat.lots()}
        sorting = latest_sorting(cat, exercise.name) if exercise.name in names else None
        if sorting is None:
            return None
        found = found_in_answer(cat, exercise.name, exercise.answer)
    vessel = {placed.sherd: placed.vessel for placed in sorting.assignments}
    keys = {(piece.photo, piece.number): piece.key for piece in exercise.pieces}
    piles: dict[str, str | None] = {piece.key: None for piece in exercise.pieces}
    for place_, sherd in found.items():
        number = vessel.get(sherd)
        piles[keys[place_]] = None if number is None else str(number + 1)
    return piles


def mark_exercise(
    exercise: OpenExercise, piles: Mapping[str, str | None], *, seconds: float | None = None, hints: int = 0
) -> ExerciseMark:
    """Mark a sorting by hand.

    Parameters
    ----------
    piles : name of the pile by the sherd's key; None or "" where it was left aside.

    Raises
    ------
    UnknownName
        A sherd that the exercise does not have.
    """
    pot_of = pots_of_pieces(exercise)
    given = {key: pile for key, pile in piles.items() if pile}
    own = _marked(exercise, piles)
    computed = machine_piles(exercise)
    cues = telling_cues(exercise.answer["pots"])
    mixed = Counter(
        (min(pot_of[a], pot_of[b]), max(pot_of[a], pot_of[b]))
        for a, b in combinations(sorted(given), 2)
        if given[a] == given[b] and pot_of[a] != pot_of[b]
    )
    missed = tuple(
        MissedCue(cues[pots][0], pots, pairs)
        for pots, pairs in sorted(mixed.items(), key=lambda one: (-one[1], one[0]))
        if cues[pots]
    )
    lying: dict[int, set[str]] = {}
    for key, pile in given.items():
        lying.setdefault(pot_of[key], set()).add(pile)
    split = tuple((pot, len(names)) for pot, names in sorted(lying.items()) if len(names) > 1)
    machine = None if computed is None else _marked(exercise, computed)
    explained = (*_mistakes(missed, split), *_what_tells(cues))
    return ExerciseMark(own, machine, missed, split, cues, explained, seconds, hints)


def hint(exercise: OpenExercise, piles: Mapping[str, str | None], number: int) -> str:
    """Another hint, a little more each time: how many pots, what tells them apart, a pile that is mixed, a pot that is split."""
    if number == 0:
        return f"{exercise.pots} pots were broken."
    mark = mark_exercise(exercise, piles)
    if number == 1:
        strongest = [found[0] for found in mark.cues.values() if found]
        names = ", ".join(dict.fromkeys(cue.name for cue in strongest)) or "nothing that can be seen"
        return f"Look at: {names}."
    pot_of = pots_of_pieces(exercise)
    by_pile: dict[str, set[int]] = {}
    for key, pile in piles.items():
        if pile:
            by_pile.setdefault(pile, set()).add(pot_of[key])
    mixed = sorted(pile for pile, pots in by_pile.items() if len(pots) > 1)
    if mixed:
        return f"Pile {mixed[0]} holds sherds of {len(by_pile[mixed[0]])} pots."
    if mark.split:
        return f"Every pile is of one pot, but a pot lies in {mark.split[0][1]} piles."
    left = sum(not pile for pile in piles.values())
    return f"No pile is mixed, and no pot is split; {left} sherds lie aside."


def read_piles(file: Path) -> dict[str, str | None]:
    """Read a list of piles: a CSV table with columns ``sherd`` and ``pile``, blank for left aside.

    Raises
    ------
    InputError
        No such file, other columns, or a sherd twice.
    """
    try:
        rows = list(csv.DictReader(io.StringIO(file.read_text(encoding="utf-8-sig"))))
    except OSError as problem:
        raise InputError(f"'{file}' cannot be read ({problem.strerror}); name a list of piles") from problem
    except UnicodeDecodeError as problem:
        raise InputError(f"'{file}' is no text in UTF-8; save it as CSV in UTF-8") from problem
    piles: dict[str, str | None] = {}
    for row in rows:
        if not {"sherd", "pile"} <= row.keys() or row["sherd"] is None:
            raise InputError(
                f"'{file}' has no columns 'sherd' and 'pile'; fill in the list that came with the exercise"
            )
        key = row["sherd"].strip()
        if key in piles:
            raise InputError(f"'{file}': sherd '{key}' is listed twice; keep one row for it")
        piles[key] = _pile_name((row["pile"] or "").strip()) or None
    if not any(piles.values()):
        raise InputError(f"'{file}' puts no sherd on any pile; write a pile's name beside each sherd")
    return piles


def _pile_name(cell: str) -> str:
    """A pile's name without the apostrophe that `write_piles` put before it; one that somebody typed stays."""
    return unguarded(cell) if cell[1:].startswith(FORMULA_STARTS) else cell


def write_piles(file: Path, piles: Mapping[str, str | None]) -> None:
    """Write a list of piles as CSV."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(("sherd", "pile"))
    # A pile may be called anything; one apostrophe before it keeps spreadsheets from taking it for a formula.
    writer.writerows((key, guarded(pile) if pile else "") for key, pile in piles.items())
    write_atomically(file, stream.getvalue().encode("utf-8-sig"), is_lasting=True)


def pots_of_pieces(exercise: OpenExercise) -> dict[str, int]:
    """The answer: the pot of every sherd by its key, pots numbered from 0. Shown after the mark only."""
    keys = {(piece.photo, piece.number): piece.key for piece in exercise.pieces}
    return {
        keys[place, int(sherd["number"])]: int(sherd["pot"])
        for place, photo in enumerate(exercise.answer["photos"], start=1)
        for sherd in photo["sherds"]
    }


def _marked(exercise: OpenExercise, piles: Mapping[str, str | None]) -> SortingMark:
    places = {piece.key: (piece.photo, piece.number) for piece in exercise.pieces}
    strange = sorted(set(piles) - set(places))
    if strange:
        raise UnknownName(
            f"exercise '{exercise.name}' has no sherd '{strange[0]}'; its sherds are called as on the sheet"
        )
    numbers = {name: number for number, name in enumerate(sorted({pile for pile in piles.values() if pile}))}
    return mark_sorting(exercise.answer, {places[key]: numbers[pile] if pile else None for key, pile in piles.items()})


def _mistakes(missed: Sequence[MissedCue], split: Sequence[tuple[int, int]]) -> list[str]:
    told = [
        f"Pots {one.pots[0] + 1} and {one.pots[1] + 1} were mixed ({one.pairs} {'pair' if one.pairs == 1 else 'pairs'}). What was missed: {one.cue.words}."
        for one in missed
    ]
    told += [
        f"Pot {pot + 1} lies in {piles} piles. Sherds of one pot can show different zones of its decoration, or lie under another "
        "light on another photograph: compare paste, wall and line before the motif."
        for pot, piles in split
    ]
    return told or ["Nothing was mixed, and no pot was split."]


def _what_tells(cues: Mapping[tuple[int, int], tuple[TellingCue, ...]]) -> list[str]:
    told = []
    for (a, b), found in cues.items():
        words = "; ".join(cue.words for cue in found) or "nothing but edges that fit"
        told.append(f"Pots {a + 1} and {b + 1} differ in: {words}.")
    return told
