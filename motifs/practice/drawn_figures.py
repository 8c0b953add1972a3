"""Motifs that stand alone: rayed discs, rosettes, crosses, scrolls, plants, animals reduced to a few lines.

Each function draws one cell: x in 0..aspect, y in 0..1 downwards, for a style of four numbers in -1..1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from motifs.practice.marks import Fill, Mark, Marks, Stroke, arc, dot, dot_at, hatch, line, points, ring, spiral, stroke

if TYPE_CHECKING:
    from collections.abc import Callable

    from motifs.practice.arrays import FloatArray


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
            out.append(dot_at(0.5 + way * 0.41, 0.05))
        else:
            half = np.pi / rays * 0.7 * radius
            out.append(
                Fill(
                    (
                        np.stack(
                            [0.5 + way * radius + across * half, 0.5 + way * 0.47, 0.5 + way * radius - across * half]
                        ),
                    )
                )
            )
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
        out.append(Fill((end + points((0, 0), (0.16, 0.06), (0.2, 0.2), (0.04, 0.14)),)))
    return tuple(out)


def cross(s: FloatArray, kind: str = "plain") -> Marks:
    """Cross: plain, double, barred, hooked or quartered by dots."""
    slope = 0.05 * s[1]
    out: list[Mark] = [line(0.5 - slope, 0.06, 0.5 + slope, 0.94), line(0.06, 0.5, 0.94, 0.5)]
    if kind == "double":
        out += [
            line(0.36, 0.1, 0.36, 0.9),
            line(0.64, 0.1, 0.64, 0.9),
            line(0.1, 0.36, 0.9, 0.36),
            line(0.1, 0.64, 0.9, 0.64),
        ]
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
    legs = (
        stroke((0.42, 0.57), (0.38 + 0.03 * s[1], 0.94), (0.5, 0.95)),
        stroke((0.56, 0.57), (0.6, 0.94), (0.72, 0.95)),
    )
    return (Fill((body,)) if solid else Stroke(body), neck, *legs, stroke((0.27, 0.45), (0.08, 0.36)))


def fish(s: FloatArray, scales: bool = True) -> Marks:
    """Fish: two arcs, a tail, an eye."""
    x = np.linspace(0.1, 1.1, 15)
    bow = 0.3 * np.sin(np.pi * (x - 0.1) / 1.0) * (1 + 0.1 * s[0])
    upper, lower = np.stack([x, 0.5 - bow], axis=1), np.stack([x, 0.5 + bow], axis=1)
    out: list[Mark] = [
        Stroke(upper),
        Stroke(lower),
        stroke((1.1, 0.5), (1.36, 0.25), (1.28, 0.5), (1.36, 0.75), (1.1, 0.5)),
        dot(0.3, 0.44, 0.05),
    ]
    if scales:
        out += [Stroke(arc(a, 0.5, 0.16, -70, 70)) for a in (0.42, 0.6, 0.78)]
    return tuple(out)


def hand_print(s: FloatArray) -> Marks:
    """Open hand: palm and five fingers."""
    out: list[Mark] = [Fill((arc(0.45, 0.7, 0.2, 0, 345, 1.1),))]
    for angle, length in ((-150, 0.26), (-115, 0.42), (-92, 0.46), (-70, 0.43), (-40, 0.3)):
        way = np.array([np.cos(np.radians(angle + 4 * s[1])), np.sin(np.radians(angle + 4 * s[1]))])
        out.append(Stroke(np.stack([[0.45, 0.68] + way * 0.14, [0.45, 0.68] + way * (0.16 + length)]), 1.7))
    return tuple(out)


def quadruped(s: FloatArray, horned: bool = True, solid: bool = True) -> Marks:
    """Four-legged animal of a body, legs, neck and horns."""
    body = points((0.2, 0.45), (0.95, 0.42), (1.0, 0.6), (0.25, 0.64))
    legs = [line(x, 0.6, x + 0.04 * s[1], 0.95) for x in (0.28, 0.38, 0.86, 0.96)]
    out: list[Mark] = [Fill((body,)) if solid else Stroke(np.concatenate([body, body[:1]])), *legs]
    out += [
        stroke((0.97, 0.46), (1.12, 0.28), (1.26, 0.34), weight=1.4),
        stroke((0.2, 0.46), (0.08, 0.56 + 0.05 * s[0])),
    ]
    if horned:
        out.append(Stroke(arc(0.92, 0.27, 0.2, -10, -150, 0.9)))
    return tuple(out)


def standing_figure(s: FloatArray, arms: str = "raised", skirt: bool = False) -> Marks:
    """Human figure of a few strokes."""
    lift = -0.16 if arms == "raised" else 0.14
    out: list[Mark] = [dot(0.4, 0.15, 0.085), line(0.4, 0.22, 0.4, 0.6)]
    out += [
        stroke((0.4, 0.32), (0.24, 0.36), (0.12, 0.36 + lift)),
        stroke((0.4, 0.32), (0.56, 0.36), (0.68, 0.36 + lift)),
    ]
    if skirt:
        out.append(Fill((points((0.4, 0.5), (0.62 + 0.03 * s[0], 0.78), (0.18, 0.78)),)))
    spread = 0.14 + 0.03 * s[0]
    return (*out, line(0.4, 0.6, 0.4 - spread, 0.95), line(0.4, 0.6, 0.4 + spread, 0.95))


def snake(s: FloatArray, bends: int = 3, head: bool = True) -> Marks:
    """Snake: a waved line with a head, drawn double."""
    x = np.linspace(0.08, 1.25, 30)
    y = 0.5 + (0.26 + 0.04 * s[0]) * np.sin(2 * np.pi * bends * (x - 0.08) / 1.17)
    out: list[Mark] = [Stroke(np.stack([x, y], axis=1), 1.4)]
    if head:
        out.append(Fill((points((1.22, y[-1] - 0.1), (1.42, y[-1]), (1.22, y[-1] + 0.1)),)))
    return tuple(out)


def bracketed_square(s: FloatArray, kind: str = "nested") -> Marks:
    """Square: nested, with a saltire, with corner squares, quartered or pierced."""
    size = 0.42 + 0.02 * s[0]
    corners = points((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)) * size
    outline = Stroke(corners + 0.5)
    if kind == "nested":
        return tuple(Stroke(corners * f + 0.5) for f in (1.0, 0.66, 0.33))
    if kind == "saltire":
        return (
            outline,
            line(0.5 - size, 0.5 - size, 0.5 + size, 0.5 + size),
            line(0.5 + size, 0.5 - size, 0.5 - size, 0.5 + size),
        )
    if kind == "corners":
        small = corners[:4] * 0.3
        return (
            outline,
            *(Fill((small + 0.5 + np.array(at) * size * 0.6,)) for at in ((-1, -1), (1, -1), (1, 1), (-1, 1))),
        )
    if kind == "quartered":
        half = corners[:4] * 0.5
        return (outline, Fill((half + 0.5 - size / 2,)), Fill((half + 0.5 + size / 2,)))
    return (Fill((corners[:4] + 0.5, corners[:4] * 0.45 + 0.5)),)


def comb_figure(s: FloatArray, teeth: int = 6, arched: bool = False) -> Marks:
    """Bar with hanging teeth, straight or arched."""
    xs = np.linspace(0.08, 0.92, teeth)
    top = 0.14 + (0.22 * (2 * xs - 1) ** 2 if arched else 0 * xs)
    back = Stroke(np.stack([xs, top], axis=1), 1.3)
    return (back, *(line(float(x), float(y), float(x) + 0.03 * s[1], 0.9) for x, y in zip(xs, top, strict=True)))


def hourglass(s: FloatArray, kind: str = "solid") -> Marks:
    """Two triangles tip to tip, upright or lying: solid, outline or hatched."""
    wide = 0.36 + 0.04 * s[0]
    upper = points((0.4 - wide, 0.06), (0.4 + wide, 0.06), (0.4, 0.5))
    lower = points((0.4 - wide, 0.94), (0.4 + wide, 0.94), (0.4, 0.5))
    if kind == "solid":
        return (Fill((upper,)), Fill((lower,)))
    outlines = tuple(Stroke(np.concatenate([one, one[:1]])) for one in (upper, lower))
    if kind == "outline":
        return outlines
    return (*outlines, *(Stroke(one, 0.8) for part in (upper, lower) for one in hatch([part], 0.11, 0.0 + 8 * s[1])))


def crescent(s: FloatArray, kind: str = "solid") -> Marks:
    """Crescent, horns up: solid, outline or with a star of dots."""
    outer = arc(0.5, 0.42, 0.44, 0, 180, 1.05)
    inner = arc(0.5, 0.36, 0.36 + 0.03 * s[0], 180, 0, 0.8)
    path = np.concatenate([outer, inner])
    body: Mark = Stroke(np.concatenate([path, path[:1]])) if kind == "outline" else Fill((path,))
    return (body, dot(0.5, 0.28, 0.07), dot(0.36, 0.14, 0.04), dot(0.64, 0.14, 0.04)) if kind == "dotted" else (body,)


def mask_face(s: FloatArray, round_face: bool = True) -> Marks:
    """Face with two eyes, a nose and a mouth."""
    box = points((0.1, 0.1), (0.9, 0.1), (0.84, 0.9), (0.16, 0.9), (0.1, 0.1))
    face = ring(0.5, 0.5, 0.43) if round_face else Stroke(box)
    eyes = (
        ring(0.33, 0.38, 0.09 + 0.01 * s[0]),
        ring(0.67, 0.38, 0.09 + 0.01 * s[0]),
        dot(0.33, 0.38, 0.03),
        dot(0.67, 0.38, 0.03),
    )
    return (face, *eyes, line(0.5, 0.4, 0.5, 0.62), line(0.34, 0.74, 0.66, 0.74))


def tree(s: FloatArray, tiers: int = 3) -> Marks:
    """Conifer-like tree of stacked tiers."""
    out: list[Mark] = [line(0.4, 0.97, 0.4, 0.06)]
    for k in range(tiers):
        y = 0.2 + 0.68 * k / tiers
        half = 0.14 + 0.2 * (k + 1) / tiers + 0.02 * s[0]
        out.append(stroke((0.4 - half, y + 0.2), (0.4, y), (0.4 + half, y + 0.2)))
    return tuple(out)


def lobed(s: FloatArray, lobes: int = 4, doubled: bool = False) -> Marks:
    """Outline with round lobes, single or doubled."""
    angle = np.linspace(0, 2 * np.pi, 73)
    radius = 0.33 + 0.1 * np.abs(np.cos(lobes * angle / 2)) * (1 + 0.2 * s[0])
    path = 0.5 + np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    return (Stroke(path), Stroke(0.5 + (path - 0.5) * 0.6), dot(0.5, 0.5, 0.06)) if doubled else (Stroke(path),)


def star(s: FloatArray, tips: int = 5, solid: bool = True) -> Marks:
    """Star with straight sides."""
    angle = np.linspace(0, 2 * np.pi, 2 * tips, endpoint=False) - np.pi / 2 + 0.08 * s[1]
    radius = np.where(np.arange(2 * tips) % 2 == 0, 0.45, 0.2 + 0.03 * s[0])
    path = 0.5 + np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    return (Fill((path,)),) if solid else (Stroke(np.concatenate([path, path[:1]])), dot(0.5, 0.5, 0.05))


def hooked_arms(s: FloatArray, arms: int = 3, curled: bool = False) -> Marks:
    """Arms from one centre, each ending in a bent or curled hook."""
    out: list[Mark] = []
    for k in range(arms):
        angle = 2 * np.pi * k / arms + 0.1 * s[1]
        turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        if curled:
            path = np.concatenate([points((0, 0)), spiral(0.3, 0.1, 0.13, 0.05, -90, 0.9)])
        else:
            path = points((0, 0), (0.42, 0), (0.42, 0.2 + 0.04 * s[0]))
        out.append(Stroke(path @ turn + 0.5))
    return tuple(out)


VARIANTS: list[tuple[str, float, Callable[..., Marks], dict[str, Any]]] = [
    ("circles-two", 1.0, concentric, {"rings_count": 2, "eye": False}),
    ("circles-three-eyed", 1.0, concentric, {}),
    ("circles-five", 1.0, concentric, {"rings_count": 5, "eye": False}),
    ("circle-eyed", 1.0, concentric, {"rings_count": 1}),
    ("disc-rays-twelve", 1.0, rayed_disc, {}),
    ("disc-rays-twenty", 1.0, rayed_disc, {"rays": 20, "solid": True}),
    ("disc-rays-six", 1.0, rayed_disc, {"rays": 6}),
    ("disc-points-eight", 1.0, rayed_disc, {"rays": 8, "kind": "triangle", "solid": True}),
    ("ring-points-ten", 1.0, rayed_disc, {"rays": 10, "kind": "triangle"}),
    ("ring-dotted-nine", 1.0, rayed_disc, {"rays": 9, "kind": "dot"}),
    ("disc-dotted-six", 1.0, rayed_disc, {"rays": 6, "kind": "dot", "solid": True}),
    ("rosette-four-solid", 1.0, rosette, {"petals": 4}),
    ("rosette-six-solid", 1.0, rosette, {}),
    ("rosette-eight-line", 1.0, rosette, {"petals": 8, "filled": False}),
    ("rosette-five-line", 1.0, rosette, {"petals": 5, "filled": False}),
    ("scroll-one", 1.0, scroll, {}),
    ("scroll-tight", 1.0, scroll, {"turns": 3.0}),
    ("scroll-two-arms", 1.0, scroll, {"arms": 2, "turns": 1.2}),
    ("scroll-three-arms", 1.0, scroll, {"arms": 3, "turns": 0.9}),
    ("scroll-leaf", 1.2, scroll, {"leaf": True, "turns": 2.0}),
    *((f"cross-{kind}", 1.0, cross, {"kind": kind}) for kind in ("plain", "double", "barred", "dotted", "saltire")),
    ("branch-lines", 0.8, branch, {}),
    ("branch-lines-dense", 0.8, branch, {"leaves": 7, "lean": 0.1}),
    ("branch-arcs", 0.8, branch, {"kind": "arc"}),
    ("branch-leaves", 0.8, branch, {"kind": "leaf"}),
    ("branch-hanging", 0.8, branch, {"lean": -0.14}),
    ("bird-solid", 1.05, wading_bird, {}),
    ("bird-line", 1.05, wading_bird, {"solid": False}),
    ("fish-scaled", 1.45, fish, {}),
    ("fish-plain", 1.45, fish, {"scales": False}),
    ("hand-open", 0.9, hand_print, {}),
    ("beast-horned", 1.35, quadruped, {}),
    ("beast-line", 1.35, quadruped, {"horned": False, "solid": False}),
    ("figure-raised-arms", 0.8, standing_figure, {}),
    ("figure-skirt", 0.8, standing_figure, {"arms": "lowered", "skirt": True}),
    ("snake-three", 1.5, snake, {}),
    ("snake-five-plain", 1.5, snake, {"bends": 5, "head": False}),
    *(
        (f"square-{kind}", 1.0, bracketed_square, {"kind": kind})
        for kind in ("nested", "saltire", "corners", "quartered", "pierced")
    ),
    ("comb-six", 1.0, comb_figure, {}),
    ("comb-nine-arched", 1.0, comb_figure, {"teeth": 9, "arched": True}),
    *((f"hourglass-{kind}", 0.8, hourglass, {"kind": kind}) for kind in ("solid", "outline", "hatched")),
    *((f"crescent-{kind}", 1.0, crescent, {"kind": kind}) for kind in ("solid", "outline", "dotted")),
    ("face-round", 1.0, mask_face, {}),
    ("face-square", 1.0, mask_face, {"round_face": False}),
    ("tree-three", 0.8, tree, {}),
    ("tree-six", 0.8, tree, {"tiers": 6}),
    ("lobes-four", 1.0, lobed, {}),
    ("lobes-four-doubled", 1.0, lobed, {"doubled": True}),
    ("lobes-seven", 1.0, lobed, {"lobes": 7}),
    ("star-five", 1.0, star, {}),
    ("star-six-line", 1.0, star, {"tips": 6, "solid": False}),
    ("hooks-six", 1.0, hooked_arms, {"arms": 6}),
    ("hooks-three-curled", 1.0, hooked_arms, {"arms": 3, "curled": True}),
    ("hooks-five-curled", 1.0, hooked_arms, {"arms": 5, "curled": True}),
]
