"""An exercise: photographs of pots broken for practice, the answer, sealed, and a sheet to cut out."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.catalogue.files import write_atomically
from motifs.errors import CollectionNotWritable, InputError
from motifs.practice import TECHNIQUES, make_exercise
from motifs.workflows.cut_out import cut_out_pdf
from motifs.workflows.exercise import open_exercise, write_piles

if TYPE_CHECKING:
    from motifs.practice import Exercise

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
) -> Exercise:
    """Write photographs, sealed answer, cut-out sheet and an empty list of piles into a folder of its own under `folder`.

    Parameters
    ----------
    folder : made if it is not there.
    name : of the exercise and of its folder.
    pots, alike, seed : as in ExerciseSettings, where no settings are given.

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
    try:
        made = make_exercise(
            folder,
            name,
            wish.pots,
            wish.alike,
            wish.seed,
            sherds=wish.sherds,
            lost=wish.lost,
            techniques=None if wish.technique is None else (wish.technique,),
        )
        place = made.answer.parent
        opened = open_exercise(place)
        with tempfile.TemporaryDirectory() as scratch:
            write_atomically(place / CUT_OUT, cut_out_pdf(opened, Path(scratch)), is_lasting=True)
        write_piles(place / PILES, {piece.key: None for piece in opened.pieces})
    except OSError as reason:
        raise CollectionNotWritable(
            f"cannot write to '{folder}' ({reason.strerror}); name another folder with --into"
        ) from reason
    return made
