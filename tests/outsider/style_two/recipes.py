"""What a pot of style two is, and how its look-alikes differ."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from tests.outsider.style_two.designs import design_aspect, design_names

if TYPE_CHECKING:
    from collections.abc import Sequence

Lab = tuple[float, float, float]
TECHNIQUES = ("incised", "painted", "inlaid")


@dataclass(frozen=True)
class Clay:
    """Fired clay; blotch is the SD of lightness (L*), fleck_lab the temper's colour, core_lab that of the break."""

    lab: Lab
    blotch: float
    fleck_lab: Lab
    flecks_per_mm2: float
    fleck_mm: float
    core_lab: Lab
    roughness_mm: float
    gloss: float


@dataclass(frozen=True)
class Maker:
    """The maker's hand: groove or line width, its depth, wobble (SD, mm), drift of spacing as share of a repeat."""

    width_mm: float
    depth_mm: float
    wobble_mm: float
    drift: float
    width_sd: float


@dataclass(frozen=True)
class Register:
    """A zone with one design; repeats go round the pot a whole number of times."""

    design: str
    top_mm: float
    height_mm: float
    repeats: int


@dataclass(frozen=True)
class PotRecipe:
    """All of a pot. sooting: how dark its fire clouds are, 0..1."""

    girth_mm: float
    height_mm: float
    bend_mm: float
    registers: tuple[Register, ...]
    borders: int
    technique: str
    paste: Clay
    colour_lab: Lab
    wear: float
    maker: Maker
    clouds: int
    sooting: float


def draw_recipe(designs: Sequence[str], rng: np.random.Generator) -> PotRecipe:
    """A new pot with these designs."""
    girth, height = rng.uniform(280, 380), rng.uniform(90, 125)
    clay = _draw_clay(rng)
    return PotRecipe(
        girth_mm=girth,
        height_mm=height,
        bend_mm=rng.uniform(70, 220),
        registers=_draw_registers(designs, girth, height, rng),
        borders=int(rng.integers(0, 3)),
        technique=str(rng.choice(TECHNIQUES, p=(0.4, 0.35, 0.25))),
        paste=clay,
        colour_lab=_draw_colour(clay.lab, rng),
        wear=rng.uniform(0.02, 0.2),
        maker=Maker(
            rng.uniform(0.9, 2.1),
            rng.uniform(0.3, 0.9),
            rng.uniform(0.1, 0.4),
            rng.uniform(0.01, 0.06),
            rng.uniform(0.04, 0.15),
        ),
        clouds=int(rng.integers(0, 4)),
        sooting=rng.uniform(0.25, 0.6),
    )


def _draw_clay(rng: np.random.Generator) -> Clay:
    hue, chroma, light = np.radians(rng.uniform(42, 80)), rng.uniform(11, 33), rng.uniform(42, 74)
    lab = (light, chroma * float(np.cos(hue)), chroma * float(np.sin(hue)))
    fleck = (float(np.clip(light + rng.choice([-1, 1]) * rng.uniform(10, 24), 12, 92)), lab[1] * 0.4, lab[2] * 0.5)
    core = (light - rng.uniform(2, 16), lab[1] * 0.6, lab[2] * 0.7)
    return Clay(
        lab,
        rng.uniform(0.8, 2.4),
        fleck,
        rng.uniform(0.01, 0.15),
        rng.uniform(0.3, 0.85),
        core,
        rng.uniform(0.004, 0.03),
        rng.uniform(0, 0.12),
    )


def _draw_colour(clay: Lab, rng: np.random.Generator) -> Lab:
    dark = (rng.uniform(18, 34), rng.uniform(0, 22), rng.uniform(2, 18))
    light = (rng.uniform(80, 90), rng.uniform(-1, 4), rng.uniform(4, 14))
    return light if clay[0] < 58 and rng.random() < 0.45 else dark


def _draw_registers(
    designs: Sequence[str], girth: float, height: float, rng: np.random.Generator
) -> tuple[Register, ...]:
    top = rng.uniform(5, 14)
    room = height * rng.uniform(0.6, 0.8) - top
    tall = room / len(designs)
    registers = []
    for design in designs:
        own = tall * rng.uniform(0.72, 0.9)
        repeats = max(4, round(girth / (own * design_aspect(design) * rng.uniform(0.85, 1.15))))
        registers.append(Register(design, top, own, repeats))
        top += tall
    return tuple(registers)


def draw_sibling(base: PotRecipe, amount: float, rng: np.random.Generator) -> PotRecipe:
    """The same designs and layout from another maker, clay and paint; amount 1 is a look-alike."""
    swing = _swinger(amount, rng)
    clay = replace(
        base.paste,
        lab=_moved(base.paste.lab, amount * rng.uniform(6, 10), rng),
        core_lab=_moved(base.paste.core_lab, amount * rng.uniform(3, 8), rng),
        flecks_per_mm2=base.paste.flecks_per_mm2 * swing(0.3, 0.8),
        fleck_mm=base.paste.fleck_mm * swing(0.1, 0.35),
        roughness_mm=base.paste.roughness_mm * swing(0.2, 0.6),
    )
    maker = replace(
        base.maker,
        width_mm=base.maker.width_mm * swing(0.2, 0.4),
        depth_mm=base.maker.depth_mm * swing(0.15, 0.4),
        wobble_mm=base.maker.wobble_mm * swing(0.2, 0.6),
    )
    stretch = swing(0.06, 0.15)
    registers = tuple(replace(r, repeats=max(4, round(r.repeats * stretch))) for r in base.registers)
    return replace(
        base, girth_mm=base.girth_mm * rng.uniform(0.97, 1.03), bend_mm=base.bend_mm * swing(0.02, 0.1), paste=clay, maker=maker, registers=registers,
        colour_lab=_moved(base.colour_lab, amount * rng.uniform(6, 10), rng), clouds=int(rng.integers(0, 4)),
    )  # fmt: skip


def _swinger(amount: float, rng: np.random.Generator):  # type: ignore[no-untyped-def]
    """Factors up or down by so much of a natural logarithm, times the amount."""
    return lambda low, high: float(np.exp(amount * rng.choice([-1, 1]) * rng.uniform(low, high)))


def _moved(lab: Lab, distance: float, rng: np.random.Generator) -> Lab:
    step = rng.normal(0, 1, 3)
    step *= distance / np.linalg.norm(step)
    return float(np.clip(lab[0] + step[0], 14, 92)), float(lab[1] + step[1]), float(lab[2] + step[2])


def draw_lot(kind: str, pots: int, rng: np.random.Generator) -> list[PotRecipe]:
    """Recipes of one lot.

    Raises
    ------
    ValueError : if the kind is unknown.
    """
    names = [str(name) for name in rng.permutation(design_names())]
    if kind == "different":
        return [draw_recipe(names[2 * k : 2 * k + 2], rng) for k in range(pots)]
    if kind not in {"look-alike", "near-identical"}:
        raise ValueError(f"unknown kind of lot: {kind}")
    amount = 1.0 if kind == "look-alike" else float(rng.uniform(0.3, 0.45))
    lot = [draw_recipe(names[:2], rng)]
    while len(lot) < pots:
        other = draw_sibling(lot[0], amount, rng)
        if all(float(np.linalg.norm(np.subtract(other.paste.lab, pot.paste.lab))) > 4 * amount for pot in lot):
            lot.append(other)
    return lot
