"""An exercise: photographs of pots broken for practice, and the answer, sealed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.errors import CollectionNotWritable
from motifs.practice import make_exercise

if TYPE_CHECKING:
    from pathlib import Path

    from motifs.practice import Exercise


def prepare_exercise(folder: Path, name: str, *, pots: int = 2, alike: float = 0.5, seed: int = 0) -> Exercise:
    """Write the photographs and the sealed answer of an exercise into a folder of its own under `folder`.

    Parameters
    ----------
    folder : made if it is not there.
    name : of the exercise and of its folder.
    pots : how many are broken together.
    alike : 0 unrelated pots, about 0.5 look-alikes, 1 nearly identical ones.
    seed : the same seed gives the same exercise.

    Raises
    ------
    NameRefused
        The name cannot be a folder's, or is taken.
    CollectionNotWritable
        No right or no space to write there.
    """
    try:
        return make_exercise(folder, name, pots, alike, seed)
    except OSError as reason:
        raise CollectionNotWritable(
            f"cannot write to '{folder}' ({reason.strerror}); name another folder with --into"
        ) from reason
