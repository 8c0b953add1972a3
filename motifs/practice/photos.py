"""The photograph of a tray: light, shadow, lens, sensor, and the truth about what lies on it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.practice.arrays import ByteMap, FloatArray, resized
from motifs.practice.camera import Lens, Light, develop, draw_lens, draw_light, light_field, shade
from motifs.practice.families import family_numbered
from motifs.practice.scenes import Scene, bare_scene, lay, skin_of
from motifs.practice.sherds import Pose, SherdImage, flat_outline, render_sherd, turned
from motifs.practice.trays import (
    BACKDROPS,
    BAR_DESIGNS,
    Flat,
    arrange,
    draw_backdrop,
    draw_bar,
    draw_label,
    scatter_dust,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.practice.breaking import Fragment
    from motifs.practice.pots import PaintedPot

LARGEST_PX = 12e6


@dataclass(frozen=True, slots=True)
class SherdTruth:
    """What is true of one sherd on a photograph.

    number: from 1, as in the label image. pot: its place in the list of pots given. fragment: index within the pot.
    outline_px: (N, 2) float32, x and y in the photograph. families: share of the sherd's surface by family name.
    decorated: share painted or worked. part: part of the vessel at its centre. turn_deg: how it was turned, clockwise.
    """

    number: int
    pot: int
    fragment: int
    outline_px: NDArray[np.float32]
    families: dict[str, float]
    decorated: float
    part: str
    turn_deg: float


@dataclass(frozen=True, slots=True)
class PracticePhoto:
    """A rendered photograph and its truth.

    rgb: (H, W, 3) uint8 sRGB. labels: (H, W) int16, 0 or the number of the sherd seen there. mm_per_px: at the middle
    of the photograph, in the plane of the tray. bar_mm: length of the scale bar or None; bar_px, labels_px: outlines.
    """

    rgb: ByteMap
    labels: NDArray[np.int16]
    sherds: tuple[SherdTruth, ...]
    mm_per_px: float
    bar_mm: float | None
    bar_px: NDArray[np.float32] | None
    labels_px: tuple[NDArray[np.float32], ...]
    backdrop: str
    light: Light
    lens: Lens

    def mask(self, number: int) -> NDArray[np.bool_]:
        """(H, W) bool, where the sherd of a number is seen."""
        return np.asarray(self.labels == number)


@dataclass(frozen=True, slots=True)
class PhotoSettings:
    """What a photograph is to look like; None is drawn from the seed.

    px_per_mm: 4 to 20. backdrop: a name of BACKDROPS. bar_mm: 50, 100 or 0 for no bar. bar_design: one of BAR_DESIGNS.
    labels: paper labels beside the sherds. gap_mm: least distance between sherds. fill: share of the tray covered.
    """

    px_per_mm: float | None = None
    backdrop: str | None = None
    bar_mm: float | None = None
    bar_design: str | None = None
    labels: bool | None = None
    gap_mm: float | None = None
    fill: float | None = None
    light: Light | None = None
    lens: Lens | None = None


def photograph(
    pieces: Sequence[tuple[PaintedPot, Fragment]],
    seed: int,
    settings: PhotoSettings | None = None,
    *,
    pots: Sequence[PaintedPot] | None = None,
    **changes: object,
) -> PracticePhoto:
    """Photograph sherds on one tray.

    Parameters
    ----------
    pieces : (pot, fragment) of every sherd on the tray, 0 to about 60
    seed : int >= 0
    settings : PhotoSettings; single settings may be given by name instead
    pots : the pots in the order by which SherdTruth numbers them; the order of their first sherd when None

    Returns
    -------
    PracticePhoto
        Sherds are numbered from 1 in the order of `pieces`.
    """
    rng = np.random.default_rng([13, seed])
    wish = replace(settings or PhotoSettings(), **changes)  # type: ignore[arg-type]
    order = pots or list({id(pot): pot for pot, _ in pieces}.values())
    poses = [_pose(rng) for _ in pieces]
    tray = _lay_out(rng, pieces, poses, wish)
    light = wish.light or draw_light(rng)
    lens = wish.lens or draw_lens(rng)
    scene = _ground(rng, tray)
    outlines, contents = _put_sherds(rng, pieces, poses, tray, scene)
    lit = shade(scene, light, tray.px_per_mm)
    lit *= light_field(rng, lit.shape[:2], light)
    rgb, labels, move = develop(rng, lit, scene.labels, lens)
    truths = tuple(
        SherdTruth(
            number=k + 1,
            pot=next(n for n, one in enumerate(order) if one is pot),
            fragment=fragment.index,
            outline_px=_moved(outlines[k], move),
            families=contents[k][0],
            decorated=contents[k][1],
            part=_part(pot, fragment),
            turn_deg=poses[k].turn_deg,
        )
        for k, (pot, fragment) in enumerate(pieces)
    )
    return PracticePhoto(
        rgb,
        labels,
        truths,
        _mm_per_px(tray.px_per_mm, move, rgb.shape[:2]),
        tray.bar_mm,
        None if tray.bar is None else _moved(tray.bar.outline_px, move),
        tuple(_moved(one.outline_px, move) for one in tray.papers),
        tray.backdrop,
        light,
        lens,
    )


@dataclass(slots=True)
class _Tray:
    """The plan of one tray."""

    px_per_mm: float
    shape: tuple[int, int]
    places_mm: FloatArray
    backdrop: str
    bar_mm: float | None
    bar: Flat | None
    papers: list[Flat] = field(default_factory=list)


def _pose(rng: np.random.Generator) -> Pose:
    tilt = rng.normal(0, 0.03, 2)
    edge = float(np.exp(rng.uniform(np.log(0.3), np.log(1.6))))
    return Pose(float(rng.uniform(0, 360)), float(tilt[0]), float(tilt[1]), edge)


def _lay_out(
    rng: np.random.Generator, pieces: Sequence[tuple[PaintedPot, Fragment]], poses: Sequence[Pose], wish: PhotoSettings
) -> _Tray:
    """Decide scale, backdrop, bar and labels, and find a place for everything."""
    outlines = [
        turned(flat_outline(pot.form, one)[0], pose.turn_deg) for (pot, one), pose in zip(pieces, poses, strict=True)
    ]
    bar_mm = float(rng.choice([50.0, 100.0])) if wish.bar_mm is None else wish.bar_mm
    bar_turn = float(rng.choice([0.0, 90.0], p=[0.7, 0.3]) + rng.normal(0, 2.0) * (rng.random() < 0.6))
    extras = [turned(_box(bar_mm + 14, 28), bar_turn)] if bar_mm else []
    has_labels = bool(rng.random() < 0.3) if wish.labels is None else wish.labels
    paper_turns = rng.normal(0, 6, len(pieces) if has_labels else 0)
    extras += [turned(_box(34, 13), float(turn)) for turn in paper_turns]
    fill = float(rng.uniform(0.36, 0.56)) if wish.fill is None else wish.fill
    gap_mm = float(rng.uniform(2.0, 9.0)) if wish.gap_mm is None else wish.gap_mm
    found = arrange(rng, [*outlines, *extras], gap_mm, fill)
    ppm = float(np.exp(rng.uniform(np.log(5.0), np.log(12.0)))) if wish.px_per_mm is None else wish.px_per_mm
    ppm = min(ppm, float(np.sqrt(LARGEST_PX / (found.size_mm[0] * found.size_mm[1]))))
    shape = (int(found.size_mm[1] * ppm), int(found.size_mm[0] * ppm))
    backdrop = wish.backdrop or str(rng.choice(list(BACKDROPS)))
    tray = _Tray(ppm, shape, found.places_mm[: len(pieces)], backdrop, bar_mm or None, None)
    place = len(pieces)
    if bar_mm:
        design = wish.bar_design or str(rng.choice(BAR_DESIGNS))
        tray.bar = draw_bar(rng, design, bar_mm, ppm, found.places_mm[place], bar_turn)
        place += 1
    for k, turn in enumerate(paper_turns):
        text = str(int(rng.integers(1, 9)) * 1000 + k + 1)
        tray.papers.append(draw_label(rng, text, ppm, found.places_mm[place + k], float(turn)))
    return tray


def _box(width: float, height: float) -> FloatArray:
    return np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [width / 2, height / 2]


def _ground(rng: np.random.Generator, tray: _Tray) -> Scene:
    """Return the tray with its dust, bar and labels, before any sherd."""
    backdrop = draw_backdrop(rng, tray.backdrop, tray.shape, tray.px_per_mm)
    scatter_dust(rng, backdrop, tray.px_per_mm, float(rng.exponential(12.0)))
    scene = bare_scene(backdrop)
    for flat in [*([tray.bar] if tray.bar else []), *tray.papers]:
        lay(scene, flat.albedo, flat.cover, np.full_like(flat.cover, flat.thickness_mm), None, flat.corner_px)
    return scene


def _put_sherds(
    rng: np.random.Generator,
    pieces: Sequence[tuple[PaintedPot, Fragment]],
    poses: Sequence[Pose],
    tray: _Tray,
    scene: Scene,
) -> tuple[list[FloatArray], list[tuple[dict[str, float], float]]]:
    """Render every sherd into the scene; return outlines in the photograph and what is on each."""
    outlines, contents = [], []
    reduced = {id(pot): fitted_pot(pot, tray.px_per_mm) for pot, _ in pieces}
    for k, ((pot, fragment), pose) in enumerate(zip(pieces, poses, strict=True)):
        corner = np.round(tray.places_mm[k] * tray.px_per_mm - 0.5)
        image = render_sherd(rng, reduced[id(pot)], fragment, pose, tray.px_per_mm)
        low = image.corner_px + corner
        skin = skin_of(image.height_mm, image.gloss, tray.px_per_mm)
        lay(scene, image.albedo, image.cover, image.height_mm, skin, (int(low[0]), int(low[1])), k + 1)
        outlines.append(image.outline_px + low)
        seen = image.cover > 0.5
        contents.append((_families(image), float(image.ink[seen].mean()) if seen.any() else 0.0))
    return outlines, contents


def fitted_pot(pot: PaintedPot, px_per_mm: float) -> PaintedPot:
    """Return a pot whose maps are reduced to little more than a photograph's resolution, so that nothing aliases."""
    ratio = 1.15 * px_per_mm / pot.px_per_mm
    if ratio > 0.87:
        return pot
    rows, columns = pot.relief_mm.shape
    shape = (round(rows * ratio), round(columns * ratio))
    small = (shape[1], shape[0])
    return replace(
        pot,
        px_per_mm=pot.px_per_mm * shape[1] / columns,
        albedo=resized(pot.albedo, shape, cv2.INTER_AREA),
        relief_mm=resized(pot.relief_mm, shape, cv2.INTER_AREA),
        motif_map=np.asarray(cv2.resize(pot.motif_map, small, interpolation=cv2.INTER_NEAREST), np.int16),
        ink_mask=np.asarray(
            cv2.resize(pot.ink_mask.astype(np.uint8), small, interpolation=cv2.INTER_AREA) > 0, np.bool_
        ),
    )


