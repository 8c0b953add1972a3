"""Motifs that run along a band: meanders, waves, zigzags, steps, triangles, cables.

Each function draws one cell: x in 0..aspect, y in 0..1 downwards, for a style of four numbers in -1..1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from motifs.practice.marks import Fill, Mark, Marks, Stroke, arc, dot, hatch, line, points, ring, spiral, stroke

if TYPE_CHECKING:
    from collections.abc import Callable

    from motifs.practice.arrays import FloatArray


def zigzag(s: FloatArray, lines: int = 1, spread: float = 0.16, peaks: int = 1) -> Marks:
    """Zigzag of one or more parallel lines."""
    room = 0.9 - spread * (lines - 1)
    top = 0.05 + 0.03 * s[0]
    xs = np.linspace(0.0, 1.0, 2 * peaks + 1)
    ys = np.where(np.arange(2 * peaks + 1) % 2 == 0, top + room, top)
    return tuple(Stroke(np.stack([xs, ys + k * spread * (1 + 0.15 * s[2])], axis=1)) for k in range(lines))


def wave(s: FloatArray, lines: int = 1, spread: float = 0.18, cycles: int = 1) -> Marks:
    """Wavy line of one or more parallel lines."""
    x = np.linspace(0.0, 1.0, 24 * cycles + 1)
    room = 0.9 - spread * (lines - 1)
    swing = np.sin(2 * np.pi * cycles * x + 0.6 * s[1])
    swing = np.sign(swing) * np.abs(swing) ** (1.0 - 0.25 * s[3])
    y = 0.05 + room / 2 + room / 2 * (0.92 + 0.06 * s[0]) * swing
    return tuple(Stroke(np.stack([x, y + k * spread], axis=1)) for k in range(lines))


def meander(s: FloatArray, turns: int = 1) -> Marks:
    """Square key meander with one or more turns inward."""
    n = turns
    step = 0.8 / (2 * n + 1)
    corners = [(0.0, 0.9)]
    left, right, top, bottom = 0.08 + 0.03 * s[0], 0.9, 0.1, 0.9
    for _ in range(n):
        corners += [(left, bottom), (left, top), (right, top), (right, bottom - step)]
        left, right, top, bottom = left + step, right - step, top + step, bottom - step
        corners += [(left, bottom)]
    mid = corners[-1]
    corners += [(mid[0], max(mid[1] - step * 0.9, top + 0.02))]
    path = points(*corners)
    tail = stroke((0.9, 0.9), (1.0, 0.9))
    return (Stroke(path), tail, stroke((0.08 + 0.03 * s[0], 0.9), (0.9, 0.9), weight=0.8))


def battlement(s: FloatArray, lines: int = 1, slant: float = 0.0) -> Marks:
    """Crenellated line; a slant leans its uprights."""
    lean = slant + 0.05 * s[1]
    out: list[Mark] = []
    for k in range(lines):
        inset = 0.13 * k
        low, high = 0.92 - inset, 0.08 + inset
        a, b = 0.22 - inset * 0.5, 0.78 + inset * 0.5
        out.append(stroke((0, low), (a, low), (a + lean, high), (b + lean, high), (b, low), (1, low)))
    return tuple(out)


def steps(s: FloatArray, treads: int = 3, filled: bool = False) -> Marks:
    """Stair rising across the cell, as a line or a solid."""
    n = treads
    corners: list[tuple[float, float]] = [(0.05, 0.95)]
    for k in range(n):
        y = 0.95 - 0.9 * (k + 1) / n
        corners += [(0.05 + 0.9 * k / n, y), (0.05 + 0.9 * (k + 1) / n, y)]
    if filled:
        return (Fill((points(*corners, (0.95, 0.95)),)),)
    return (stroke(*corners, (0.95 - 0.04 * abs(s[0]), 0.95)),)


def stepped_fret(s: FloatArray, treads: int = 3, filled: bool = True) -> Marks:
    """Stair that ends in a hooked fret."""
    hook = stroke(
        (0.95, 0.08), (1.55, 0.08), (1.55, 0.72), (1.15, 0.72), (1.15, 0.34 + 0.05 * s[0]), (1.35, 0.34), weight=1.3
    )
    return (*steps(s, treads, filled), hook)


def triangles(s: FloatArray, kind: str = "solid", lean: float = 0.5, lines: int = 6, angle_deg: float = 60.0) -> Marks:
    """Triangle on a base line: solid, outline, hatched, crossed, dotted or nested."""
    apex = lean + 0.06 * s[1]
    corners = points((0.04, 0.95), (0.96, 0.95), (apex, 0.06))
    outline = Stroke(np.concatenate([corners, corners[:1]]))
    if kind == "solid":
        return (Fill((corners,)),)
    if kind == "nested":
        middle = corners.mean(axis=0)
        return tuple(Stroke(middle + (outline.points - middle) * f) for f in (1.0, 0.68, 0.36))
    if kind == "dotted":
        spots = [(x, y) for y in np.arange(0.34, 0.9, 0.17) for x in np.arange(0.1, 0.95, 0.17)]
        return (outline, *(dot(x, y, 0.045) for x, y in spots if abs(x - apex) < 0.42 * (y - 0.12)))
    angles = {"hatched": (angle_deg + 8 * s[2],), "crossed": (45 + 6 * s[2], -45 + 6 * s[2])}.get(kind, ())
    hatching = [one for angle in angles for one in hatch([corners], 0.78 / lines, float(angle))]
    return (outline, *(Stroke(one, 0.75) for one in hatching))


def lozenges(s: FloatArray, kind: str = "outline", lines: int = 6) -> Marks:
    """Lozenge: outline, solid, hatched, crossed, nested, eyed, quartered or pierced."""
    wide = 0.46 + 0.03 * s[0]
    corners = points((0.5 - wide, 0.5), (0.5, 0.04), (0.5 + wide, 0.5), (0.5, 0.96))
    outline = Stroke(np.concatenate([corners, corners[:1]]))
    if kind == "solid":
        return (Fill((corners,)),)
    if kind == "pierced":
        return (Fill((corners, 0.5 + (corners - 0.5) * 0.5)),)
    if kind == "nested":
        return tuple(Stroke(0.5 + (outline.points - 0.5) * f) for f in (1.0, 0.66, 0.33))
    return (outline, *_lozenge_filling(s, kind, corners, lines))


def _lozenge_filling(s: FloatArray, kind: str, corners: FloatArray, lines: int) -> Marks:
    """Return what stands inside a lozenge's outline; nothing for a plain one."""
    middle = points((0.5, 0.5))
    angles = {"hatched": (40 + 10 * s[1],), "crossed": (45 + 5 * s[1], -45 + 5 * s[1])}
    filling: dict[str, Marks] = {
        "eyed": (dot(0.5, 0.5, 0.1 + 0.02 * s[2]),),
        "quartered": tuple(Fill((np.concatenate([middle, corners[k : k + 2]]),)) for k in (0, 2)),
    }
    hatching = [one for angle in angles.get(kind, ()) for one in hatch([corners], 0.85 / lines, float(angle))]
    return (*filling.get(kind, ()), *(Stroke(one, 0.75) for one in hatching))


