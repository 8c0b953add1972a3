"""What a lot is, in either style: pots are broken, mixed, laid on trays and photographed; truth beside the photos.

Seeds 1 to 999 are for tuning, 1000 and up for reporting only.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from tests.outsider.optics import write_jpeg
from tests.outsider.truth import Contact, LotTruth, PhotoTruth, SherdTruth, outline_of, read_truth, write_truth

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import NDArray

STYLES = ("one", "two")
KINDS = ("different", "look-alike", "near-identical")
PLAIN = ("light", "dark", "coloured")
HARD = ("cloth", "wood")
REPORT_SEED = 1000
RENDER_VERSION = 1


@dataclass(frozen=True)
class TrayLook:
    """What the photographer decides. bar_mm None: no bar in view."""

    backdrop: str
    backdrop_seed: int
    px_per_mm: float
    bar_mm: int | None
    slips: int = 1


@dataclass(frozen=True)
class Shot:
    """One photograph: rgb (H, W, 3) uint8 and, in the order of the pieces, each mask with its (x, y) corner."""

    rgb: NDArray[np.uint8]
    masks: tuple[tuple[NDArray[np.bool_], tuple[int, int]], ...]
    px_per_mm: float
    quality: int
    halve_chroma: bool


class Style(Protocol):
    """What a style offers: see `style_one.studio` and `style_two.studio`."""

    def motif_names(self) -> list[str]: ...
    def lot_recipes(self, kind: str, pots: int, rng: np.random.Generator) -> list[Any]: ...
    def recipe_with(self, motifs: Sequence[str], rng: np.random.Generator) -> Any: ...
    def break_pot(
        self, recipe: Any, pieces: int, px_per_mm: float, rng: np.random.Generator
    ) -> tuple[list[Any], dict[tuple[int, int], float]]: ...
    def photograph(self, pieces: Sequence[Any], look: TrayLook, rng: np.random.Generator) -> Shot: ...
    def px_range(self) -> tuple[float, float]: ...


@dataclass(frozen=True)
class LotSpec:
    """Orders a lot. sherds: about how many in all."""

    style: str
    kind: str
    seed: int
    pots: int = 2
    sherds: int = 60

    @property
    def name(self) -> str:
        """Folder and lot name."""
        return f"{self.style}-{self.kind}-{self.pots}x{self.sherds}-{self.seed}"


@dataclass(frozen=True)
class Labelled:
    """A piece with its names."""

    key: str
    pot: str
    piece: Any
    paste_lab: tuple[float, float, float]


def style_named(name: str) -> Style:
    """The studio of a style ("one" or "two")."""
    if name not in STYLES:
        raise ValueError(f"unknown style: {name}")
    studio: Style = importlib.import_module(f"tests.outsider.style_{name}.studio")  # type: ignore[assignment]
    return studio


def seeded(*parts: int | str) -> np.random.Generator:
    """A generator that depends on every part."""
    words = [part if isinstance(part, int) else int.from_bytes(part.encode()[:8].ljust(8), "big") for part in parts]
    return np.random.default_rng([RENDER_VERSION, *words])


def make_lot(spec: LotSpec, work: Path) -> tuple[LotTruth, Path]:
    """Render a lot, or take it from the work folder; give its truth and its folder of photographs."""
    folder = work / f"v{RENDER_VERSION}" / spec.name
    if (folder / "truth.json").exists():
        return read_truth(folder / "truth.json"), folder
    folder.mkdir(parents=True, exist_ok=True)
    style, rng = style_named(spec.style), seeded(spec.seed, spec.style, spec.kind, spec.pots)
    px = float(rng.uniform(*style.px_range()))
    pieces, contacts = _broken_pots(style, spec, px, rng)
    looks = _lot_looks(len(pieces), px, rng)
    photos = _shoot_all(style, pieces, looks, folder, spec.name, rng)
    truth = LotTruth(spec.name, "site-a", spec.style, spec.kind, spec.seed, photos, contacts)
    write_truth(truth, folder / "truth.json")
    return truth, folder


def _broken_pots(
    style: Style, spec: LotSpec, px: float, rng: np.random.Generator
) -> tuple[list[Labelled], tuple[Contact, ...]]:
    kept: list[Labelled] = []
    contacts: list[Contact] = []
    each = round(spec.sherds / spec.pots / 0.83)
    for number, recipe in enumerate(style.lot_recipes(spec.kind, spec.pots, rng)):
        pieces, shared = style.break_pot(recipe, each, px, rng)
        labelled = label_pieces(pieces, f"pot{number}", recipe.paste.lab)
        present = [item for item in labelled if rng.random() > 0.12]
        keys = {item.piece.index: item.key for item in present}
        contacts += [
            Contact(keys[a], keys[b], round(mm, 2)) for (a, b), mm in shared.items() if a in keys and b in keys
        ]
        kept += present
    return [kept[k] for k in rng.permutation(len(kept))], tuple(contacts)


def label_pieces(pieces: Sequence[Any], pot: str, lab: tuple[float, float, float]) -> list[Labelled]:
    """Name the pieces of one pot."""
    return [Labelled(f"{pot}-{piece.index:03d}", pot, piece, lab) for piece in pieces]


def _lot_looks(sherds: int, px: float, rng: np.random.Generator) -> list[TrayLook]:
    """Trays of one lot: mostly one backdrop and one bar, 3 to 6 photographs."""
    count = max(1, min(int(rng.integers(3, 7)), sherds // 4))
    backdrop, bar = str(rng.choice(PLAIN)), int(rng.choice([50, 100]))
    cloth = int(rng.integers(1 << 30))
    return [TrayLook(backdrop, cloth, px * float(rng.uniform(0.96, 1.04)), bar) for _ in range(count)]


def _shoot_all(
    style: Style,
    pieces: Sequence[Labelled],
    looks: Sequence[TrayLook],
    folder: Path,
    name: str,
    rng: np.random.Generator,
) -> tuple[PhotoTruth, ...]:
    trays = np.array_split(np.arange(len(pieces)), len(looks))
    return tuple(
        shoot(style, [pieces[k] for k in tray], look, folder / f"{name}-{number}.jpg", rng)
        for number, (tray, look) in enumerate(zip(trays, looks, strict=True))
    )


def shoot(style: Style, pieces: Sequence[Labelled], look: TrayLook, path: Path, rng: np.random.Generator) -> PhotoTruth:
    """Photograph one tray to a file and give its truth."""
    shot = style.photograph([item.piece for item in pieces], look, rng)
    write_jpeg(shot.rgb, path, shot.quality, halve_chroma=shot.halve_chroma)
    sherds = tuple(
        _sherd_truth(item, mask, corner, shot.px_per_mm)
        for item, (mask, corner) in zip(pieces, shot.masks, strict=True)
    )
    return PhotoTruth(
        path.name, shot.rgb.shape[1], shot.rgb.shape[0], shot.px_per_mm, look.bar_mm, look.backdrop, sherds
    )


def _sherd_truth(item: Labelled, mask: NDArray[np.bool_], corner: tuple[int, int], px: float) -> SherdTruth:
    motifs = {name: round(share, 4) for name, share in item.piece.motifs.items()}
    lab = (round(item.paste_lab[0], 2), round(item.paste_lab[1], 2), round(item.paste_lab[2], 2))
    return SherdTruth(item.key, item.pot, outline_of(mask, corner), round(float(mask.sum()) / px**2, 2), motifs, lab)
