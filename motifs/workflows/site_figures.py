"""Sites drawn: heat map, biplot, network, battleship curves, rarefaction, tree, map."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np
from reportlab.graphics.shapes import Group, String
from reportlab.lib.units import mm
from scipy.cluster.hierarchy import dendrogram

from motifs.workflows import drawings as d

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from reportlab.graphics.shapes import Drawing
    from reportlab.lib.colors import Color

    from motifs.sites import CountTable, Ordination, SimilarityMatrix, SiteNetwork, SiteTree
    from motifs.workflows.site_rows import Place

MOST_DRAWN = 60
"""More sites or motifs than this are not drawn one by one; the table has them all."""
LABELLED = 14
"""Motifs named in a biplot, those that shape its axes most."""

Span = tuple[float, float]


def heat_map(matrix: SimilarityMatrix, order: Sequence[str], *, largest: float = 200.0) -> d.Figure:
    """Similarity of every two sites, dark for alike, the value in every cell; sites in the given order."""
    names = [name for name in order if name in matrix.sites][:MOST_DRAWN]
    places = [matrix.sites.index(name) for name in names]
    values = matrix.values[np.ix_(places, places)]
    side = min(16 * mm, (d.GRAPH_WIDTH - 60 * mm) / max(len(names), 1))
    head = 32 * mm
    drawing = d.new_drawing(d.GRAPH_WIDTH, side * len(names) + head)
    left = d.GRAPH_WIDTH - 20 * mm - side * len(names)
    for i, name in enumerate(names):
        y = side * (len(names) - 1 - i)
        d.label(drawing, left - 4, y + side / 2 - 2.5, d.fitted(name, left - 8), anchor="end")
        _slanted(drawing, left + side * (i + 0.5), side * len(names) + 4, d.fitted(name, head * 1.2))
        for j, value in enumerate(values[i]):
            share = 0.0 if math.isnan(value) else value / largest
            d.box(drawing, left + j * side, y, side, side, fill=d.grey_for(share), edge=d.FAINT)
            if side > 6 * mm:
                ink = d.WHITE if share > 0.55 else d.INK
                said = "-" if math.isnan(value) else f"{value:.0f}" if largest > 1 else f"{value:.2f}"
                d.label(drawing, left + (j + 0.5) * side, y + side / 2 - 2.5, said, anchor="middle", fillColor=ink)
    top = f"{matrix.measure}, {matrix.unit}"
    return d.Figure(
        drawing,
        f"Similarity of sites ({top}); dark is alike.",
        f"Heat map of {len(names)} sites: {top}. The table beside it has every value.",
    )


def biplot(found: Ordination) -> d.Figure:
    """Sites and motifs on the first two axes of a correspondence analysis (symmetric map, principal coordinates)."""
    sites, motifs = _two_axes(found.row_coordinates), _two_axes(found.column_coordinates)
    points = np.vstack([sites, motifs])
    width, height = d.GRAPH_WIDTH, 110 * mm
    drawing = d.new_drawing(width, height)
    place = _fit(points, (20 * mm, width - 30 * mm), (12 * mm, height - 10 * mm))
    origin = place(np.zeros(2))
    d.stroke(drawing, [(10 * mm, origin[1]), (width - 4 * mm, origin[1])], colour=d.FAINT)
    d.stroke(drawing, [(origin[0], 6 * mm), (origin[0], height - 2 * mm)], colour=d.FAINT)
    shaping = found.column_contributions[:, :2].sum(axis=1)
    named = set(np.argsort(-shaping)[:LABELLED].tolist())
    taken: Taken = [(x - 2, y - 2, x + 2, y + 2) for x, y in map(place, points)]
    for name, xy in zip(found.sites, sites, strict=True):
        d.mark(drawing, *place(xy), 0)
        _beside(drawing, *place(xy), name, taken)
    for i, xy in enumerate(motifs):
        d.mark(drawing, *place(xy), 1, size=1.8)
        if i in named:
            _beside(drawing, *place(xy), found.motifs[i], taken, colour=d.PALETTE[1])
    shares = [*found.axis_shares[:2], 0.0, 0.0][:2]
    d.label(drawing, width - 4 * mm, origin[1] + 3, f"axis 1: {shares[0]:.0%}", anchor="end", fillColor=d.QUIET)
    d.label(drawing, origin[0] + 3, height - 6, f"axis 2: {shares[1]:.0%}", fillColor=d.QUIET)
    caption = f"Correspondence analysis ({found.unit}): sites as discs, motifs as squares; the named motifs shape the axes most."
    order = ", ".join(found.sites[int(i)] for i in np.argsort(sites[:, 0]))
    return d.Figure(
        drawing, caption, f"Biplot. Along axis 1, {shares[0]:.0%} of the inertia, the sites lie in this order: {order}."
    )


def network_drawing(found: SiteNetwork, places: Mapping[str, Place] | None = None) -> d.Figure:
    """Sites tied where they are alike; the wider the line, the more alike. On a map where places are given."""
    width, height = d.GRAPH_WIDTH, 95 * mm
    drawing = d.new_drawing(width, height)
    graph = nx.Graph()
    graph.add_nodes_from(found.sites)
    graph.add_weighted_edges_from((edge.a, edge.b, edge.similarity) for edge in found.edges)
    is_map = places is not None and set(found.sites) <= set(places)
    spots = (
        {name: (places[name].east_km, places[name].north_km) for name in found.sites}
        if is_map and places is not None
        else nx.circular_layout(graph)
    )
    points = np.array([spots[name] for name in found.sites], float).reshape(-1, 2)
    place = _fit(points, (30 * mm, width - 45 * mm), (8 * mm, height - 8 * mm), is_square=True)
    for edge in found.edges:
        ends = [place(np.array(spots[name])) for name in (edge.a, edge.b)]
        d.stroke(drawing, ends, colour=d.TIE, width=0.3 + 2.7 * (edge.similarity / 200.0) ** 3)
    taken: Taken = []
    for name in found.sites:
        x, y = place(np.array(spots[name]))
        d.mark(drawing, x, y, 0 if name not in found.alone else 5, size=3.4)
        if is_map:
            _beside(drawing, x, y, name, taken)
        else:
            is_right = x >= width / 2 - 12
            d.label(
                drawing,
                x + (7 if is_right else -7),
                y - 2.5,
                d.fitted(name, 120),
                anchor="start" if is_right else "end",
            )
    rounded = next(iter(places.values())).rounded_km if is_map and places else 0.0
    where = f" Places are rounded to {rounded:g} km." if rounded else ""
    ties = "; ".join(f"{edge.a} and {edge.b} ({edge.similarity:.0f})" for edge in found.edges[:12]) or "none"
    return d.Figure(
        drawing,
        f"Ties between sites ({found.unit}): {found.how}; width by similarity; a ring has no tie.{where}",
        f"Network. Ties: {ties}.",
    )


def battleship(table: CountTable, order: Sequence[str], order_name: str) -> d.Figure:
    """Share of each motif at each site as a width, sites in order: the curves of a seriation."""
    rows = [name for name in order if name in table.sites][:MOST_DRAWN]
    counts = np.array([table.row(name) for name in rows]).reshape(len(rows), -1)
    kept = np.argsort(-counts.sum(axis=0), kind="stable")[:12]
    shares = counts[:, kept] / np.maximum(counts.sum(axis=1, keepdims=True), 1)
    # Columns in the order of the rows where they lie: that shows swelling and fading.
    middle = (shares * np.arange(len(rows))[:, None]).sum(axis=0) / np.maximum(shares.sum(axis=0), 1e-12)
    by_middle = np.argsort(middle, kind="stable")
    kept, shares = kept[by_middle], shares[:, by_middle]
    left, step, head = 38 * mm, 7 * mm, 34 * mm
    # Room for the name over the last column, which rises to the right.
    column = (d.GRAPH_WIDTH - left - 14 * mm) / max(len(kept), 1)
    drawing = d.new_drawing(d.GRAPH_WIDTH, step * len(rows) + head + 6)
    widest = float(shares.max()) or 1.0
    for i, name in enumerate(rows):
        y = step * (len(rows) - 1 - i) + 6
        d.label(
            drawing, left - 6, y + step / 2 - 2.5, d.fitted(f"{name} ({counts[i].sum():g})", left - 8), anchor="end"
        )
        for j in range(len(kept)):
            wide = 0.85 * column * shares[i, j] / widest
            x = left + (j + 0.5) * column
            d.box(drawing, x - wide / 2, y + 1, wide, step - 2, fill=d.PALETTE[0] if wide else None)
            if shares[i, j] > 0:
                d.stroke(drawing, [(x, y), (x, y + step)], colour=d.FAINT, width=0.4)
    for j, motif in enumerate(kept):
        _slanted(
            drawing, left + (j + 0.5) * column, step * len(rows) + 10, d.fitted(table.motifs[int(motif)], head * 1.25)
        )
    caption = f"Share of each motif at each site ({table.unit}), {order_name}; full width is {widest:.0%}. Counts in brackets."
    return d.Figure(
        drawing,
        caption,
        f"Battleship curves of {len(kept)} motifs over {len(rows)} sites. The motif table has the counts.",
    )


def rarefaction(curves: Mapping[str, Sequence[tuple[int, float]]], unit: str) -> d.Figure:
    """Richness to expect in samples of every size up to each site's own."""
    shown = dict(list(curves.items())[: len(d.MARKS) * 2])
    width, height = d.GRAPH_WIDTH, 85 * mm
    drawing = d.new_drawing(width, height)
    most_x = max((points[-1][0] for points in shown.values() if points), default=1)
    most_y = max((points[-1][1] for points in shown.values() if points), default=1.0)
    left, bottom, right, top = 14 * mm, 12 * mm, width - 50 * mm, height - 4 * mm
    _frame(drawing, (left, right), (bottom, top), most_x, most_y, f"sample size ({unit})", "motifs expected")
    for place, (name, points) in enumerate(shown.items()):
        line = [
            (left + (right - left) * n / most_x, bottom + (top - bottom) * e / most_y) for n, e in [(0, 0.0), *points]
        ]
        d.stroke(drawing, line, colour=d.PALETTE[place % 7], width=1.2, dash=d.DASHES[place % 7])
        d.mark(drawing, *line[-1], place)
        y = top - 10 - 11 * place
        d.mark(drawing, right + 12, y + 2.5, place)
        d.label(drawing, right + 20, y, d.fitted(f"{name} ({points[-1][0] if points else 0})", 44 * mm))
    ends = "; ".join(f"{name}: {points[-1][1]:.1f} in {points[-1][0]}" for name, points in shown.items() if points)
    more = f" {len(curves) - len(shown)} further sites are in the table only." if len(shown) < len(curves) else ""
    return d.Figure(
        drawing,
        f"Rarefaction after Hurlbert 1971 ({unit}); compare sites at one sample size only.{more}",
        f"Rarefaction curves. Motifs at full sample: {ends}.",
    )


