"""Lots of sherds from several pots, exercises with a sealed answer, and what is true of them as plain records."""

from __future__ import annotations

import base64
import hashlib
import itertools
import json
import zlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from motifs.errors import CollectionDamaged, InputError, NameRefused
from motifs.practice.breaking import Fragment, break_pot
from motifs.practice.camera import draw_lens, draw_light, jpeg_bytes
from motifs.practice.photos import PhotoSettings, PracticePhoto, SherdTruth, photograph
from motifs.practice.pots import PaintedPot, paint_pot
from motifs.practice.trays import BACKDROPS, BAR_DESIGNS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from motifs.practice.families import Family

    Progress = Callable[[str, int, int], None]

SMALLEST_SHERD_MM2 = 220.0
SHERDS_A_TRAY = 15
POT_PX_PER_MM = 8.0
MOST_LOST = 0.8


MOST_BYTES = 50_000_000
"""No answer unpacks to more; a forged one that would is cut off and does not fit its sum."""


@dataclass(frozen=True, slots=True)
class PracticeLot:
    """Photographs of a lot and its truth.

    photos: trays in order; pots: the pots broken, numbered by their place; fragments: all pieces of each pot, lost ones
    too; kept: (pot, fragment) of every sherd in the order of the trays.
    """

    seed: int
    alike: float
    photos: tuple[PracticePhoto, ...]
    pots: tuple[PaintedPot, ...]
    fragments: tuple[tuple[Fragment, ...], ...]
    kept: tuple[tuple[int, int], ...]

    @property
    def truth(self) -> dict[str, Any]:
        """Everything that is true of the lot, as it is written to JSON."""
        return lot_truth(self)


def make_lot(
    seed: int,
    pots: int = 2,
    alike: float = 0.5,
    *,
    sherds: int = 60,
    families: Sequence[Family | str] | None = None,
    techniques: Sequence[str] | None = None,
    settings: PhotoSettings | None = None,
    px_per_mm: float = POT_PX_PER_MM,
    lost: float | None = None,
    progress: Progress | None = None,
) -> PracticeLot:
    """Paint, break, mix and photograph a lot.

    Parameters
    ----------
    seed : int >= 0
    pots : how many pots, 1 or more
    alike : 0 unrelated pots, 0.5 look-alikes, 1 nearly identical
    sherds : about how many sherds in all, over several trays
    families : motif families to draw from; all that exist on every machine when None
    techniques : names of TECHNIQUES, pot after pot and round again; drawn when None (look-alikes follow the first pot)
    settings : what the photographs share; drawn from the seed where None
    px_per_mm : resolution of the painted surface; give at least that of the photographs
    lost : share of each pot's pieces that is missing, 0 to 0.8; 0.05 to 0.25, drawn for each pot, when None
    progress : told (stage, done, total) after each pot painted and each tray photographed

    Raises
    ------
    InputError
        pots or sherds below 1, alike outside 0..1, lost outside 0..0.8.
    """
    if lost is not None and not 0.0 <= lost <= MOST_LOST:
        raise InputError(f"A lot cannot have lost {lost:g} of its pieces: give a share from 0 to {MOST_LOST:g}.")
    if pots < 1 or sherds < pots or not 0.0 <= alike <= 1.0:
        raise InputError(f"A lot needs pots >= 1, sherds >= pots and alike in 0..1; got {pots}, {sherds} and {alike}.")
    rng = np.random.default_rng([14, seed])
    seeds = [int(one) for one in rng.integers(1 << 31, size=pots)]
    painted: list[PaintedPot] = []
    for k, one in enumerate(seeds):
        how = techniques[k % len(techniques)] if techniques else None
        model = painted[0] if painted else None
        painted.append(
            paint_pot(one, families=families, px_per_mm=px_per_mm, alike_to=model, alike=alike, technique=how)
        )
        if progress is not None:
            progress("painting pots", k + 1, pots)
    broken, kept = _broken(rng, tuple(painted), sherds, lost)
    photos = _photographed(rng, tuple(painted), broken, kept, settings or PhotoSettings(), progress)
    return PracticeLot(seed, alike, photos, tuple(painted), broken, kept)


