"""Correspondence analysis: sites and motifs on common axes, largest difference first.

The method follows the singular value decomposition of the standardised residuals. Axis signs are arbitrary
in the mathematics; here the motif that lies farthest out on an axis always lies on its positive side, so
that the same table gives the same picture on every machine.

References
----------
Greenacre, M. 2017. Correspondence Analysis in Practice, 3rd ed. Chapman & Hall (named from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from motifs.errors import InputError
from motifs.sites.checks import FloatArray, named_some
from motifs.sites.tables import CountTable, without_empty

NO_INERTIA = 1e-12
"""An axis with less inertia than this is rounding, not difference."""

RARE_MOTIF = 5
"""A motif seen fewer times than this can pull an axis to itself (common practice)."""


@dataclass(frozen=True, slots=True)
class Ordination:
    """A correspondence analysis with K axes, K <= min(S, M) - 1.

    sites (S), motifs (M): names in the order of the table. inertias: (K,) principal inertias, falling.
    total_inertia: their sum, chi-square over N. chi_square, degrees: of the table without empty rows and
    columns. row_coordinates (S, K), column_coordinates (M, K): principal coordinates. row_masses (S,),
    column_masses (M,): shares of N. row_contributions, column_contributions: share of an axis' inertia, each
    column sums to 1. row_cosines, column_cosines: squared cosines, the share of a point's own inertia that an
    axis shows. dropped_sites, dropped_motifs: empty ones, left out.
    """

    sites: tuple[str, ...]
    motifs: tuple[str, ...]
    inertias: FloatArray
    total_inertia: float
    chi_square: float
    degrees: int
    row_coordinates: FloatArray
    column_coordinates: FloatArray
    row_masses: FloatArray
    column_masses: FloatArray
    row_contributions: FloatArray
    column_contributions: FloatArray
    row_cosines: FloatArray
    column_cosines: FloatArray
    unit: str
    dropped_sites: tuple[str, ...] = ()
    dropped_motifs: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def axis_shares(self) -> FloatArray:
        """(K,) share of the total inertia that each axis shows, 0..1."""
        shares: FloatArray = self.inertias / self.total_inertia if self.total_inertia > 0 else self.inertias
        return shares

    def site_frame(self, axes: int = 2) -> pd.DataFrame:
        """Return mass, coordinates, contributions and squared cosines of the sites on the first axes."""
        return _points(
            self.sites, self.row_masses, self.row_coordinates, self.row_contributions, self.row_cosines, axes
        )

    def motif_frame(self, axes: int = 2) -> pd.DataFrame:
        """Return mass, coordinates, contributions and squared cosines of the motifs on the first axes."""
        return _points(
            self.motifs,
            self.column_masses,
            self.column_coordinates,
            self.column_contributions,
            self.column_cosines,
            axes,
        )


def correspondence_analysis(table: CountTable) -> Ordination:
    """Analyse a table of counts.

    Parameters
    ----------
    table
        Sites by motifs; empty sites and motifs are left out and named in the result.

    Returns
    -------
    Ordination with every axis that carries inertia; none, and a warning, when all sites have the same shares.

    Raises
    ------
    InputError
        Fewer than two sites or two motifs have counts.
    """
    kept, no_sites, no_motifs = without_empty(table)
    if min(kept.counts.shape) < 2:
        raise InputError(
            f"Correspondence analysis needs two sites and two motifs with counts; "
            f"this table has {kept.counts.shape[0]} and {kept.counts.shape[1]}."
        )
    shares = kept.counts / kept.counts.sum()
    row_mass, column_mass = shares.sum(axis=1), shares.sum(axis=0)
    left, singular, right = _decompose(shares, row_mass, column_mass)
    right, left = _signed(left, right, column_mass, kept.motifs)
    rows = left * singular / np.sqrt(row_mass)[:, None]
    columns = right * singular / np.sqrt(column_mass)[:, None]
    total = float((singular**2).sum())
    return Ordination(
        sites=kept.sites,
        motifs=kept.motifs,
        inertias=singular**2,
        total_inertia=total,
        chi_square=total * float(kept.counts.sum()),
        degrees=(rows.shape[0] - 1) * (columns.shape[0] - 1),
        row_coordinates=rows,
        column_coordinates=columns,
        row_masses=row_mass,
        column_masses=column_mass,
        row_contributions=left**2,
        column_contributions=right**2,
        row_cosines=_squared_cosines(rows),
        column_cosines=_squared_cosines(columns),
        unit=table.unit,
        dropped_sites=no_sites,
        dropped_motifs=no_motifs,
        warnings=kept.warnings + _notes(kept, no_sites, no_motifs, singular.size),
    )


def expected_counts(counts: FloatArray) -> FloatArray:
    """Return the (S, M) counts expected from the margins alone: row total x column total / N."""
    expected: FloatArray = np.outer(counts.sum(axis=1), counts.sum(axis=0)) / counts.sum()
    return expected


def _decompose(
    shares: FloatArray, row_mass: FloatArray, column_mass: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    expected = np.outer(row_mass, column_mass)
    left, singular, right = np.linalg.svd((shares - expected) / np.sqrt(expected), full_matrices=False)
    # The centred residuals have one dimension less than the table, so the last axis is never real.
    most = min(shares.shape) - 1
    axes = np.flatnonzero(singular[:most] ** 2 > NO_INERTIA)
    return left[:, axes], singular[axes], right[axes].T


def _signed(
    left: FloatArray, right: FloatArray, column_mass: FloatArray, motifs: tuple[str, ...]
) -> tuple[FloatArray, FloatArray]:
    """Turn each axis so that its farthest motif (by name among ties) is positive; return right, left."""
    by_name = np.argsort(np.array(motifs))
    reach = np.abs(right / np.sqrt(column_mass)[:, None])[by_name]
    is_farthest = reach >= reach.max(axis=0, initial=0.0) * (1 - 1e-9)
    farthest = by_name[is_farthest.argmax(axis=0)]
    sign = np.where(right[farthest, np.arange(right.shape[1])] < 0, -1.0, 1.0)
    return right * sign, left * sign


def _squared_cosines(coordinates: FloatArray) -> FloatArray:
    squared = coordinates**2
    length = squared.sum(axis=1, keepdims=True)
    cosines: FloatArray = np.divide(squared, length, out=np.zeros_like(squared), where=length > 0)
    return cosines


def _notes(kept: CountTable, no_sites: tuple[str, ...], no_motifs: tuple[str, ...], axes: int) -> tuple[str, ...]:
    notes = []
    if no_sites:
        notes.append(f"No {kept.unit} counted at {named_some(no_sites)}: left out.")
    if no_motifs:
        notes.append(f"Motifs never seen, left out: {named_some(no_motifs)}.")
    rare = [name for name, n in zip(kept.motifs, kept.counts.sum(axis=0), strict=True) if n < RARE_MOTIF]
    if rare:
        notes.append(f"Seen fewer than {RARE_MOTIF} times, and able to pull an axis: {named_some(rare)}.")
    if axes == 0:
        notes.append("All sites have the same shares of motifs: there is nothing to order.")
    return tuple(notes)


def _points(
    names: tuple[str, ...],
    masses: FloatArray,
    coordinates: FloatArray,
    contributions: FloatArray,
    cosines: FloatArray,
    axes: int,
) -> pd.DataFrame:
    columns: dict[str, FloatArray] = {"mass": masses}
    for axis in range(min(axes, coordinates.shape[1])):
        columns[f"axis_{axis + 1}"] = coordinates[:, axis]
        columns[f"contribution_{axis + 1}"] = contributions[:, axis]
        columns[f"squared_cosine_{axis + 1}"] = cosines[:, axis]
    return pd.DataFrame(columns, index=pd.Index(names, name="name"))
