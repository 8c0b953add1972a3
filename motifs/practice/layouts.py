"""How the decorated field is divided: zones, bands, panels, two-dimensional repeats, framing lines, plain parts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import cycle
from typing import TYPE_CHECKING

import numpy as np

from motifs.practice.symmetry import BAND_GROUPS, PLANE_GROUPS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from motifs.practice.families import Family
    from motifs.practice.forms import VesselForm


@dataclass(frozen=True, slots=True)
class Zone:
    """One horizontal division of the surface.

    kind: "band", "panels", "plane", "lines", "solid" or "plain". top, bottom: share of the vessel's arc length.
    families: one for a band or plane, two for panels. group: band or plane group's symbol. framing: lines drawn
    above and below. rows: repeats in height of a plane pattern. panel_ratio: width of a panel over its height.
    """

    kind: str
    top: float
    bottom: float
    families: tuple[Family, ...] = ()
    group: str = "p111"
    framing: int = 0
    rows: int = 1
    panel_ratio: float = 1.2


Layout = tuple[Zone, ...]
LEAST_DECORATED = 0.3
"""Share of the profile that motifs take on a decorated pot, where the form has room for it."""


def draw_layout(rng: np.random.Generator, form: VesselForm, families: tuple[Family, ...]) -> Layout:
    """Divide a form into zones and give each its decoration from the families (at most four are used, in turn)."""
    count = min(len(families), int(rng.integers(3, 5)))
    chosen = cycle([families[int(k)] for k in rng.choice(len(families), size=count, replace=False)])
    for _ in range(12):
        zones = _divided(rng, form, chosen)
        if sum(zone.bottom - zone.top for zone in zones if zone.families) >= LEAST_DECORATED:
            break
    return tuple(zones)


def _divided(rng: np.random.Generator, form: VesselForm, chosen: Iterator[Family]) -> list[Zone]:
    """Give each part of the vessel its zones."""
    zones: list[Zone] = []
    may_stay_plain = True
    for part, top_mm, bottom_mm in form.parts:
        top, bottom = top_mm / form.height_mm, bottom_mm / form.height_mm
        if part == "rim":
            zones.append(_rim_zone(rng, top, bottom))
        elif part == "lower body" and rng.random() < 0.75:
            zones.append(Zone("plain", top, bottom))
        elif may_stay_plain and part in ("neck", "shoulder") and rng.random() < 0.2:
            may_stay_plain = False
            zones.append(Zone("plain", top, bottom))
        else:
            zones += _decorated(rng, top, bottom, form.height_mm, chosen)
    return zones


def _rim_zone(rng: np.random.Generator, top: float, bottom: float) -> Zone:
    kind = str(rng.choice(["lines", "solid", "plain"], p=[0.5, 0.2, 0.3]))
    return Zone(kind, top, bottom, framing=int(rng.integers(1, 3)))


def _decorated(
    rng: np.random.Generator, top: float, bottom: float, total_mm: float, chosen: Iterator[Family]
) -> list[Zone]:
    """Cut one part of the vessel into one or more decorated zones of at least 14 mm."""
    room_mm = (bottom - top) * total_mm
    most = max(1, min(3, int(room_mm / 18.0)))
    cuts = int(rng.integers(1, most + 1))
    shares = rng.dirichlet(np.full(cuts, 6.0))
    edges = top + (bottom - top) * np.concatenate([[0.0], np.cumsum(shares)])
    zones = []
    for k in range(cuts):
        first, last = float(edges[k]), float(edges[k + 1])
        kind = str(rng.choice(["band", "panels", "plane", "lines"], p=[0.6, 0.15, 0.15, 0.1]))
        if (last - first) * total_mm < 10.0:
            kind = "lines"
        zones.append(_zone(rng, kind, first, last, total_mm, chosen))
    return zones


def _zone(
    rng: np.random.Generator, kind: str, top: float, bottom: float, total_mm: float, chosen: Iterator[Family]
) -> Zone:
    framing = int(rng.choice([0, 1, 2, 3], p=[0.2, 0.45, 0.25, 0.1]))
    if kind == "lines":
        return Zone(kind, top, bottom, framing=int(rng.integers(2, 5)))
    if kind == "panels":
        return Zone(
            kind, top, bottom, (next(chosen), next(chosen)), "p111", framing, panel_ratio=float(rng.uniform(0.8, 1.8))
        )
    if kind == "plane":
        rows = max(1, round((bottom - top) * total_mm / float(rng.uniform(14.0, 26.0))))
        return Zone(kind, top, bottom, (next(chosen),), str(rng.choice(list(PLANE_GROUPS))), framing, rows)
    symbols = list(BAND_GROUPS)
    if (bottom - top) * total_mm < 22.0:
        symbols = [symbol for symbol in symbols if not BAND_GROUPS[symbol].halved]
    return Zone("band", top, bottom, (next(chosen),), str(rng.choice(symbols)), framing)


def like_layout(rng: np.random.Generator, layout: Layout, difference: float) -> Layout:
    """Return the same layout with its divisions moved by about 1.2 % of the height times the difference."""
    edges = np.array([zone.top for zone in layout] + [layout[-1].bottom])
    moved = edges.copy()
    moved[1:-1] += rng.normal(0, 0.012, max(len(edges) - 2, 0)) * difference
    if np.any(np.diff(moved) < 0.6 * np.diff(edges)):
        moved = edges
    return tuple(replace(z, top=float(moved[k]), bottom=float(moved[k + 1])) for k, z in enumerate(layout))
