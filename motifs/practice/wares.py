"""What a pot is made of and painted with: clay, temper, surface, paint and slip, and what time did to it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from motifs.practice.colours import clay_lab, shifted_lab

Lab = tuple[float, float, float]

PAINTS: dict[str, Lab] = {
    "black": (22.0, 2.0, 3.0),
    "dark brown": (30.0, 7.0, 9.0),
    "red": (38.0, 27.0, 22.0),
    "orange": (52.0, 24.0, 34.0),
    "purple": (31.0, 13.0, 5.0),
    "white": (86.0, 0.5, 7.0),
    "cream": (78.0, 3.0, 16.0),
    "grey": (45.0, 1.0, 4.0),
}
"""Usual colours of mineral paints and slips as CIE L*a*b* (common practice, set by eye)."""


@dataclass(frozen=True, slots=True)
class Paste:
    """The fired clay.

    lab: colour of the smoothed surface. core_lab: colour of the break. temper_per_cm2: grains seen on a cm2.
    temper_mm: median grain size. temper_lab: their colour. voids_per_cm2. roughness_mm: relief of the plain surface.
    mottle_l: standard deviation of L* over the vessel. gloss: 0 dull to 1 burnished. texture: "smoothed", "wiped",
    "brushed", "burnished" or "cord-marked".
    """

    lab: Lab
    core_lab: Lab
    temper_per_cm2: float
    temper_mm: float
    temper_lab: Lab
    voids_per_cm2: float
    roughness_mm: float
    mottle_l: float
    gloss: float
    texture: str


@dataclass(frozen=True, slots=True)
class Coats:
    """Slip and paints. slip_lab is None for a bare vessel; second_lab is used by two-colour painting only.

    strength: 0..1, how well the paint covers.
    """

    slip_lab: Lab | None
    paint_lab: Lab
    second_lab: Lab
    strength: float


@dataclass(frozen=True, slots=True)
class Wear:
    """What use and burial did. Each 0..1, the share or strength over the vessel."""

    fire_clouds: int
    cloud_l: float
    paint_loss: float
    abrasion: float
    soot: float
    crust: float


def draw_paste(rng: np.random.Generator) -> Paste:
    """Draw a clay."""
    lab = clay_lab(rng)
    core = shifted_lab(rng, lab, 4.0)
    core = (float(np.clip(core[0] + rng.choice([-16.0, -9.0, 5.0]), 25, 82)), core[1] * 0.7, core[2] * 0.8)
    temper = ((86.0, 0.0, 4.0), (70.0, 1.0, 6.0), (24.0, 1.0, 2.0), (45.0, 18.0, 18.0))[int(rng.integers(4))]
    texture = str(
        rng.choice(["smoothed", "wiped", "brushed", "burnished", "cord-marked"], p=[0.38, 0.25, 0.09, 0.24, 0.04])
    )
    return Paste(
        lab=lab,
        core_lab=core,
        temper_per_cm2=float(np.exp(rng.uniform(np.log(0.4), np.log(22.0)))),
        temper_mm=float(np.exp(rng.uniform(np.log(0.22), np.log(0.85)))),
        temper_lab=temper,
        voids_per_cm2=float(rng.exponential(0.8)),
        roughness_mm=float(rng.uniform(0.008, 0.035)) * (0.6 if texture == "burnished" else 1.0),
        mottle_l=float(rng.uniform(0.6, 2.4)),
        gloss=float(rng.uniform(0.5, 1.0)) if texture == "burnished" else float(rng.uniform(0.0, 0.15)),
        texture=texture,
    )


def like_paste(rng: np.random.Generator, paste: Paste, difference: float) -> Paste:
    """Draw a second batch of a clay: 3.5 to 7 dE (CIE 1976) off at difference 1, other amounts of temper."""
    step = float(rng.uniform(3.5, 7.0)) * difference
    lab = shifted_lab(rng, paste.lab, step)
    off = np.exp(rng.normal(0, [0.3, 0.15, 0.3, 0.2], 4) * difference)
    return replace(
        paste,
        lab=(float(np.clip(lab[0], 31, 80.5)), max(lab[1], -0.5), max(lab[2], 3.0)),
        core_lab=shifted_lab(rng, paste.core_lab, step),
        temper_per_cm2=paste.temper_per_cm2 * float(off[0]),
        temper_mm=paste.temper_mm * float(off[1]),
        voids_per_cm2=paste.voids_per_cm2 * float(off[2]),
        roughness_mm=paste.roughness_mm * float(off[3]),
    )


def draw_coats(rng: np.random.Generator, paste: Paste, technique: str) -> Coats:
    """Draw slip and paints that show up on the clay."""
    slip = None
    ground_l = paste.lab[0]
    if technique == "light on dark":
        slip = _named(rng, ("dark brown", "red", "black", "purple"))
    elif rng.random() < (0.3 if technique.startswith("painted") or technique == "negative" else 0.12):
        slip = _named(rng, ("cream", "white", "orange", "red"))
    if slip is not None:
        ground_l = slip[0]
    dark, light = ("black", "dark brown", "red", "purple"), ("white", "cream")
    names = dark if ground_l > 58 or (ground_l > 42 and rng.random() < 0.5) else light
    paint = _named(rng, names)
    second = _named(rng, tuple(n for n in PAINTS if abs(PAINTS[n][0] - ground_l) > 14) or light)
    return Coats(slip, paint, second, float(rng.uniform(0.72, 0.99)))


def _named(rng: np.random.Generator, names: tuple[str, ...]) -> Lab:
    return shifted_lab(rng, PAINTS[names[int(rng.integers(len(names)))]], float(rng.uniform(0.5, 4.0)))


def like_coats(rng: np.random.Generator, coats: Coats, difference: float) -> Coats:
    """Draw a second mixing of the same paints: 3 to 6 dE (CIE 1976) off at difference 1."""
    step = float(rng.uniform(3.0, 6.0)) * difference
    slip = None if coats.slip_lab is None else shifted_lab(rng, coats.slip_lab, step)
    strength = float(np.clip(coats.strength + rng.normal(0, 0.06) * difference, 0.6, 1.0))
    return Coats(slip, shifted_lab(rng, coats.paint_lab, step), shifted_lab(rng, coats.second_lab, step), strength)


def draw_wear(rng: np.random.Generator) -> Wear:
    """Draw the traces of firing, use and burial; cloud_l is a fall in L* of 2 to 3 value steps at the centre."""
    return Wear(
        fire_clouds=int(rng.choice([0, 1, 2, 3], p=[0.45, 0.3, 0.17, 0.08])),
        cloud_l=float(rng.uniform(18.0, 30.0)),
        paint_loss=float(rng.beta(1.2, 6.0)),
        abrasion=float(rng.beta(1.5, 5.0)),
        soot=float(rng.uniform(0.3, 0.8)) if rng.random() < 0.15 else 0.0,
        crust=float(rng.beta(1.2, 12.0)) if rng.random() < 0.3 else 0.0,
    )
