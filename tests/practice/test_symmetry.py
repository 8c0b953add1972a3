"""The layouts must have the symmetry that they claim.

Predicates of the seven band groups: Washburn & Crowe 1988, ch. 4 (question order as in H. Burgiel's class notes);
plane groups: the same, ch. 5. Cost of orbifold symbols: Conway, Burgiel & Goodman-Strauss 2008 (from memory).
"""

from fractions import Fraction

import numpy as np
import pytest

from motifs.practice.marks import Dot, dot
from motifs.practice.symmetry import BAND_GROUPS, PLANE_GROUPS, band_cell, band_copies, plane_cell

# Seven dots without any symmetry of their own, off the middle of a square cell.
LOPSIDED = tuple(dot(x / 10, y / 10, 0.02) for x, y in ((2, 1), (3, 1), (4, 1), (2, 2), (2, 3), (3, 3), (2, 4)))

PREDICATES = {  # V, H, R, G (glide without H)
    "p111": (0, 0, 0, 0),
    "p1a1": (0, 0, 0, 1),
    "p1m1": (0, 1, 0, 0),
    "pm11": (1, 0, 0, 0),
    "p112": (0, 0, 1, 0),
    "pma2": (1, 0, 1, 1),
    "pmm2": (1, 1, 1, 0),
}


def centres(marks):
    assert all(isinstance(mark, Dot) for mark in marks)
    return np.array([mark.centre for mark in marks])


def same_pattern(a, b, width, height=None):
    """Compare two sets of points on a strip of the given period (or a torus)."""
    period = np.array([width, height or 1e9])
    apart = np.abs(a[:, None] - b[None])
    apart = np.minimum(apart, np.abs(period - apart))
    return bool((apart.max(axis=2).min(axis=1) < 1e-6).all())


def has(points, width, sx, sy, shifts):
    """Say whether a strip maps onto itself by signs of x and y and one of the shifts in x."""
    moved = points * [sx, sy] + [0, 0 if sy > 0 else 1]
    return any(
        same_pattern((moved + np.array([shift, 0])) % [width, 1e9], points % [width, 1e9], width) for shift in shifts
    )


@pytest.mark.parametrize("symbol", list(BAND_GROUPS))
def test_band_groups_have_their_symmetry_and_no_more(symbol):
    marks, width = band_cell(LOPSIDED, 1.0, symbol)
    points = centres(marks)
    anywhere = [k * width / 40 for k in range(40)]
    v = has(points, width, -1, 1, anywhere)
    h = has(points, width, 1, -1, [0.0])
    r = has(points, width, -1, -1, anywhere)
    g = not h and has(points, width, 1, -1, [width / 2])
    assert (v, h, r, g) == tuple(map(bool, PREDICATES[symbol]))
    # Seven dots give 7, 14 or 28 a cell: one copy for each element of the group's point part.
    assert len(points) == 7 * BAND_GROUPS[symbol].copies == 7 * len(band_copies(symbol, 1.0))
    assert len(np.unique(points.round(6), axis=0)) == len(points)
    assert points.min() >= 0
    assert (points.max(axis=0) <= [width, 1.0]).all()


@pytest.mark.parametrize("symbol", list(PLANE_GROUPS))
def test_plane_groups_map_onto_themselves(symbol):
    marks, width = plane_cell(LOPSIDED, 1.0, symbol)
    points = centres(marks)
    assert len(np.unique(points.round(6), axis=0)) == 7 * len(PLANE_GROUPS[symbol].copies)
    for sx, sy, tx, ty in PLANE_GROUPS[symbol].copies:
        moved = points * [sx, sy] + [tx * width, ty]
        assert same_pattern(moved % [width, 1.0], points % [width, 1.0], width, 1.0)


# Highest rotation, any mirror, any glide whose axis is not a mirror: Washburn & Crowe 1988, flow chart of ch. 5.
PLANE_PREDICATES = {
    "p1": (1, False),
    "p2": (2, False),
    "pm": (1, True),
    "pg": (1, False),
    "cm": (1, True),
    "pmm": (2, True),
    "pmg": (2, True),
    "pgg": (2, False),
    "cmm": (2, True),
}


@pytest.mark.parametrize("symbol", list(PLANE_GROUPS))
def test_plane_groups_have_no_more_than_they_claim(symbol):
    marks, width = plane_cell(LOPSIDED, 1.0, symbol)
    points = centres(marks)

    def found(sx, sy, straight):
        moved = points * [sx, sy]
        # A mirror leaves the coordinate along its axis alone; any other shift along it would be a glide.
        for other in points:
            shift = other - moved[0]
            if straight and abs(shift[0 if sx > 0 else 1]) > 1e-6:
                continue
            if same_pattern((moved + shift) % [width, 1.0], points % [width, 1.0], width, 1.0):
                return True
        return False

    rotation = 2 if found(-1, -1, False) else 1
    mirror = found(-1, 1, True) or found(1, -1, True)
    assert (rotation, mirror) == PLANE_PREDICATES[symbol]


def cost(orbifold):
    total, after = Fraction(0), False
    for sign in orbifold:
        if sign == "o":
            total += 2
        elif sign == "*":
            total, after = total + 1, True
        elif sign == "×":
            total += 1
        else:
            gain = Fraction(1) if sign == "∞" else Fraction(int(sign) - 1, int(sign))
            total += gain / 2 if after else gain
    return total


@pytest.mark.parametrize("group", [*BAND_GROUPS.values(), *PLANE_GROUPS.values()], ids=lambda group: group.symbol)
def test_orbifold_symbols_cost_two(group):
    assert cost(group.orbifold) == 2
