"""Larger scenes: single trays for detection, and several sites for comparanda."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.outsider.scenes import (
    HARD,
    PLAIN,
    RENDER_VERSION,
    Labelled,
    TrayLook,
    label_pieces,
    seeded,
    shoot,
    style_named,
)
from tests.outsider.truth import LotTruth, read_truth, write_truth

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from tests.outsider.scenes import Style

TRAY_SIZES = (1, 2, 5, 8, 12, 16, 25, 40, 60)
SITES = ("Alderfen", "Brackmoor", "Coldharbour Hill", "Dunsey")


def make_tray(style_name: str, seed: int, work: Path) -> tuple[LotTruth, Path]:
    """One tray of 1 to 60 sherds; the backdrop goes round light, dark, coloured, cloth, wood by seed."""
    name = f"{style_name}-tray-{seed}"
    folder = work / f"v{RENDER_VERSION}" / name
    if (folder / "truth.json").exists():
        return read_truth(folder / "truth.json"), folder
    folder.mkdir(parents=True, exist_ok=True)
    style, rng = style_named(style_name), seeded(seed, style_name, "tray")
    backdrop = (*PLAIN, *HARD)[seed % 5]
    count = int(rng.choice(TRAY_SIZES))
    px = float(rng.uniform(*style.px_range())) * (1.0 if count < 30 else 0.8)
    look = TrayLook(backdrop, int(rng.integers(1 << 30)), px, int(rng.choice([50, 100])), int(rng.integers(0, 3)))
    photo = shoot(style, _some_sherds(style, count, px, rng), look, folder / f"{name}.jpg", rng)
    truth = LotTruth(name, "site-a", style_name, "hard" if backdrop in HARD else "plain", seed, (photo,))
    write_truth(truth, folder / "truth.json")
    return truth, folder


def _some_sherds(style: Style, count: int, px: float, rng: np.random.Generator) -> list[Labelled]:
    pots, kept = max(1, int(np.ceil(count / 30))), []
    for number, recipe in enumerate(style.lot_recipes("different", pots, rng)):
        pieces, _ = style.break_pot(recipe, int(rng.integers(34, 46)), px, rng)
        kept += label_pieces(pieces, f"pot{number}", recipe.paste.lab)
    chosen = rng.permutation(len(kept))[:count]
    return [kept[k] for k in chosen]


def make_sites(
    style_name: str, seed: int, work: Path, *, motifs: int = 30, per_pot: int = 12
) -> list[tuple[LotTruth, Path]]:
    """Four sites, each with every motif on one pot, two motifs a pot: motifs / 2 x 4 x per_pot sherds."""
    folder = work / f"v{RENDER_VERSION}" / f"{style_name}-sites-{motifs}x{per_pot}-{seed}"
    style = style_named(style_name)
    names = [str(name) for name in seeded(seed, style_name, "motifs").permutation(style.motif_names())[:motifs]]
    return [
        _make_site(style, style_name, site, names, per_pot, seed, folder / site.split()[0].lower()) for site in SITES
    ]


def _make_site(
    style: Style, style_name: str, site: str, names: Sequence[str], per_pot: int, seed: int, folder: Path
) -> tuple[LotTruth, Path]:
    if (folder / "truth.json").exists():
        return read_truth(folder / "truth.json"), folder
    folder.mkdir(parents=True, exist_ok=True)
    rng = seeded(seed, style_name, site)
    px, lot = float(rng.uniform(*style.px_range())), folder.name
    sherds: list[Labelled] = []
    order = [names[k] for k in rng.permutation(len(names))]
    for number in range(0, len(order) - 1, 2):
        recipe = style.recipe_with(order[number : number + 2], rng)
        pieces, _ = style.break_pot(recipe, int(rng.integers(28, 38)), px, rng)
        chosen = rng.permutation(len(pieces))[:per_pot]
        sherds += label_pieces([pieces[k] for k in chosen], f"{lot}-pot{number // 2:02d}", recipe.paste.lab)
    photos = []
    mixed = [sherds[k] for k in rng.permutation(len(sherds))]
    for tray, start in enumerate(range(0, len(mixed), 15)):
        look = TrayLook(str(rng.choice(PLAIN)), int(rng.integers(1 << 30)), px, int(rng.choice([50, 100])))
        photos.append(shoot(style, mixed[start : start + 15], look, folder / f"{lot}-{tray:02d}.jpg", rng))
    truth = LotTruth(lot, site, style_name, "sites", seed, tuple(photos))
    write_truth(truth, folder / "truth.json")
    return truth, folder