def chevrons(s: FloatArray, lines: int = 3, thick: bool = False) -> Marks:
    """Nested chevrons; thick ones are solid."""
    out: list[Mark] = []
    for k in range(lines):
        t = k / max(lines, 1)
        rise = 0.38 + 0.06 * s[0]
        path = points((0.04, 0.55 + rise + t * 0.0), (0.5, 0.08), (0.96, 0.55 + rise)) * [1, 0.55] + [
            0,
            0.42 * t + 0.02,
        ]
        if thick:
            low = path + np.array([0, 0.42 / lines * 0.5])
            path = np.concatenate([path, low[::-1]])
        out.append(Fill((path,)) if thick else Stroke(path))
    return tuple(out)


def running_spiral(s: FloatArray, turns: float = 1.5, double: bool = False, eye: bool = False) -> Marks:
    """Spiral with a line that runs on into the next cell."""
    start = 90.0
    coil = spiral(0.5, 0.5, 0.07, 0.42, start - 360 * turns + 20 * s[1], turns)
    out: list[Mark] = [
        Stroke(np.concatenate([coil, points((0.75, 0.93), (1.0, 0.9))])),
        stroke((0.0, 0.9), (0.2, 0.86), (0.36, 0.7)),
    ]
    if double:
        out.append(Stroke(spiral(0.5, 0.5, 0.05, 0.3, start + 180 - 360 * turns, turns)))
    if eye:
        out.append(dot(0.5, 0.5, 0.07))
    return tuple(out)


def interlocked_spirals(s: FloatArray, turns: float = 1.25) -> Marks:
    """Two spirals joined by one S line."""
    left = spiral(0.45, 0.45, 0.06, 0.36, 90 - 360 * turns, turns)
    right = spiral(1.15, 0.55, 0.06, 0.36, 270 - 360 * turns, turns)
    return (Stroke(np.concatenate([left, right[::-1]])), dot(0.8, 0.12 + 0.03 * s[0], 0.04), dot(0.8, 0.88, 0.04))


