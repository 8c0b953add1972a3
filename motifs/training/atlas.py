"""Motif families as small maps of distance, from which any size, line width and technique can be drawn on a graphics card.

Sources: the practice families of one split in several hands' styles, many more random splines and branching figures, and the
signs of free fonts (Debian packages fonts-dejavu-core, Bitstream Vera terms, and fonts-noto-core, SIL Open Font Licence 1.1).
Signs that stand for a held-out practice family are left out, and so is whatever looks like something already there.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.practice import FAMILIES, family_split
from motifs.practice.glyphs import glyph_figure
from motifs.practice.marks import Dot, Fill, Marks, Stroke
from motifs.practice.random_motifs import branching_figure, spline_figure

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

TILE = 96
RASTER = 192
FAR = 0.25
"""Distances are kept up to a quarter of the cell's height."""
FIRST_NEW_IDENT = 10_000
SPLINES, BRANCHINGS, STYLES = 1400, 500, 6
ALIKE = 0.93
"""Two pictures that correlate at least this well, turned or mirrored as may be, count as one motif."""

BLOCKS: dict[str, tuple[tuple[int, int], ...]] = {
    "NotoSansEgyptianHieroglyphs-Regular.ttf": ((0x13000, 0x1342E),),
    "NotoSansAnatolianHieroglyphs-Regular.ttf": ((0x14400, 0x14646),),
    "NotoSansCuneiform-Regular.ttf": ((0x12000, 0x12399), (0x12480, 0x12543)),
    "NotoSansLinearA-Regular.ttf": ((0x10600, 0x10767),),
    "NotoSansLinearB-Regular.ttf": ((0x10000, 0x100FA),),
    "NotoSansSymbols-Regular.ttf": ((0x2600, 0x26FF), (0x1F700, 0x1F773)),
    "NotoSansSymbols2-Regular.ttf": ((0x25A0, 0x25FF), (0x2700, 0x27BF), (0x1F650, 0x1F67F), (0x1F780, 0x1F7D8)),
    "NotoSansMath-Regular.ttf": ((0x2190, 0x22FF), (0x2980, 0x2AFF)),
    "NotoSansBamum-Regular.ttf": ((0xA6A0, 0xA6EF), (0x16800, 0x16A38)),
    "NotoSansVai-Regular.ttf": ((0xA500, 0xA62B),),
    "NotoSansYi-Regular.ttf": ((0xA000, 0xA48C),),
    "NotoSansNushu-Regular.ttf": ((0x1B170, 0x1B2FB),),
    "NotoSansMendeKikakui-Regular.ttf": ((0x1E800, 0x1E8C4),),
    "NotoSansMeroitic-Regular.ttf": ((0x10980, 0x109B7),),
    "NotoSansTifinagh-Regular.ttf": ((0x2D30, 0x2D6F),),
    "DejaVuSans.ttf": ((0x370, 0x58F), (0x10A0, 0x10FF), (0x1400, 0x167F), (0x2190, 0x23FF), (0x25A0, 0x27BF)),
}
"""Unicode blocks taken from each font file, first and last character."""


@dataclass(frozen=True, slots=True)
class Atlas:
    """Tiles of all families.

    tiles: (T, 2, TILE, TILE) uint8, signed distance to filled shapes and distance to lines, 128 + 127 d / FAR with d in
    cell heights. aspect: (T,) float32 width over height. ident: (T,) int64 family of a tile, ascending. own: number of tiles that
    come from practice families (they are the first).
    """

    tiles: NDArray[np.uint8]
    aspect: NDArray[np.float32]
    ident: NDArray[np.int64]
    own: int


def make_atlas(fonts: Sequence[Path], workers: int) -> Atlas:
    """Rasterise every family.

    Parameters
    ----------
    fonts : font files; only those that BLOCKS names are used. workers : processes.
    """
    jobs = [*_practice_jobs(), *_random_jobs(), *_glyph_jobs(fonts)]
    with ProcessPoolExecutor(workers) as pool:
        drawn = list(pool.map(_tile, jobs, chunksize=64))
    kept = [i for i, one in enumerate(drawn) if one is not None]
    tiles = np.stack([one[0] for one in drawn if one is not None])
    aspect = np.array([one[1] for one in drawn if one is not None], np.float32)
    ident = np.array([jobs[i][0] for i in kept], np.int64)
    own = int((ident < FIRST_NEW_IDENT).sum())
    chosen = np.concatenate([np.arange(own), own + _unlike(tiles[own:], tiles[:own])])
    return Atlas(tiles[chosen], aspect[chosen], ident[chosen], own)


Job = tuple[int, float, "Callable[..., Marks]", tuple[object, ...], tuple[float, ...]]


def _practice_jobs() -> list[Job]:
    rng = np.random.default_rng(41)
    train = [family for family in FAMILIES if family_split(family.name) == "train"]
    return [
        (family.ident, family.aspect, family.draw, (), tuple(rng.uniform(-1, 1, 4)))
        for family in sorted(train, key=lambda one: one.ident)
        for _ in range(STYLES)
    ]


def _random_jobs() -> list[Job]:
    rng = np.random.default_rng(42)
    jobs: list[Job] = []
    for number in range(SPLINES + BRANCHINGS):
        draw = spline_figure if number < SPLINES else branching_figure
        aspect = float(np.exp(rng.uniform(np.log(0.6), np.log(1.7))))
        for _ in range(2):
            jobs.append(
                (FIRST_NEW_IDENT + number, aspect, draw, (50_000 + number, aspect), tuple(rng.uniform(-1, 1, 4)))
            )
    return jobs


