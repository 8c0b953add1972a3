"""From pictures of bands to a table of their symmetry groups: one band of each of the seven groups, drawn and read again.

``python -m motifs.workflows.worked.symmetry_of_bands [SEED]``
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from motifs.design import BAND_GROUPS, read_symmetry
from motifs.design.generators import draw_band, draw_motif

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray


def drawn_bands(seed: int = 0) -> dict[str, NDArray[np.float64]]:
    """One band of each group with an invented motif, four repeats long, as (h, w) ink coverage 0..1."""
    rng = np.random.default_rng(seed)
    return {
        group.symbol: draw_band(group.symbol, draw_motif(rng), repeat_px=80, height_px=60, repeats=4, rng=rng)
        for group in BAND_GROUPS
    }


def symmetry_frame(pictures: Mapping[str, NDArray[np.float64]]) -> pd.DataFrame:
    """One row a picture: group (None where indeterminate), orbifold symbol, repeats seen and support (0..1)."""
    rows = []
    for name, picture in pictures.items():
        found = read_symmetry(picture, np.ones(picture.shape, np.bool_), kind="band")
        group = found.group
        rows.append(
            (
                name,
                None if group is None else group.symbol,
                None if group is None else group.orbifold,
                found.repeats,
                found.support,
            )
        )
    return pd.DataFrame(rows, columns=["picture", "group", "orbifold", "repeats", "support"])


def main(seed: str = "0") -> None:
    """Print the table."""
    print(symmetry_frame(drawn_bands(int(seed))).to_string())


if __name__ == "__main__":
    main(*sys.argv[1:2])