def tree_drawing(found: SiteTree) -> d.Figure:
    """Average-linkage tree of the sites on 200 minus the Brainerd-Robinson similarity."""
    plan = dendrogram(found.merges, no_plot=True, labels=list(found.sites))
    step, left = 6 * mm, 45 * mm
    height = step * len(found.sites) + 12 * mm
    drawing = d.new_drawing(d.GRAPH_WIDTH, height)
    right, most = d.GRAPH_WIDTH - 6 * mm, max(float(found.merges[:, 2].max()), 1e-9)
    for xs, ys in zip(plan["icoord"], plan["dcoord"], strict=True):
        line = [(left + (right - left) * y / most, 10 * mm + step * x / 10) for x, y in zip(xs, ys, strict=True)]
        d.stroke(drawing, line)
    for i, name in enumerate(plan["ivl"]):
        d.label(drawing, left - 4, 10 * mm + step * (i + 0.5) - 2.5, d.fitted(str(name), left - 8), anchor="end")
    for part in (0.0, 0.5, 1.0):
        d.label(
            drawing,
            left + (right - left) * part,
            3 * mm,
            f"{200 - most * part:.0f}",
            anchor="middle",
            fillColor=d.QUIET,
        )
    fit = "" if found.cophenetic is None else f" Cophenetic correlation {found.cophenetic:.2f}."
    return d.Figure(
        drawing,
        f"Cluster tree, average linkage; the axis is Brainerd-Robinson similarity ({found.unit}).{fit}",
        f"Tree of sites in the order {', '.join(found.leaf_order)}.",
    )