def _glyph_jobs(fonts: Sequence[Path]) -> list[Job]:
    held = {family.name.rsplit("-", 1)[1] for family in FAMILIES if family.source == "glyph" and
            family_split(family.name) != "train"}  # fmt: skip
    first = FIRST_NEW_IDENT + SPLINES + BRANCHINGS
    jobs: list[Job] = []
    for place, (name, blocks) in enumerate(BLOCKS.items()):
        for file in [one for one in fonts if one.name == name][:1]:
            codes = [code for low, high in blocks for code in range(low, high + 1) if f"{code:04x}" not in held]
            jobs += [
                (first + 2000 * place + k, 0.0, glyph_figure, (file, chr(code)), (0.0,) * 4)
                for k, code in enumerate(codes)
            ]
    return jobs


def _tile(job: Job) -> tuple[NDArray[np.uint8], float] | None:
    """Draw one family into its two maps, with its aspect; None where a font has no such sign, or next to nothing is drawn."""
    _, aspect, draw, arguments, style = job
    cv2.setNumThreads(1)
    marks = draw(np.array(style), *arguments)
    if not marks:
        return None
    wide = max(round(RASTER * (aspect or 1.0)), 16)
    filled, lines = np.zeros((RASTER, wide), np.uint8), np.zeros((RASTER, wide), np.uint8)
    for mark in marks:
        _lay(mark, filled, lines)
    if int(filled.sum()) + int(lines.sum()) < 150:
        return None
    if not aspect:
        lines, filled = _trimmed(lines, like=filled), _trimmed(filled)
    inside, outside = _distance(filled), _distance(1 - filled)
    signed = np.clip(np.where(filled > 0, -inside, outside) / RASTER, -FAR, FAR)
    apart = np.clip(_distance(1 - lines) / RASTER, -FAR, FAR)
    both = [cv2.resize(one.astype(np.float32), (TILE, TILE), interpolation=cv2.INTER_AREA) for one in (signed, apart)]
    packed = np.clip(np.rint(128 + 127 * np.stack(both) / FAR), 0, 255).astype(np.uint8)
    return packed, filled.shape[1] / RASTER


def _trimmed(picture: NDArray[np.uint8], like: NDArray[np.uint8] | None = None) -> NDArray[np.uint8]:
    """Cut empty columns off a sign, up to a small margin."""
    used = np.flatnonzero((picture if like is None else like).any(axis=0))
    return picture[:, max(int(used[0]) - 10, 0) : int(used[-1]) + 11]


def _lay(mark: Stroke | Fill | Dot, filled: NDArray[np.uint8], lines: NDArray[np.uint8]) -> None:
    if isinstance(mark, Stroke):
        cv2.polylines(lines, [np.rint(mark.points * RASTER * 16).astype(np.int32)], False, (1.0,), 1, cv2.LINE_8, 4)
    elif isinstance(mark, Fill):
        cv2.fillPoly(
            filled, [np.rint(ring * RASTER * 16).astype(np.int32) for ring in mark.rings], (1.0,), cv2.LINE_8, 4
        )
    else:
        centre = (round(float(mark.centre[0]) * RASTER), round(float(mark.centre[1]) * RASTER))
        cv2.circle(filled, centre, max(round(mark.radius * RASTER), 1), (1.0,), -1)


def _distance(free: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Distance of every nonzero pixel to the nearest zero, px; far everywhere when there is none."""
    if int(free.min()) > 0:
        return np.full(free.shape, FAR * RASTER, np.float32)
    return np.asarray(cv2.distanceTransform(free, cv2.DIST_L2, 5), np.float32)


def _unlike(tiles: NDArray[np.uint8], earlier: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Places of the tiles that look like none before them, in any turn or mirror image by right angles."""
    looks, before = _looks(tiles), _looks(earlier[::STYLES])
    turned = [np.rot90(side, k, (1, 2)) for side in (looks, looks[:, :, ::-1]) for k in range(4)]
    flat = looks.reshape(len(looks), -1)
    worst = np.full(len(looks), -1.0, np.float32)
    for one in turned:
        again = one.reshape(len(looks), -1)
        worst = np.maximum(worst, (again @ before.reshape(len(before), -1).T).max(axis=1, initial=-1.0))
        for first in range(0, len(looks), 1024):
            alike = again[first : first + 1024] @ flat.T
            alike[np.arange(flat.shape[0])[None, :] >= np.arange(first, first + len(alike))[:, None] - 1] = -1.0
            worst[first : first + 1024] = np.maximum(worst[first : first + 1024], alike.max(axis=1))
    return np.flatnonzero(worst < ALIKE)


def _looks(tiles: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Soft pictures (N, 24, 24) of what is drawn, without mean and of unit length."""
    reach = np.minimum(tiles[:, 0], tiles[:, 1]).astype(np.float32)
    drawn = 1 / (1 + np.exp((reach - 136) / 6))
    small = drawn.reshape(len(tiles), 24, 4, 24, 4).mean(axis=(2, 4))
    small = small - small.mean(axis=(1, 2), keepdims=True)
    return np.asarray(small / (np.sqrt(np.square(small).sum(axis=(1, 2), keepdims=True)) + 1e-6), np.float32)
