"""A whole decorated pot, before it is broken."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from motifs.practice.decorating import decorate
from motifs.practice.families import DRAWN_FAMILIES, Family, family_named
from motifs.practice.forms import VesselForm, draw_form, like_form
from motifs.practice.hands import Hand, another_hand, draw_hand
from motifs.practice.layouts import Layout, draw_layout, like_layout
from motifs.practice.surfaces import make_surface
from motifs.practice.techniques import TECHNIQUE_SHARES, TECHNIQUES
from motifs.practice.wares import Coats, Paste, Wear, draw_coats, draw_paste, draw_wear, like_coats, like_paste

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.practice.arrays import Map


@dataclass(frozen=True, slots=True)
class PaintedPot:
    """A decorated pot as a developed surface: x runs round the pot, y down the outside from the rim.

    albedo: (H, W, 3) float32, linear light 0..1. relief_mm: (H, W) float32, outward. motif_map: (H, W) int16, family
    number or -1. ink_mask: (H, W) bool, painted or worked. x is true arc length where the vessel is widest; elsewhere
    one mm of x is radius / greatest radius mm of clay. All else are the settings the pot was drawn with.
    """

    seed: int
    px_per_mm: float
    albedo: Map
    relief_mm: Map
    motif_map: NDArray[np.int16]
    ink_mask: NDArray[np.bool_]
    form: VesselForm
    layout: Layout
    hand: Hand
    paste: Paste
    coats: Coats
    wear: Wear
    technique: str

    @property
    def circumference_mm(self) -> float:
        """Girth at the widest place."""
        return self.form.circumference_mm

    @property
    def height_mm(self) -> float:
        """Arc length of the profile from rim to base."""
        return self.form.height_mm

    @property
    def families(self) -> tuple[Family, ...]:
        """Families that the layout uses, without repeats."""
        return tuple({one.ident: one for zone in self.layout for one in zone.families}.values())


@dataclass(frozen=True, slots=True)
class PotPlan:
    """The settings of a pot before it is painted."""

    form: VesselForm
    layout: Layout
    hand: Hand
    paste: Paste
    coats: Coats
    wear: Wear
    technique: str


def paint_pot(
    seed: int,
    *,
    families: Sequence[Family | str] | None = None,
    px_per_mm: float = 6.0,
    alike_to: PaintedPot | None = None,
    alike: float = 0.0,
    technique: str | None = None,
    girth_mm: float | None = None,
    height_mm: float | None = None,
) -> PaintedPot:
    """Paint a pot from a seed.

    Parameters
    ----------
    seed : int >= 0
    families : families or their names to choose from; all that exist on every machine when None
    px_per_mm : resolution of the developed surface
    alike_to, alike : another pot and how like it this one is (0 not at all; 0.5 look-alike: same motifs and layout,
        another hand, another batch of clay and paint; 1 less than half of that difference)
    technique : a name of TECHNIQUES; drawn when None
    girth_mm, height_mm : size of the developed surface; drawn when None

    Returns
    -------
    PaintedPot

    Raises
    ------
    UnknownName
        A family's name that does not exist.
    """
    rng = np.random.default_rng([11, seed])
    pool = _chosen(families)
    plan = draw_plan(rng, pool, technique, girth_mm, height_mm)
    if alike_to is not None and alike > 0:
        plan = plan_like(rng, alike_to, plan, alike)
    how = TECHNIQUES[plan.technique]
    sheet = decorate(rng, plan.form, plan.layout, plan.hand, how, px_per_mm)
    surface = make_surface(rng, sheet, how, plan.paste, plan.coats, plan.wear, px_per_mm, plan.hand.line_width_mm)
    return PaintedPot(
        seed,
        px_per_mm,
        surface.albedo,
        surface.relief_mm,
        sheet.motif_map,
        surface.ink,
        plan.form,
        plan.layout,
        plan.hand,
        plan.paste,
        plan.coats,
        plan.wear,
        plan.technique,
    )


def _chosen(families: Sequence[Family | str] | None) -> tuple[Family, ...]:
    if families is None:
        return DRAWN_FAMILIES
    return tuple(one if isinstance(one, Family) else family_named(one) for one in families)


def draw_plan(
    rng: np.random.Generator,
    pool: tuple[Family, ...],
    technique: str | None,
    girth_mm: float | None,
    height_mm: float | None,
) -> PotPlan:
    """Draw all settings of an unrelated pot."""
    names = list(TECHNIQUE_SHARES)
    how = str(rng.choice(names, p=np.array(list(TECHNIQUE_SHARES.values())) / sum(TECHNIQUE_SHARES.values())))
    how = technique or how
    form = draw_form(rng, girth_mm, height_mm)
    layout = draw_layout(rng, form, pool)
    paste = draw_paste(rng)
    hand = draw_hand(rng)
    heights = [(z.bottom - z.top) * form.height_mm for z in layout if z.families]
    widest = max(0.055 * float(np.median(heights)) if heights else 1.5, 0.7)
    hand = replace(hand, line_width_mm=min(hand.line_width_mm, widest))
    return PotPlan(form, layout, hand, paste, draw_coats(rng, paste, how), draw_wear(rng), how)


def difference_for(alike: float) -> float:
    """Return how far a pot differs from its model: 1 at alike 0.5 (two real batches), 0.4 at alike 1."""
    return 2.0 - 2.0 * alike if alike < 0.5 else 1.0 - 1.2 * (alike - 0.5)


def plan_like(rng: np.random.Generator, model: PaintedPot | PotPlan, own: PotPlan, alike: float) -> PotPlan:
    """Take each property from the model with a probability that reaches 1 at alike 0.5, and let it differ."""
    difference = difference_for(alike)
    same_form, same_motifs, same_ware, same_hand = rng.random(4) < 2 * alike
    form = like_form(rng, model.form, difference) if same_form else own.form
    layout = like_layout(rng, model.layout, difference) if same_motifs else own.layout
    paste = like_paste(rng, model.paste, difference) if same_ware else own.paste
    coats = like_coats(rng, model.coats, difference) if same_ware else own.coats
    hand = another_hand(rng, model.hand, difference) if same_hand else own.hand
    technique = model.technique if same_ware else own.technique
    return PotPlan(form, layout, hand, paste, coats, own.wear, technique)
