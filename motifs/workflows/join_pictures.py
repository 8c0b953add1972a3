"""Pictures of proposed joins, to judge by."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from PIL import Image

from motifs.catalogue.files import write_atomically
from motifs.errors import InputError
from motifs.joins import SherdCutOut, draw_join
from motifs.workflows.crops import crops_of
from motifs.workflows.joins import join_between, outlines_mm

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue


def picture_of_join(cat: Catalogue, lot: str, a: str, b: str) -> NDArray[np.uint8]:
    """Both sherds laid together as proposed, (H, W, 3) uint8 sRGB, 10 px a mm, with a bar of 10 mm.

    Raises
    ------
    UnknownName
        No such lot, or no join of the two is kept.
    """
    join = join_between(cat, lot, a, b)
    sherds = [cat.sherd(join.a), cat.sherd(join.b)]
    outlines = outlines_mm(cat, sherds)
    crops = {sherd.number: crop for sherd, crop in crops_of(cat, sherds)}
    first, second = (
        SherdCutOut(crops[number].image, crops[number].mask, crops[number].px_per_mm, outlines[number])
        for number in (join.a, join.b)
    )
    return draw_join(first, second, join.transform, stretch_a_mm=join.stretch_a_mm)


def save_picture(cat: Catalogue, lot: str, a: str, b: str, file: Path) -> None:
    """Write the picture of a join as PNG.

    Raises
    ------
    InputError
        The file's name does not end in .png, or its folder is not there.
    """
    if file.suffix.lower() != ".png" or not file.parent.is_dir():
        raise InputError(f"'{file}' cannot be written; name a .png file in a folder that is there")
    held = io.BytesIO()
    Image.fromarray(picture_of_join(cat, lot, a, b)).save(held, format="PNG", dpi=(254, 254))
    write_atomically(file, held.getvalue(), is_lasting=True)
