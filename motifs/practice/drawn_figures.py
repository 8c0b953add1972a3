"""Motifs that stand alone: rayed discs, rosettes, crosses, scrolls, plants, animals reduced to a few lines.

Each function draws one cell: x in 0..aspect, y in 0..1 downwards, for a style of four numbers in -1..1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from motifs.practice.arrays import FloatArray
from motifs.practice.marks import Fill, Mark, Marks, Stroke, arc, dot, line, points, ring, spiral, stroke

if TYPE_CHECKING:
    from collections.abc import Callable


def concentric(s: FloatArray, rings_count: int = 3, eye: bool = True) -> Marks:
    """Concentric circles."""
    out: list[Mark] = [ring(0.5, 0.5, (0.44 + 0.02 * s[0]) * (k + 1) / rings_count) for k in range(rings_count)]
    return (*out, dot(0.5, 0.5, 0.05)) if eye else tuple(out)


def rayed_disc(s: FloatArray, rays: int = 12, kind: str = "line", solid: bool = False) -> Marks:
    """Disc with rays: lines, triangles or dots."""
    radius = 0.22 + 0.03 * s[0]
    out: list[Mark] = [dot(0.5, 0.5, radius) if solid else ring(0.5, 0.5, radius)]
    for angle in np.linspace(0, 2 * np.pi, rays, endpoint=False) + 0.15 * s[1]:
        way, across = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
        if kind == "line":
            out.append(Stroke(np.stack([0.5 + way * (radius + 0.05), 0.5 + way * 0.46]), 0.9))
        elif kind == "dot":
            out.append(dot(*(0.5 + way * 0.41), 0.05))
        else:
            half = np.pi / rays * 0.7 * radius
            out.append(Fill((np.stack([0.5 + way * radius + across * half, 0.5 + way * 0.47, 0.5 + way * radius - across * half]),)))
    return tuple(out)


def rosette(s: FloatArray, petals: int = 6, filled: bool = True) -> Marks:
    """Flower of pointed petals."""
    out: list[Mark] = []
    fat = 0.5 + 0.12 * s[0]
    for angle in np.linspace(0, 2 * np.pi, petals, endpoint=False) + 0.1 * s[1]:
        t = np.linspace(0, 1, 9)
        half = np.sin(np.pi * t) * 0.42 * np.sin(np.pi / petals) * fat
        right = np.stack([0.06 + 0.4 * t, half], axis=1)
        leaf = np.concatenate([right, (right * [1, -1])[::-1]])
        turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        leaf = leaf @ turn + 0.5
        out.append(Fill((leaf,)) if filled else Stroke(np.concatenate([leaf, leaf[:1]])))
    return tuple(out)


def scroll(s: FloatArray, turns: float = 1.75, arms: int = 1, leaf: bool = False) -> Marks:
    """Coil with one or more arms, with or without a leaf at its tail."""
    out: list[Mark] = []
    for k in range(arms):
        out.append(Stroke(spiral(0.5, 0.5, 0.04, 0.43 + 0.02 * s[0], 360 * k / arms + 25 * s[1], turns)))
    if leaf:
        end = 0.5 + 0.43 * np.array([np.cos(np.radians(360 * turns)), np.sin(np.radians(360 * turns))])
        out.append(Fill((points(end, end + [0.16, 0.06], end + [0.2, 0.2], end + [0.04, 0.14]),)))
    return tuple(out)


def cross(s: FloatArray, kind: str = "plain") -> Marks:
    """Cross: plain, double, barred, hooked or quartered by dots."""
    slope = 0.05 * s[1]
    out: list[Mark] = [line(0.5 - slope, 0.06, 0.5 + slope, 0.94), line(0.06, 0.5, 0.94, 0.5)]
    if kind == "double":
        out += [line(0.36, 0.1, 0.36, 0.9), line(0.64, 0.1, 0.64, 0.9), line(0.1, 0.36, 0.9, 0.36), line(0.1, 0.64, 0.9, 0.64)]
        out = out[2:]
    elif kind == "barred":
        for a, b in ((0.06, 0.3), (0.94, 0.3)):
            out += [line(0.5 - b / 2, a, 0.5 + b / 2, a), line(a, 0.5 - b / 2, a, 0.5 + b / 2)]
    elif kind == "dotted":
        out += [dot(x, y, 0.06 + 0.01 * s[0]) for x in (0.25, 0.75) for y in (0.25, 0.75)]
    elif kind == "saltire":
        out = [line(0.1, 0.1, 0.9, 0.9), line(0.9, 0.1, 0.1, 0.9), dot(0.5, 0.2, 0.05), dot(0.5, 0.8, 0.05)]
    return tuple(out)


def branch(s: FloatArray, leaves: int = 4, kind: str = "line", lean: float = 0.18) -> Marks:
    """Upright stem with leaves on both sides: lines, arcs or solid leaves."""
    out: list[Mark] = [stroke((0.4, 0.97), (0.4 + 0.03 * s[1], 0.04))]
    for y in np.linspace(0.25, 0.9, leaves):
        for side in (-1, 1):
            tip = (0.4 + side * (0.32 + 0.04 * s[0]), y - lean)
            if kind == "line":
                out.append(line(0.4, y, *tip))
            elif kind == "arc":
                out.append(stroke((0.4, y), (0.4 + side * 0.2, y - 0.02), (tip[0], tip[1] - 0.05)))
            else:
                mid = (0.4 + side * 0.18, y - lean * 0.2)
                out.append(Fill((points((0.4, y), mid, tip, (0.4 + side * 0.12, y - lean * 0.8)),)))
    return tuple(out)


def wading_bird(s: FloatArray, solid: bool = True) -> Marks:
    """Long-legged bird of a few strokes."""
    body = arc(0.5, 0.45, 0.24, 0, 330, 0.55)
    neck = stroke((0.7, 0.4), (0.82, 0.25), (0.76, 0.1 + 0.02 * s[0]), (0.96, 0.14))
    legs = (stroke((0.42, 0.57), (0.38 + 0.03 * s[1], 0.94), (0.5, 0.95)), stroke((0.56, 0.57), (0.6, 0.94), (0.72, 0.95)))
    return (Fill((body,)) if solid else Stroke(body), neck, *legs, stroke((0.27, 0.45), (0.08, 0.36)))


def fish(s: FloatArray, scales: bool = True) -> Marks:
    """Fish: two arcs, a tail, an eye."""
    x = np.linspace(0.1, 1.1, 15)
    bow = 0.3 * np.sin(np.pi * (x - 0.1) / 1.0) * (1 + 0.1 * s[0])
    upper, lower = np.stack([x, 0.5 - bow], axis=1), np.stack([x, 0.5 + bow], axis=1)
    out: list[Mark] = [Stroke(upper), Stroke(lower), stroke((1.1, 0.5), (1.36, 0.25), (1.28, 0.5), (1.36, 0.75), (1.1, 0.5)), dot(0.3, 0.44, 0.05)]
    if scales:
        out += [Stroke(arc(a, 0.5, 0.16, -70, 70)) for a in (0.42, 0.6, 0.78)]
    return tuple(out)


VARIANTS: list[tuple[str, float, Callable[..., Marks], dict[str, Any]]] = [
    ("circles-three-eyed", 1.0, concentric, {}),
    ("disc-rays-twelve", 1.0, rayed_disc, {}),
    ("disc-points-eight", 1.0, rayed_disc, {"rays": 8, "kind": "triangle", "solid": True}),
    ("rosette-six-solid", 1.0, rosette, {}),
    ("scroll-one", 1.0, scroll, {}),
    ("scroll-three-arms", 1.0, scroll, {"arms": 3, "turns": 0.9}),
    ("cross-dotted", 1.0, cross, {"kind": "dotted"}),
    ("branch-lines", 0.8, branch, {}),
    ("bird-solid", 1.05, wading_bird, {}),
    ("fish-scaled", 1.45, fish, {}),
]