def _families(image: SherdImage) -> dict[str, float]:
    """Return the share of a sherd's surface that lies in the field of each family."""
    seen = image.motif_map[image.cover > 0.5]
    names, counts = np.unique(seen, return_counts=True)
    return {
        family_numbered(int(n)).name: float(c) / len(seen)
        for n, c in zip(names, counts, strict=True)
        if n >= 0 and c > 0
    }


def _part(pot: PaintedPot, fragment: Fragment) -> str:
    if fragment.is_rim:
        return "rim"
    middle = float(fragment.polygon_mm[:, 1].mean())
    return next((name for name, _, last in pot.form.parts if middle <= last), pot.form.parts[-1][0])


def _moved(outline: FloatArray, move: FloatArray) -> NDArray[np.float32]:
    """Carry points through the lens's projective map (3, 3)."""
    wide = np.concatenate([outline, np.ones((len(outline), 1))], axis=1) @ move.T
    return np.asarray(wide[:, :2] / wide[:, 2:], np.float32)


def _mm_per_px(px_per_mm: float, move: FloatArray, shape: tuple[int, ...]) -> float:
    """Return the scale at the middle of the photograph."""
    back = np.asarray(np.linalg.inv(move), np.float64)
    middle = np.array([shape[1] / 2, shape[0] / 2])
    square = _moved(middle + np.array([[0, 0], [1, 0], [0, 1]]) * 50.0, back).astype(np.float64)
    area = abs(float(np.linalg.det(np.stack([square[1] - square[0], square[2] - square[0]]))))
    return float(np.sqrt(area)) / 50.0 / px_per_mm