def _broken(
    rng: np.random.Generator, pots: tuple[PaintedPot, ...], sherds: int, share_lost: float | None
) -> tuple[tuple[tuple[Fragment, ...], ...], tuple[tuple[int, int], ...]]:
    """Break the pots, lose some of the pieces (5 to 25 % where nothing is said) and all crumbs, and mix the rest."""
    broken, kept = [], []
    for number, pot in enumerate(pots):
        drawn = float(rng.uniform(0.05, 0.25))
        lost = drawn if share_lost is None else share_lost
        share = sherds / len(pots) * float(rng.uniform(0.9, 1.1))
        pieces = tuple(break_pot(pot, int(rng.integers(1 << 31)), pieces=max(round(share / (1 - lost)), 4)))
        broken.append(pieces)
        whole = [one.index for one in pieces if one.area_mm2 >= SMALLEST_SHERD_MM2]
        stay = max(round(len(whole) * (1 - lost)), 1)
        kept += [(number, int(k)) for k in rng.permutation(whole)[:stay]]
    order = rng.permutation(len(kept))
    return tuple(broken), tuple(kept[int(k)] for k in order)


def _photographed(
    rng: np.random.Generator,
    pots: tuple[PaintedPot, ...],
    broken: tuple[tuple[Fragment, ...], ...],
    kept: tuple[tuple[int, int], ...],
    wish: PhotoSettings,
    progress: Progress | None,
) -> tuple[PracticePhoto, ...]:
    """Photograph a lot tray by tray: one backdrop, bar and camera, the light of another moment each time."""
    trays = max(round(len(kept) / SHERDS_A_TRAY), 1)
    bounds = np.linspace(0, len(kept), trays + 1).round().astype(int)
    shared = replace(
        wish,
        backdrop=wish.backdrop or str(rng.choice(list(BACKDROPS))),
        bar_mm=float(rng.choice([50.0, 100.0])) if wish.bar_mm is None else wish.bar_mm,
        bar_design=wish.bar_design or str(rng.choice(BAR_DESIGNS)),
        labels=bool(rng.random() < 0.25) if wish.labels is None else wish.labels,
        px_per_mm=float(np.exp(rng.uniform(np.log(5.5), np.log(9.0)))) if wish.px_per_mm is None else wish.px_per_mm,
    )
    lens = wish.lens or draw_lens(rng)
    photos = []
    for start, end in itertools.pairwise(bounds):
        pieces = [(pots[p], broken[p][f]) for p, f in kept[start:end]]
        light = wish.light or draw_light(rng)
        one = replace(shared, light=light, lens=lens)
        photos.append(photograph(pieces, int(rng.integers(1 << 31)), one, pots=pots))
        if progress is not None:
            progress("photographing sherds", len(photos), trays)
    return tuple(photos)


def lot_truth(lot: PracticeLot) -> dict[str, Any]:
    """Return what is true of a lot as plain values: photos with sherds, pots, and the true joins between sherds kept."""
    places = {
        (sherd.pot, sherd.fragment): [k + 1, sherd.number]
        for k, photo in enumerate(lot.photos)
        for sherd in photo.sherds
    }
    joins = [
        {"a": places[(p, f)], "b": places[(p, other)], "contact_mm": round(length, 1)}
        for p, f in lot.kept
        for other, length in lot.fragments[p][f].neighbours.items()
        if f < other and (p, other) in places
    ]
    return {
        "seed": lot.seed,
        "alike": lot.alike,
        "pots": [_pot_truth(pot) for pot in lot.pots],
        "photos": [photo_truth(photo) for photo in lot.photos],
        "joins": joins,
    }


def _pot_truth(pot: PaintedPot) -> dict[str, Any]:
    return {
        "form": pot.form.name,
        "technique": pot.technique,
        "families": [one.name for one in pot.families],
        "groups": [zone.group for zone in pot.layout if zone.kind in ("band", "plane")],
        "paste_lab": [round(v, 1) for v in pot.paste.lab],
        "line_width_mm": round(pot.hand.line_width_mm, 2),
        "wall_mm": round(pot.form.wall_mm, 1),
        "girth_mm": round(pot.circumference_mm, 1),
    }


def photo_truth(photo: PracticePhoto) -> dict[str, Any]:
    """Return what is true of a photograph as plain values; outlines are thinned to within 0.4 px."""
    height, width = photo.labels.shape
    return {
        "width_px": width,
        "height_px": height,
        "mm_per_px": round(photo.mm_per_px, 6),
        "bar_mm": photo.bar_mm,
        "backdrop": photo.backdrop,
        "sherds": [_sherd_truth(one) for one in photo.sherds],
    }


