"""From a table of counts (sites down, motifs across) to pairs of sites, diversity and an order.

``python -m motifs.workflows.worked.sites_from_a_table [TABLE.csv]``; the first column of the file names the sites.
"""

from __future__ import annotations

import sys
from itertools import combinations

import pandas as pd

from motifs.sites import diversity_frame, permute_pair, rarefaction_frame, seriate, table_of_frame

INVENTED = pd.DataFrame(
    {"scroll": [30, 22, 6, 0], "comb": [12, 18, 20, 9], "fret": [0, 4, 17, 33]},
    index=pd.Index(["Ossery Tarn", "Kestrel Ford", "Marl Hill", "Callowmere Rise"], name="site"),
)


def pair_frame(counts: pd.DataFrame, unit: str, *, permutations: int = 999) -> pd.DataFrame:
    """One row a pair: Brainerd-Robinson similarity (0..200), p of two samples of one assemblage, and its 5 % limit."""
    table = table_of_frame(counts, unit)
    rows = []
    for a, b in combinations(table.sites, 2):
        tested = permute_pair(table.row(a), table.row(b), permutations=permutations)
        rows.append((a, b, tested.similarity, tested.p_value, tested.null_low))
    return pd.DataFrame(rows, columns=["a", "b", "similarity", "p_value", "low_if_one"])


def spread_frame(counts: pd.DataFrame, unit: str) -> pd.DataFrame:
    """One row a site: diversity, and richness at the size of the smallest sample."""
    table = table_of_frame(counts, unit)
    rarefied = rarefaction_frame(table)
    return diversity_frame(table).join(rarefied[["size", "expected"]])


def order_frame(counts: pd.DataFrame, unit: str) -> pd.DataFrame:
    """Sites along the first axis of a correspondence analysis."""
    found = seriate(table_of_frame(counts, unit))
    return pd.DataFrame({"site": found.sites, "position": found.positions})


def main(file: str | None = None) -> None:
    """Print the three frames of a table."""
    counts = INVENTED if file is None else pd.read_csv(file, index_col=0)
    for frame in (pair_frame(counts, "sherds"), spread_frame(counts, "sherds"), order_frame(counts, "sherds")):
        print(frame.to_string(), end="\n\n")


if __name__ == "__main__":
    main(*sys.argv[1:2])
