"""What a pot of style one is: paste, paint, hand and layout, and how a second pot differs from the first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from tests.outsider.style_one.figures import FIGURES

if TYPE_CHECKING:
    from collections.abc import Sequence

Lab = tuple[float, float, float]
LOOK_ALIKE_DE = (6.0, 10.0)
NEAR_SHARE = (0.30, 0.45)


@dataclass(frozen=True)
class Paste:
    """Fired clay. mottle and cloud_depth in L*; temper grains per mm2, mean size in mm, contrast in L*."""

    lab: Lab
    mottle: float
    temper_per_mm2: float
    temper_mm: float
    temper_contrast: float
    clouds: int
    cloud_depth: float


@dataclass(frozen=True)
class Paint:
    """Paint of the strokes. cover: opacity; wear: share of the paint worn off."""

    lab: Lab
    cover: float
    wear: float


@dataclass(frozen=True)
class Hand:
    """How the painter works: width in mm, tremor in mm (SD), pressure and spacing as relative SD."""

    line_mm: float
    tremor_mm: float
    pressure: float
    spacing: float


@dataclass(frozen=True)
class Band:
    """A zone filled with one motif."""

    motif: str
    top_mm: float
    height_mm: float
    repeat_mm: float


@dataclass(frozen=True)
class PotRecipe:
    """Everything that decides how a pot looks, before chance."""

    girth_mm: float
    height_mm: float
    bands: tuple[Band, ...]
    framing_lines: int
    paste: Paste
    paint: Paint
    hand: Hand
    is_incised: bool


def draw_recipe(motifs: Sequence[str], rng: np.random.Generator) -> PotRecipe:
    """Make a new pot that carries the named motifs from rim to base."""
    height = rng.uniform(92, 118)
    paste = _draw_paste(rng)
    return PotRecipe(
        girth_mm=rng.uniform(290, 370),
        height_mm=height,
        bands=_lay_bands(motifs, height, rng),
        framing_lines=int(rng.integers(0, 3)),
        paste=paste,
        paint=_draw_paint(paste, rng),
        hand=Hand(rng.uniform(0.9, 2.0), rng.uniform(0.08, 0.35), rng.uniform(0.05, 0.2), rng.uniform(0.01, 0.06)),
        is_incised=bool(rng.random() < 0.2),
    )


def _draw_paste(rng: np.random.Generator) -> Paste:
    lab = (rng.uniform(46, 72), rng.uniform(4, 17), rng.uniform(12, 29))
    return Paste(
        lab,
        mottle=rng.uniform(0.8, 2.2),
        temper_per_mm2=rng.uniform(0.01, 0.12),
        temper_mm=rng.uniform(0.35, 0.9),
        temper_contrast=rng.choice([-1, 1]) * rng.uniform(8, 22),
        clouds=int(rng.integers(0, 4)),
        cloud_depth=rng.uniform(8, 22),
    )


def _draw_paint(paste: Paste, rng: np.random.Generator) -> Paint:
    darks: list[Lab] = [(24, 4, 6), (30, 16, 14), (34, 26, 22), (20, 1, 2), (32, 8, 18)]
    lights: list[Lab] = [(86, 1, 8), (80, 3, 14)]
    palette = darks + (lights if paste.lab[0] < 60 else [])
    base = np.array(palette[rng.integers(len(palette))]) + rng.normal(0, 2, 3)
    return Paint((float(base[0]), float(base[1]), float(base[2])), rng.uniform(0.82, 0.97), rng.uniform(0.02, 0.18))


def _lay_bands(motifs: Sequence[str], height: float, rng: np.random.Generator) -> tuple[Band, ...]:
    top, bands = rng.uniform(6, 12), []
    room = height * rng.uniform(0.62, 0.78) - top - 5 * (len(motifs) - 1)
    shares = rng.dirichlet(np.full(len(motifs), 25.0))
    for motif, share in zip(motifs, shares, strict=True):
        tall = room * share
        bands.append(Band(motif, top, tall, tall * FIGURES[motif]().aspect * rng.uniform(0.8, 1.15)))
        top += tall + 5
    return tuple(bands)


def draw_sibling(base: PotRecipe, amount: float, rng: np.random.Generator) -> PotRecipe:
    """Same motifs and layout by another hand in another paste and paint; amount 1 is a look-alike, 0 the same pot."""
    grow = float(np.exp(amount * rng.choice([-1, 1]) * rng.uniform(0.06, 0.15)))
    paste = replace(
        base.paste,
        lab=_shift(base.paste.lab, amount, rng),
        temper_per_mm2=base.paste.temper_per_mm2 * float(np.exp(amount * rng.uniform(-0.7, 0.7))),
        temper_mm=base.paste.temper_mm * float(np.exp(amount * rng.uniform(-0.35, 0.35))),
        clouds=int(rng.integers(0, 4)),
    )
    width = float(np.exp(amount * rng.choice([-1, 1]) * rng.uniform(0.2, 0.4)))
    hand = replace(
        base.hand,
        line_mm=base.hand.line_mm * width,
        tremor_mm=base.hand.tremor_mm * float(np.exp(amount * rng.uniform(-0.6, 0.6))),
    )
    bands = tuple(replace(band, repeat_mm=band.repeat_mm * grow) for band in base.bands)
    paint = replace(
        base.paint,
        lab=_shift(base.paint.lab, amount, rng),
        wear=base.paint.wear * float(np.exp(amount * rng.uniform(-0.5, 0.5))),
    )
    return replace(
        base, girth_mm=base.girth_mm * rng.uniform(0.97, 1.03), paste=paste, paint=paint, hand=hand, bands=bands
    )


def _shift(lab: Lab, amount: float, rng: np.random.Generator) -> Lab:
    direction = rng.normal(0, 1, 3) * (1.0, 0.8, 0.8)
    moved = np.array(lab) + amount * rng.uniform(*LOOK_ALIKE_DE) * direction / np.linalg.norm(direction)
    return float(np.clip(moved[0], 15, 92)), float(moved[1]), float(moved[2])


def draw_lot(kind: str, pots: int, rng: np.random.Generator) -> list[PotRecipe]:
    """Recipes of the pots of one lot.

    Raises
    ------
    ValueError : if the kind is unknown.
    """
    names = list(rng.permutation(list(FIGURES)))
    if kind == "different":
        return [draw_recipe(names[2 * k : 2 * k + 2], rng) for k in range(pots)]
    if kind not in {"look-alike", "near-identical"}:
        raise ValueError(f"unknown kind of lot: {kind}")
    amount = 1.0 if kind == "look-alike" else float(rng.uniform(*NEAR_SHARE))
    chosen = [draw_recipe(names[:2], rng)]
    while len(chosen) < pots:
        sibling = draw_sibling(chosen[0], amount, rng)
        apart = [float(np.linalg.norm(np.subtract(sibling.paste.lab, other.paste.lab))) for other in chosen]
        if min(apart) >= 0.6 * LOOK_ALIKE_DE[0] * amount:
            chosen.append(sibling)
    return chosen
