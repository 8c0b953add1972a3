"""Virtual pots: decorate, break, photograph, mark. Everything follows from a seed.

```
FAMILIES                                           all motif families; DRAWN_FAMILIES: those on every machine
family_split(name) -> "train" | "tune" | "report"  whole families apart
paint_pot(seed, *, families, px_per_mm, alike_to, alike) -> PaintedPot
break_pot(pot, seed, *, pieces) -> list[Fragment]
photograph([(pot, fragment), ...], seed, settings) -> PracticePhoto
make_lot(seed, pots, alike, *, sherds) -> PracticeLot
make_exercise(folder, name, pots, alike, seed) -> Exercise;  open_answer(file)
mark_sorting(answer, vessels) -> SortingMark
make_scenario(folder, seed) -> Path
```
Colours are linear light unless a name says rgb (8-bit sRGB). Lengths carry their unit.
"""

from motifs.practice.breaking import Fragment, break_pot
from motifs.practice.camera import Lens, Light
from motifs.practice.families import DRAWN_FAMILIES, FAMILIES, Family, family_named, family_numbered, family_split
from motifs.practice.lots import Exercise, PracticeLot, exercise_place, make_exercise, make_lot, open_answer
from motifs.practice.marking import SortingMark, mark_sorting
from motifs.practice.photos import PhotoSettings, PracticePhoto, SherdTruth, photograph
from motifs.practice.pots import PaintedPot, paint_pot
from motifs.practice.scenario import make_scenario
from motifs.practice.techniques import TECHNIQUES
from motifs.practice.trays import BACKDROPS, BAR_DESIGNS

__all__ = [
    "BACKDROPS",
    "BAR_DESIGNS",
    "DRAWN_FAMILIES",
    "FAMILIES",
    "TECHNIQUES",
    "Exercise",
    "Family",
    "Fragment",
    "Lens",
    "Light",
    "PaintedPot",
    "PhotoSettings",
    "PracticeLot",
    "PracticePhoto",
    "SherdTruth",
    "SortingMark",
    "break_pot",
    "exercise_place",
    "family_named",
    "family_numbered",
    "family_split",
    "make_exercise",
    "make_lot",
    "make_scenario",
    "mark_sorting",
    "open_answer",
    "paint_pot",
    "photograph",
]
