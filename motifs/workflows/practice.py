"""An exercise: photographs of pots broken for practice, the answer, sealed, and a sheet to cut out."""

from __future__ import annotations

import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.catalogue.files import PARTIAL_PREFIX, write_atomically
from motifs.errors import CollectionNotWritable, InputError
from motifs.practice import TECHNIQUES, Exercise, exercise_place, make_exercise
from motifs.workflows.cut_out import cut_out_pdf
from motifs.workflows.exercise import open_exercise, write_piles

if TYPE_CHECKING:
    from collections.abc import Iterator

    from motifs.workflows import Progress

CUT_OUT = "cut_out.pdf"
PILES = "piles.csv"


@dataclass(frozen=True, slots=True)
class ExerciseSettings:
    """What an exercise is to be like.

    pots: broken together, 1 or more. alike: 0 unrelated, about 0.5 look-alikes, 1 nearly identical. seed: the same seed gives the same
    exercise. sherds: about so many. lost: share of the pieces that is missing, or None: a few. technique: of all pots, or
    None: drawn.
    """

    pots: int = 2
    alike: float = 0.5
    seed: int = 0
    sherds: int = 60
    lost: float | None = None
    technique: str | None = None


def prepare_exercise(
    folder: Path,
    name: str,
    *,
    pots: int = 2,
    alike: float = 0.5,
    seed: int = 0,
    settings: ExerciseSettings | None = None,
    progress: Progress | None = None,
) -> Exercise:
    """Write photographs, sealed answer, cut-out sheet and an empty list of piles into a folder of its own under `folder`.

    The folder appears when everything in it is written: what is stopped before leaves nothing.

    Parameters
    ----------
    folder : made if it is not there.
    name : of the exercise and of its folder.
    pots, alike, seed : as in ExerciseSettings, where no settings are given.
    progress : told of every pot and photograph.

    Raises
    ------
    NameRefused
        The name cannot be a folder's, or is taken.
    InputError
        Settings that cannot be.
    CollectionNotWritable
        No right or no space to write there.
    """
    wish = settings or ExerciseSettings(pots, alike, seed)
    if wish.technique is not None and wish.technique not in TECHNIQUES:
        raise InputError(f"'{wish.technique}' is no technique of practice pots; choose one of {', '.join(TECHNIQUES)}")
    place = exercise_place(folder, name)
    try:
        with _scratch_in(folder) as scratch:
            made = _written(scratch, name, wish, progress)
            made.answer.parent.rename(place)
    except OSError as reason:
        raise CollectionNotWritable(
            f"cannot write to '{folder}' ({reason.strerror}); name another folder with --into"
        ) from reason
    return Exercise(tuple(place / photo.name for photo in made.photos), place / made.answer.name)


def _written(scratch: Path, name: str, wish: ExerciseSettings, progress: Progress | None) -> Exercise:
    made = make_exercise(
        scratch,
        name,
        wish.pots,
        wish.alike,
        wish.seed,
        sherds=wish.sherds,
        lost=wish.lost,
        techniques=None if wish.technique is None else (wish.technique,),
        progress=progress,
    )
    opened = open_exercise(made.answer.parent)
    with tempfile.TemporaryDirectory() as pages:
        write_atomically(made.answer.parent / CUT_OUT, cut_out_pdf(opened, Path(pages)), is_lasting=True)
    write_piles(made.answer.parent / PILES, {piece.key: None for piece in opened.pieces})
    return made


@contextmanager
def _scratch_in(folder: Path) -> Iterator[Path]:
    """A hidden folder on the same disk, gone afterwards; `folder` too where it was made for nothing."""
    was_there = folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    try:
        with tempfile.TemporaryDirectory(prefix=PARTIAL_PREFIX, dir=folder) as scratch:
            yield Path(scratch)
    finally:
        if not was_there and not any(folder.iterdir()):
            folder.rmdir()