def _two_axes(coordinates: np.ndarray) -> np.ndarray:
    padded = np.zeros((len(coordinates), 2))
    padded[:, : min(2, coordinates.shape[1])] = coordinates[:, :2]
    return padded


class _fit:  # noqa: N801 - used like a function
    """Carries points into a box of the drawing; with is_square a unit is as long across as up."""

    def __init__(self, points: np.ndarray, across: Span, up: Span, *, is_square: bool = True) -> None:
        low, high = (points.min(axis=0), points.max(axis=0)) if len(points) else (np.zeros(2), np.ones(2))
        spans = np.maximum(high - low, 1e-9)
        room = np.array([across[1] - across[0], up[1] - up[0]])
        scales = room / spans
        self.scale = np.full(2, scales.min()) if is_square else scales
        self.middle, self.at = (low + high) / 2, np.array([sum(across) / 2, sum(up) / 2])
        if not (high - low).any():
            self.scale = np.ones(2)

    def __call__(self, point: np.ndarray) -> tuple[float, float]:
        x, y = self.at + (np.asarray(point) - self.middle) * self.scale
        return float(x), float(y)


Taken = list[tuple[float, float, float, float]]


def _beside(drawing: Drawing, x: float, y: float, text: str, taken: Taken, *, colour: Color = d.INK) -> None:
    """A name beside its mark, where it lies on no other name; boxes that are taken are left, bottom, right, top."""
    text = d.fitted(text, 120)
    wide = d.text_width(text)
    spots = [
        (x + 6 if to_right else x - 6 - wide, y - 2.5 + up)
        for up in (0, 7, -7, 13, -13, 20, -20, 28, -28)
        for to_right in (True, False)
    ]
    free = [spot for spot in spots if not _is_taken(spot, wide, taken)]
    at_x, at_y = free[0] if free else spots[0]
    if abs(at_y + 2.5 - y) > 8:
        d.stroke(drawing, [(x, y), (at_x if at_x > x else at_x + wide, at_y + 2.5)], colour=d.FAINT, width=0.4)
    taken.append((at_x, at_y - 1, at_x + wide, at_y + 7))
    d.label(drawing, at_x, at_y, text, fillColor=colour)