def guilloche(s: FloatArray, strands: int = 2, eye: bool = True) -> Marks:
    """Cable of crossing strands, with or without eyes."""
    x = np.linspace(0.0, 1.0, 25)
    swing = 0.4 + 0.04 * s[0]
    out: list[Mark] = []
    for k in range(strands):
        out.append(Stroke(np.stack([x, 0.5 + swing * np.sin(2 * np.pi * (x + k / strands))], axis=1)))
    if eye:
        out += [dot(0.25, 0.5, 0.07), dot(0.75, 0.5, 0.07)]
    return tuple(out)


def scallops(s: FloatArray, lines: int = 2, hanging: bool = True, dotted: bool = False) -> Marks:
    """Row of nested arcs, hanging or standing."""
    out: list[Mark] = []
    for k in range(lines):
        radius = 0.48 * (1 - k / (lines + 0.6))
        squash = 1.75 + 0.12 * s[0]
        path = arc(0.5, 0.06, radius, 0, 180, squash) if hanging else arc(0.5, 0.94, radius, 180, 360, squash)
        out.append(Stroke(path))
    if dotted:
        out.append(dot(0.5, 0.12 if hanging else 0.88, 0.06))
    return tuple(out)


def running_hooks(s: FloatArray, filled: bool = True) -> Marks:
    """Row of breaking waves."""
    crest = spiral(0.55, 0.45, 0.08, 0.34, 200 - 360, 0.9)
    body = np.concatenate(
        [
            points((0.0, 0.95), (0.12, 0.8)),
            crest[::-1][4:],
            points((0.7, 0.62), (0.78 + 0.04 * s[1], 0.85), (1.0, 0.95)),
        ]
    )
    return (Fill((body,)),) if filled else (Stroke(body),)


def tongues(s: FloatArray, kind: str = "outline") -> Marks:
    """Row of hanging tongues: outline, double or filled."""
    depth = 0.62 + 0.06 * s[0]
    path = np.concatenate(
        [
            points((0.12, 0.04), (0.12, depth)),
            arc(0.5, depth, 0.38, 180, 0, 0.75)[1:-1],
            points((0.88, depth), (0.88, 0.04)),
        ]
    )
    path = path * [0.6, 1.0]
    if kind == "filled":
        return (Fill((path,)),)
    if kind == "double":
        return (Stroke(path), Stroke(points((0.3, 0)) + (path - points((0.3, 0))) * [0.55, 0.7]))
    return (Stroke(path),)


def slashes(s: FloatArray, count: int = 4, angle_deg: float = 60.0, opposed: bool = False) -> Marks:
    """Group of slanting lines; opposed groups lean the other way in the second half."""
    lean = 0.5 / np.tan(np.radians(angle_deg + 6 * s[1]))
    xs = (np.arange(count) + 0.5) / count
    out = [line(x + lean, 0.06, x - lean, 0.94) for x in xs]
    if opposed:
        out += [line(1 + x - lean, 0.06, 1 + x + lean, 0.94) for x in xs]
    return tuple(out)


def ladder(s: FloatArray, rungs: int = 4, rails: int = 2) -> Marks:
    """Rails with rungs between them."""
    levels = np.linspace(0.2 + 0.04 * s[0], 0.8 - 0.04 * s[0], rails)
    out: list[Mark] = [line(0.0, float(y), 1.0, float(y)) for y in levels]
    out += [
        line((k + 0.5) / rungs, float(levels[0]), (k + 0.5) / rungs + 0.05 * s[1], float(levels[-1]), 0.8)
        for k in range(rungs)
    ]
    return tuple(out)


def joined_rings(s: FloatArray, lines: int = 1, join: str = "tangent", eye: bool = False) -> Marks:
    """Circles joined by slanting tangents or level bars."""
    radius = 0.36 + 0.03 * s[0]
    out: list[Mark] = [ring(0.6, 0.5, radius * (1 - 0.4 * k)) for k in range(lines)]
    if join == "tangent":
        out.append(stroke((0.6 + 0.2, 0.5 - radius * 0.9), (1.2 + 0.2, 0.5 + radius * 0.9)))
    else:
        out.append(line(0.6 + radius, 0.5, 1.2 + 0.6 - radius, 0.5))
    if eye:
        out.append(dot(0.6, 0.5, 0.07))
    return tuple(out)


