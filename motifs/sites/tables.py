"""Motif by site tables from tag rows, with the unit of counting always named.

A tag row says: this sherd (of this vessel, if it was sorted) from this site carries this motif. The same
rows give three tables. Sherd counts are large but not independent, since one pot gives many sherds; vessel
counts are independent but leave unsorted sherds out; the minimum number of vessels keeps both kinds and
never counts a pot twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd

from motifs.errors import InputError, UnknownName
from motifs.sites.checks import SMALL_SAMPLE, FloatArray, count_matrix, named_some

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

Unit = Literal["sherd", "mnv", "vessel"]

UNIT_WORDS: dict[str, str] = {
    "sherd": "sherds",
    "mnv": "vessels (minimum number)",
    "vessel": "vessels (as sorted)",
}
"""How each unit is written beside a number."""


@dataclass(frozen=True, slots=True)
class CountTable:
    """Counts of motifs at sites (or in periods).

    counts: (S, M) float64, 0 or more. sites, motifs: names of rows and columns, each once. unit: what was
    counted, in words. warnings: what a reader of the table must know.
    """

    counts: FloatArray
    sites: tuple[str, ...]
    motifs: tuple[str, ...]
    unit: str
    warnings: tuple[str, ...] = ()

    def row(self, site: str) -> FloatArray:
        """Return the (M,) counts of one site.

        Raises
        ------
        UnknownName
            No such site in the table.
        """
        if site not in self.sites:
            raise UnknownName(f"No site {site!r} in the table; it has {named_some(self.sites)}.")
        counts: FloatArray = self.counts[self.sites.index(site)]
        return counts

    def frame(self) -> pd.DataFrame:
        """Return the counts as a frame, sites down and motifs across; whole counts as integers."""
        is_whole = bool(np.array_equal(np.rint(self.counts), self.counts))
        values = self.counts.astype(np.int64) if is_whole else self.counts
        return pd.DataFrame(
            values, index=pd.Index(self.sites, name="site"), columns=pd.Index(self.motifs, name="motif")
        )


def count_table(counts: ArrayLike, sites: Sequence[str], motifs: Sequence[str], unit: str) -> CountTable:
    """Return a checked table from counts that were made elsewhere.

    Parameters
    ----------
    counts
        (S, M) numbers of 0 or more.
    sites, motifs
        S and M different names.
    unit
        What was counted, in words ("sherds", "vessels (minimum number)").

    Raises
    ------
    InputError
        Sizes that do not fit, a name given twice, no unit, or values that are not counts.
    """
    matrix = count_matrix(counts, "table")
    if matrix.shape != (len(sites), len(motifs)):
        raise InputError(f"table: {matrix.shape[0]} x {matrix.shape[1]}, but {len(sites)} sites, {len(motifs)} motifs.")
    _each_once(sites, "site")
    _each_once(motifs, "motif")
    if not unit.strip():
        raise InputError("table: the unit of counting is missing; say sherds, vessels or minimum number of vessels.")
    return _with_small_samples(matrix, tuple(sites), tuple(motifs), unit, ())


def table_of_frame(frame: pd.DataFrame, unit: str) -> CountTable:
    """Return a checked table from a frame with sites down and motifs across."""
    return count_table(frame.to_numpy(), [str(n) for n in frame.index], [str(n) for n in frame.columns], unit)


def motif_table(
    rows: pd.DataFrame,
    unit: Unit,
    *,
    by: str = "site",
    order: Sequence[str] | None = None,
    distinct_by: Sequence[str] = (),
) -> CountTable:
    """Count motifs by site from tag rows.

    Parameters
    ----------
    rows
        One row a tag, columns `by`, ``motif``, ``sherd`` and, for "mnv" and "vessel", ``vessel`` (blank when
        the sherd was not sorted to a vessel). Text columns; the same tag twice counts once.
    unit
        "sherd": different sherds with the motif. "vessel": different sorted vessels with it; unsorted sherds
        are left out and said so. "mnv": sorted vessels with it, and unsorted sherds add one only where no
        sorted vessel of the site could be theirs (one for each combination of `distinct_by`).
    by
        Column that makes the rows of the table ("site", "period", "context").
    order
        The rows of the table in this order; every name in `rows` must be listed.
    distinct_by
        Columns that tell vessels apart although unsorted (fabric, form), for "mnv".

    Returns
    -------
    CountTable with a row for each site in `rows`, also where no motif was seen.

    Raises
    ------
    InputError
        A column is missing or read as decimals, a site or sherd is blank, no row has a motif, the unit is
        unknown.
    UnknownName
        A site of `rows` is not in `order`.
    """
    if unit not in UNIT_WORDS:
        raise InputError(f"unit {unit!r} is not known; choose one of {', '.join(UNIT_WORDS)}.")
    needed = [by, "motif", "sherd", *(["vessel"] if unit != "sherd" else []), *distinct_by]
    tags = _text_columns(rows, needed)
    _none_blank(tags, by)
    _none_blank(tags, "sherd")
    names = _row_names(tags[by], order)
    tagged, notes = _tagged_only(tags, unit)
    counted = _counted_once(tagged, unit, by, list(distinct_by))
    frame = pd.crosstab(counted[by], counted["motif"]).reindex(index=list(names), fill_value=0)
    motifs = tuple(sorted(tagged["motif"].unique()))
    matrix = frame.reindex(columns=list(motifs), fill_value=0).to_numpy(dtype=np.float64)
    return _with_small_samples(matrix, names, motifs, UNIT_WORDS[unit], notes)


def long_rows(table: CountTable) -> pd.DataFrame:
    """Return the table as one row a cell: site, motif, count, unit (the form that `table_schema` describes)."""
    sites, motifs = np.meshgrid(np.array(table.sites, object), np.array(table.motifs, object), indexing="ij")
    return pd.DataFrame(
        {"site": sites.ravel(), "motif": motifs.ravel(), "count": table.counts.ravel(), "unit": table.unit}
    )


def table_schema() -> dict[str, object]:
    """Return the schema of `long_rows` as a Frictionless Table Schema (fields, primaryKey, missingValues)."""
    must = {"required": True}
    return {
        "fields": [
            {"name": "site", "type": "string", "constraints": must},
            {"name": "motif", "type": "string", "constraints": must},
            {"name": "count", "type": "number", "constraints": {"required": True, "minimum": 0}},
            {"name": "unit", "type": "string", "constraints": must},
        ],
        "primaryKey": ["site", "motif"],
        "missingValues": [""],
    }


def without_empty(table: CountTable) -> tuple[CountTable, tuple[str, ...], tuple[str, ...]]:
    """Leave out sites and motifs with no count at all.

    Returns
    -------
    The smaller table, the names of the sites left out, the names of the motifs left out.

    Raises
    ------
    InputError
        Nothing is left.
    """
    rows, columns = table.counts.sum(axis=1) > 0, table.counts.sum(axis=0) > 0
    if not rows.any():
        raise InputError("table: nothing was counted (all zero); tag some sherds with motifs first.")
    sites = tuple(np.array(table.sites, object)[rows])
    motifs = tuple(np.array(table.motifs, object)[columns])
    kept = CountTable(table.counts[np.ix_(rows, columns)], sites, motifs, table.unit, table.warnings)
    return kept, tuple(np.array(table.sites, object)[~rows]), tuple(np.array(table.motifs, object)[~columns])


def _with_small_samples(
    counts: FloatArray, sites: tuple[str, ...], motifs: tuple[str, ...], unit: str, notes: tuple[str, ...]
) -> CountTable:
    small = [f"{site} ({n:g})" for site, n in zip(sites, counts.sum(axis=1), strict=True) if n < SMALL_SAMPLE]
    if small:
        notes = (*notes, f"Fewer than {SMALL_SAMPLE} {unit} at {named_some(small)}: shares there are unsure.")
    return CountTable(counts, sites, motifs, unit, notes)


def _each_once(names: Sequence[str], what: str) -> None:
    twice = sorted({name for name in names if list(names).count(name) > 1}) if len(set(names)) < len(names) else []
    if twice:
        raise InputError(f"table: {what} {twice[0]!r} is listed twice; merge the two or rename one.")


def _text_columns(rows: pd.DataFrame, needed: Sequence[str]) -> pd.DataFrame:
    missing = [name for name in needed if name not in rows.columns]
    if missing:
        raise InputError(f"tag rows: column {missing[0]!r} is missing; the rows need {', '.join(needed)}.")
    return pd.DataFrame({name: _as_text(rows[name]) for name in needed})


def _as_text(column: pd.Series) -> pd.Series:
    # A decimal column means that a reader already turned 0012 into 12.0: the name is lost, so say it.
    if pd.api.types.is_float_dtype(column) and column.notna().any():
        raise InputError(f"tag rows: column {column.name!r} was read as decimals; read it as text (0012 is a name).")
    text = column.astype(object).where(column.notna(), "")
    return text.map(lambda value: str(value).strip())


def _none_blank(tags: pd.DataFrame, name: str) -> None:
    blank = int((tags[name] == "").sum())
    if blank:
        raise InputError(f"tag rows: {blank} row(s) have no {name}; fill it in or leave those rows out.")


def _row_names(column: pd.Series, order: Sequence[str] | None) -> tuple[str, ...]:
    found = sorted(column.unique())
    if order is None:
        return tuple(found)
    _each_once(order, "row")
    lost = [name for name in found if name not in set(order)]
    if lost:
        raise UnknownName(f"tag rows: {lost[0]!r} is not in the given order; add it there.")
    return tuple(order)


def _tagged_only(tags: pd.DataFrame, unit: Unit) -> tuple[pd.DataFrame, tuple[str, ...]]:
    has_motif = tags["motif"] != ""
    notes = _left_out(int((~has_motif).sum()), "carry no motif")
    tagged = tags[has_motif]
    if unit == "vessel":
        is_sorted = tagged["vessel"] != ""
        notes += _left_out(int((~is_sorted).sum()), "belong to no sorted vessel")
        tagged = tagged[is_sorted]
    if tagged.empty:
        raise InputError(f"tag rows: none can be counted as {UNIT_WORDS[unit]}; tag motifs (and sort vessels) first.")
    return tagged, notes


def _left_out(number: int, why: str) -> tuple[str, ...]:
    return (f"{number} tag row(s) {why} and are left out.",) if number else ()


def _counted_once(tagged: pd.DataFrame, unit: Unit, by: str, distinct_by: list[str]) -> pd.DataFrame:
    if unit != "mnv":
        return tagged.drop_duplicates([by, unit, "motif"])
    kind = [by, "motif", *distinct_by]
    is_sorted = tagged["vessel"] != ""
    vessels = tagged[is_sorted].drop_duplicates([by, "vessel", "motif"])
    # A loose sherd may come from any sorted vessel of its kind, so it adds a vessel only where there is none.
    taken = set(map(tuple, tagged[is_sorted][kind].to_numpy()))
    loose = tagged[~is_sorted].drop_duplicates(kind)
    is_new = [tuple(row) not in taken for row in loose[kind].to_numpy()]
    return pd.concat([vessels, loose[is_new]])