def _is_taken(spot: tuple[float, float], wide: float, taken: Taken) -> bool:
    x, y = spot
    return any(x < right and left < x + wide and y - 1 < top and bottom < y + 7 for left, bottom, right, top in taken)


def _slanted(drawing: Drawing, x: float, y: float, text: str) -> None:
    """A name over a column, rising to the right."""
    name = String(0, 0, text, fontName=d.FACE, fontSize=d.SMALL, fillColor=d.INK)
    cos, sin = math.cos(math.radians(55)), math.sin(math.radians(55))
    drawing.add(Group(name, transform=(cos, sin, -sin, cos, x, y)))


def _frame(drawing: Drawing, across: Span, up: Span, most_x: float, most_y: float, x_name: str, y_name: str) -> None:
    """Axes with their largest value and half of it."""
    d.stroke(drawing, [(across[0], up[1]), (across[0], up[0]), (across[1], up[0])])
    for part in (0.0, 0.5, 1.0):
        d.label(drawing, across[0] + (across[1] - across[0]) * part, up[0] - 10, f"{most_x * part:g}", anchor="middle")
        d.label(drawing, across[0] - 4, up[0] + (up[1] - up[0]) * part - 2.5, f"{most_y * part:.3g}", anchor="end")
    d.label(drawing, sum(across) / 2, up[0] - 22, x_name, anchor="middle", fillColor=d.QUIET)
    d.label(drawing, across[0] + 4, up[1] - 4, y_name, fillColor=d.QUIET)