def _sherd_truth(sherd: SherdTruth) -> dict[str, Any]:
    thin = cv2.approxPolyDP(sherd.outline_px[:, None], 0.4, True)[:, 0]
    return {
        "number": sherd.number,
        "pot": sherd.pot,
        "part": sherd.part,
        "families": {name: round(share, 3) for name, share in sherd.families.items() if share >= 0.01},
        "decorated": round(sherd.decorated, 3),
        "turn_deg": round(sherd.turn_deg, 1),
        "outline_px": [[round(float(x), 1), round(float(y), 1)] for x, y in thin],
    }


def write_photos(folder: Path, photos: Sequence[PracticePhoto], stem: str = "tray") -> list[Path]:
    """Write photographs as <stem>_01.jpg and so on; returns the files."""
    folder.mkdir(parents=True, exist_ok=True)
    files = []
    for k, photo in enumerate(photos):
        file = folder / f"{stem}_{k + 1:02d}.jpg"
        file.write_bytes(jpeg_bytes(photo.rgb, photo.lens.jpeg_quality))
        files.append(file)
    return files


@dataclass(frozen=True, slots=True)
class Exercise:
    """Files of a broken-pots exercise: the photographs and the sealed answer."""

    photos: tuple[Path, ...]
    answer: Path


def make_exercise(
    folder: Path,
    name: str,
    pots: int = 2,
    alike: float = 0.5,
    seed: int = 0,
    *,
    sherds: int = 60,
    techniques: Sequence[str] | None = None,
    lost: float | None = None,
    progress: Progress | None = None,
) -> Exercise:
    """Write the photographs of an exercise and its answer, sealed so that nobody reads it by accident.

    Parameters
    ----------
    folder : where the exercise's own folder is made
    name : of the exercise; letters, digits, "-", "_" and spaces
    pots, alike, seed, sherds, techniques, lost, progress : as in make_lot

    Raises
    ------
    NameRefused
        The name is empty, or cannot be a file name, or is taken.
    InputError
        As make_lot.
    """
    place = exercise_place(folder, name)
    lot = make_lot(seed, pots, alike, sherds=sherds, techniques=techniques, lost=lost, progress=progress)
    files = write_photos(place, lot.photos)
    answer = place / "answer.sealed.json"
    answer.write_text(json.dumps(seal(lot.truth | {"name": name}), indent=1) + "\n", encoding="utf-8")
    return Exercise(tuple(files), answer)


def exercise_place(folder: Path, name: str) -> Path:
    """Return where an exercise of that name will lie; NameRefused where it cannot be named so, or there is one."""
    if not name.strip() or not all(letter.isalnum() or letter in "-_ " for letter in name):
        raise NameRefused(f"An exercise cannot be named {name!r}: use letters, digits, '-', '_' and spaces.")
    place = Path(folder) / name.strip()
    if place.exists():
        raise NameRefused(f"There is already an exercise {name!r} in {folder}: take another name.")
    return place


def seal(answer: dict[str, Any]) -> dict[str, str]:
    """Pack an answer so that a glance does not read it; its checksum shows that nothing was changed."""
    plain = json.dumps(answer, sort_keys=True).encode()
    packed = base64.b64encode(zlib.compress(plain, 9)).decode()
    note = "The answer of a practice exercise. It is packed, not secret: open it after the exercise."
    return {"note": note, "sha256": hashlib.sha256(plain).hexdigest(), "packed": packed}


def open_answer(file: Path) -> dict[str, Any]:
    """Unpack a sealed answer.

    Raises
    ------
    CollectionDamaged
        The file is not a sealed answer, or was altered.
    """
    try:
        sealed = json.loads(Path(file).read_text(encoding="utf-8"))
        unpacking = zlib.decompressobj()
        plain = unpacking.decompress(base64.b64decode(sealed["packed"], validate=True), MOST_BYTES)
        is_whole, stated = unpacking.eof, str(sealed["sha256"])
    except (OSError, ValueError, KeyError, TypeError, zlib.error, RecursionError) as problem:
        raise CollectionDamaged(f"{file} is not a sealed answer ({problem}): make the exercise again.") from problem
    if not is_whole or hashlib.sha256(plain).hexdigest() != stated:
        raise CollectionDamaged(f"{file} was altered since it was sealed: make the exercise again.")
    answer = json.loads(plain)
    if not isinstance(answer, dict):
        raise CollectionDamaged(f"{file} holds no answer: make the exercise again.")
    return answer
