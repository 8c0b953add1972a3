"""Arithmetic of adhesive solutions: how much resin for how much solvent, and one basis of concentration in terms of another.

"25 %" means three different things; the basis is always kept with the number. Densities from memory: acetone 0.784 g/mL at 25 °C, acrylic
resin of the B-72 kind about 1.15 g/mL.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from motifs.errors import InputError
from motifs.workflows.mending_cautions import FIRST, SOLVENT

ACETONE_G_PER_ML: Final = 0.784
RESIN_G_PER_ML: Final = 1.15
BY_MASS: Final = "w/w"
ON_SOLVENT: Final = "g per 100 mL solvent"
IN_SOLUTION: Final = "g in 100 mL solution"
BASES: Final = (BY_MASS, ON_SOLVENT, IN_SOLUTION)
MOST_PERCENT: Final = 80.0


@dataclass(frozen=True, slots=True)
class Recipe:
    """Resin for a measured volume of solvent. by_mass_percent: the concentration as w/w. cautions: always shown with it."""

    percent: float
    basis: str
    solvent_ml: float
    solvent_g: float
    resin_g: float
    by_mass_percent: float
    cautions: tuple[str, ...]


def recipe(percent: float, basis: str, solvent_ml: float, *, solvent_g_per_ml: float = ACETONE_G_PER_ML) -> Recipe:
    """Work out how much resin goes into a volume of solvent.

    Parameters
    ----------
    percent : the number of the concentration, above 0 and at most MOST_PERCENT.
    basis : one of BASES.
    solvent_ml : volume of solvent, mL.

    Raises
    ------
    InputError
        No such basis, or a number that cannot be.
    """
    if not (math.isfinite(solvent_ml) and 0 < solvent_ml <= 5000):
        raise InputError(f"{solvent_ml:g} mL of solvent cannot be; give a volume above 0 and up to 5000 mL")
    share = mass_share(percent, basis, solvent_g_per_ml=solvent_g_per_ml)
    solvent_g = solvent_ml * solvent_g_per_ml
    resin_g = solvent_g * share / (1 - share)
    return Recipe(percent, basis, solvent_ml, solvent_g, resin_g, 100 * share, (FIRST, *SOLVENT))


def mass_share(
    percent: float,
    basis: str,
    *,
    solvent_g_per_ml: float = ACETONE_G_PER_ML,
    resin_g_per_ml: float = RESIN_G_PER_ML,
) -> float:
    """Share of resin by mass, 0 to 1; volumes are taken to add up. InputError for a basis or a number that cannot be."""
    if basis not in BASES:
        raise InputError(f"'{basis}' is no basis of a concentration; give one of: {', '.join(BASES)}")
    if not (math.isfinite(percent) and 0 < percent <= MOST_PERCENT):
        raise InputError(f"a concentration of {percent:g} cannot be; give a number above 0 and up to {MOST_PERCENT:g}")
    if basis == BY_MASS:
        return percent / 100
    solvent_ml = 100.0 if basis == ON_SOLVENT else 100.0 - percent / resin_g_per_ml
    return percent / (percent + solvent_ml * solvent_g_per_ml)
