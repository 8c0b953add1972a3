"""Sampling error that respects pots: whole vessels are drawn again, never single sherds.

References
----------
Efron, B. & Tibshirani, R. 1993. An Introduction to the Bootstrap (percentile intervals; from memory). Drawing
whole vessels is the usual bootstrap of clusters (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from motifs.errors import InputError, UnknownName
from motifs.sites.checks import FloatArray, at_least, open_share
from motifs.sites.similarity import brainerd_robinson

FEW_VESSELS = 10


@dataclass(frozen=True, slots=True)
class ResampledPair:
    """Brainerd-Robinson similarity (0..200) of two sites by sherds, with an interval from drawing vessels again.

    median: of the drawn similarities. It lies below the observed value, since every drawing adds sampling
    error to both sites; read the interval as a width, and see `permute_pair` for a test.
    """

    similarity: float
    low: float
    median: float
    high: float
    vessels: tuple[int, int]
    replicates: int
    warnings: tuple[str, ...] = ()


def resample_vessels(
    rows: pd.DataFrame, a: str, b: str, *, replicates: int = 999, confidence: float = 0.95, seed: int = 0
) -> ResampledPair:
    """Resample the vessels of two sites and compare them each time.

    Parameters
    ----------
    rows
        One row a tag: ``site``, ``motif``, ``sherd``, ``vessel``; a sherd with a blank vessel counts as a
        vessel of its own. Rows without a motif are left out.
    a, b
        The two sites.
    replicates, confidence, seed
        Number of drawings, two-sided confidence of the interval, seed.

    Raises
    ------
    InputError
        A column is missing.
    UnknownName
        A site has no tagged sherd.
    """
    missing = [name for name in ("site", "motif", "sherd", "vessel") if name not in rows.columns]
    if missing:
        raise InputError(f"tag rows: column {missing[0]!r} is missing; the rows need site, motif, sherd, vessel.")
    tail = (1.0 - open_share(confidence, "confidence")) / 2.0
    count = at_least(replicates, 1, "replicates")
    motifs = sorted({str(name) for name in rows["motif"].dropna().unique()} - {""})
    first, second = _by_vessel(rows, a, motifs), _by_vessel(rows, b, motifs)
    rng = np.random.default_rng(seed)
    gap = np.abs(_drawn_shares(first, count, rng) - _drawn_shares(second, count, rng)).sum(axis=1)
    drawn = 200.0 - 100.0 * gap
    low, median, high = (float(value) for value in np.quantile(drawn, [tail, 0.5, 1.0 - tail]))
    fewest = min(len(first), len(second))
    notes = (f"Only {fewest} vessels at one site: the interval is too narrow.",) if fewest < FEW_VESSELS else ()
    similarity = brainerd_robinson(first.sum(axis=0), second.sum(axis=0))
    return ResampledPair(similarity, low, median, high, (len(first), len(second)), count, notes)


def _by_vessel(rows: pd.DataFrame, site: str, motifs: list[str]) -> FloatArray:
    here = rows[rows["site"] == site]
    here = here[here["motif"].isin(motifs)].drop_duplicates(["sherd", "motif"])
    if here.empty:
        raise UnknownName(f"No tagged sherd from site {site!r}; check the name or tag its sherds.")
    # A space cannot start a vessel's name, so a loose sherd never meets a vessel of the same name.
    vessel = here["vessel"].astype(object).where(here["vessel"].notna(), "")
    loose = " " + here["sherd"].astype(str)
    owner = vessel.astype(str).where(vessel != "", loose)
    # Rows in the order of the owners' names.
    owners, row = np.unique(owner.to_numpy(dtype=str), return_inverse=True)
    column = pd.Categorical(here["motif"], categories=motifs).codes
    matrix: FloatArray = np.zeros((len(owners), len(motifs)), dtype=np.float64)
    np.add.at(matrix, (row, column), 1.0)
    return matrix


def _drawn_shares(by_vessel: FloatArray, replicates: int, rng: np.random.Generator) -> FloatArray:
    number = len(by_vessel)
    times_drawn = rng.multinomial(number, np.full(number, 1.0 / number), size=replicates)
    counts = times_drawn @ by_vessel
    shares: FloatArray = counts / counts.sum(axis=1, keepdims=True)
    return shares
