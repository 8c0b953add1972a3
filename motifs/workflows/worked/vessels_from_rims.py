"""From a list of rims (type, diameter_mm, percent) to equivalents, and to numbers of vessels with their methods.

``python -m motifs.workflows.worked.vessels_from_rims [RIMS.csv]``
"""

from __future__ import annotations

import sys

import pandas as pd

from motifs.sites import eve_by_type, maximum_vessels, mnv_by_rim_eve

INVENTED = pd.DataFrame(
    {
        "type": ["jar", "jar", "jar", "bowl", "bowl"],
        "diameter_mm": [180.0, 180.0, 240.0, 120.0, None],
        "percent": [22.0, 31.0, 8.0, 14.0, None],
    }
)


def number_frame(rims: pd.DataFrame) -> pd.DataFrame:
    """One row a method: the number of vessels, and the method that gave it."""
    counts = (
        mnv_by_rim_eve(rims),
        mnv_by_rim_eve(rims, with_diameter=False),
        maximum_vessels([None] * len(rims)),
    )
    return pd.DataFrame([(one.number, one.method) for one in counts], columns=["vessels", "method"])


def main(file: str | None = None) -> None:
    """Print equivalents by type, and numbers by method."""
    rims = INVENTED if file is None else pd.read_csv(file, dtype={"type": str})
    print(eve_by_type(rims).to_string(), end="\n\n")
    print(number_frame(rims).to_string())


if __name__ == "__main__":
    main(*sys.argv[1:2])