VARIANTS: list[tuple[str, float, Callable[..., Marks], dict[str, Any]]] = [
    ("zigzag-single", 1.0, zigzag, {}),
    ("zigzag-double", 1.0, zigzag, {"lines": 2, "spread": 0.2}),
    ("zigzag-fine", 1.0, zigzag, {"peaks": 3}),
    ("wave-single", 1.0, wave, {}),
    ("wave-double", 1.0, wave, {"lines": 2}),
    ("wave-four", 1.0, wave, {"lines": 4, "spread": 0.14}),
    ("wave-ripple", 1.0, wave, {"lines": 2, "spread": 0.4, "cycles": 3}),
    ("meander-one-turn", 1.0, meander, {}),
    ("meander-two-turns", 1.0, meander, {"turns": 2}),
    ("battlement-single", 1.0, battlement, {}),
    ("battlement-double", 1.0, battlement, {"lines": 2}),
    ("battlement-leaning", 1.0, battlement, {"slant": 0.2}),
    ("steps-line", 1.0, steps, {}),
    ("steps-solid", 1.0, steps, {"filled": True}),
    ("steps-fine-solid", 1.0, steps, {"treads": 5, "filled": True}),
    ("fret-stepped-solid", 1.65, stepped_fret, {}),
    ("fret-stepped-line", 1.65, stepped_fret, {"filled": False}),
    ("fret-stepped-high", 1.65, stepped_fret, {"treads": 5}),
    *(
        (f"triangle-{kind}", 1.0, triangles, {"kind": kind})
        for kind in ("solid", "outline", "hatched", "crossed", "dotted", "nested")
    ),
    *(
        (f"sawtooth-{kind}", 1.0, triangles, {"kind": kind, "lean": 0.88})
        for kind in ("solid", "outline", "hatched", "nested")
    ),
    *(
        (f"lozenge-{kind}", 1.0, lozenges, {"kind": kind})
        for kind in ("outline", "solid", "pierced", "hatched", "crossed", "nested", "eyed", "quartered")
    ),
    ("chevrons-two", 1.0, chevrons, {"lines": 2}),
    ("chevrons-five", 1.0, chevrons, {"lines": 5}),
    ("chevrons-thick", 1.0, chevrons, {"lines": 2, "thick": True}),
    ("spiral-running", 1.0, running_spiral, {}),
    ("spiral-running-long", 1.0, running_spiral, {"turns": 2.5}),
    ("spiral-running-double", 1.0, running_spiral, {"double": True}),
    ("spiral-running-eyed", 1.0, running_spiral, {"turns": 1.0, "eye": True}),
    ("spirals-interlocked", 1.6, interlocked_spirals, {}),
    ("spirals-interlocked-long", 1.6, interlocked_spirals, {"turns": 2.0}),
    ("cable-two-eyed", 1.0, guilloche, {}),
    ("cable-two", 1.0, guilloche, {"eye": False}),
    ("cable-three", 1.0, guilloche, {"strands": 3, "eye": False}),
    ("cable-four", 1.0, guilloche, {"strands": 4, "eye": False}),
    ("scallops-hanging", 1.0, scallops, {}),
    ("scallops-hanging-four", 1.0, scallops, {"lines": 4}),
    ("scallops-standing", 1.0, scallops, {"hanging": False}),
    ("scallops-dotted", 1.0, scallops, {"lines": 1, "dotted": True}),
    ("hooks-running", 1.0, running_hooks, {}),
    ("hooks-running-line", 1.0, running_hooks, {"filled": False}),
    ("tongues-outline", 0.6, tongues, {}),
    ("tongues-double", 0.6, tongues, {"kind": "double"}),
    ("tongues-filled", 0.6, tongues, {"kind": "filled"}),
    ("slashes-four", 1.0, slashes, {}),
    ("slashes-steep", 1.0, slashes, {"count": 6, "angle_deg": 85.0}),
    ("slashes-opposed", 2.0, slashes, {"opposed": True}),
    ("ladder-four", 1.0, ladder, {}),
    ("ladder-dense", 1.0, ladder, {"rungs": 8}),
    ("ladder-three-rails", 1.0, ladder, {"rungs": 5, "rails": 3}),
    ("rings-tangent", 1.2, joined_rings, {"lines": 2}),
    ("rings-tangent-eyed", 1.2, joined_rings, {"eye": True}),
    ("rings-barred", 1.2, joined_rings, {"join": "bar", "lines": 2}),
    ("rings-barred-eyed", 1.2, joined_rings, {"join": "bar", "eye": True}),
]
