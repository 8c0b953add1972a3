"""The tray under the sherds: backdrop, scale bar, labels, dust, and where everything lies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.practice.arrays import ByteMap, FloatArray, Map, as_map, blurred, layered_noise, resized, smooth_noise
from motifs.practice.colours import lab_to_linear, srgb_to_linear
from motifs.practice.sherds import turned

if TYPE_CHECKING:
    from collections.abc import Sequence

BACKDROPS: dict[str, tuple[int, int, int]] = {
    "white": (232, 232, 228),
    "light grey": (190, 191, 190),
    "grey": (126, 126, 125),
    "dark grey": (66, 66, 67),
    "black": (28, 28, 29),
    "blue": (62, 92, 140),
    "green": (70, 112, 84),
    "sand": (205, 190, 160),
    "black cloth": (34, 33, 36),
    "grey cloth": (112, 112, 114),
    "linen": (206, 198, 182),
}
"""sRGB of the card or cloth under the sherds."""
BAR_DESIGNS = ("row", "row outlined", "two rows", "row on card", "two rows on card")


@dataclass(frozen=True, slots=True)
class Flat:
    """A flat thing that lies on the tray: a bar or a label.

    outline_px: (4, 2) in the photograph. cover: (h, w); albedo: (h, w, 3) linear; corner_px: (x, y) of its patch.
    thickness_mm: how far it stands above the backdrop.
    """

    outline_px: FloatArray
    cover: Map
    albedo: Map
    corner_px: tuple[int, int]
    thickness_mm: float


def draw_backdrop(rng: np.random.Generator, kind: str, shape: tuple[int, int], px_per_mm: float) -> Map:
    """Return the backdrop's albedo (H, W, 3), linear: plain card with a faint grain, or woven cloth with folds."""
    colour = srgb_to_linear(BACKDROPS[kind]).astype(np.float32)
    tone = 0.015 * layered_noise(rng, shape, (60 * px_per_mm, 9 * px_per_mm), 0.5)
    if "cloth" in kind or kind == "linen":
        tone = tone + _weave(rng, shape, px_per_mm)
    else:
        grain = rng.standard_normal((shape[0], shape[1]), dtype=np.float32)
        tone = tone + np.float32(0.012) * grain
    return as_map(colour * np.exp(tone)[..., None])


def _weave(rng: np.random.Generator, shape: tuple[int, int], ppm: float) -> Map:
    """Return the tone of a plain weave, its threads uneven, with soft folds."""
    pitch = float(rng.uniform(0.55, 1.1)) * ppm
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    stray = smooth_noise(rng, shape, 12 * ppm) * np.float32(0.25)
    u, v = x / np.float32(pitch) + stray, y / np.float32(pitch) + stray[::-1]
    threads = np.sin(np.pi * u) * np.sin(np.pi * v)
    slubs = smooth_noise(rng, shape, 9 * ppm, 0.7 * ppm) + smooth_noise(rng, shape, 0.7 * ppm, 9 * ppm)
    folds = smooth_noise(rng, shape, 120 * ppm, 50 * ppm)
    return as_map(0.13 * threads + 0.04 * slubs + 0.045 * folds)


def draw_bar(
    rng: np.random.Generator, design: str, bar_mm: float, px_per_mm: float, place_mm: FloatArray, turn_deg: float
) -> Flat:
    """Draw a checkered scale bar of 1 cm blocks, black and white in turn.

    Parameters
    ----------
    rng : Generator
    design : one of BAR_DESIGNS
    bar_mm : 50 or 100
    px_per_mm : of the photograph
    place_mm : (2,) the middle of the bar on the tray
    turn_deg : clockwise from lying level
    """
    deep = float(rng.uniform(5.0, 11.0))
    margin = float(rng.uniform(3.0, 6.0)) if "card" in design else 0.0
    size = np.array([bar_mm + 2 * margin, deep + 2 * margin + (6.0 if margin else 0.0)])
    fine = 6.0
    face = np.full((int(size[1] * fine), int(size[0] * fine)), 228, np.uint8)
    _blocks(face, design, bar_mm, deep, margin, fine)
    if margin and rng.random() < 0.7:
        _figures(face, bar_mm, deep, margin, fine)
    albedo = srgb_to_linear(np.repeat(face[..., None], 3, axis=2)).astype(np.float32)
    return _laid(albedo * np.float32(rng.uniform(0.9, 1.05)), size, px_per_mm, place_mm, turn_deg, 0.8)


def _blocks(face: ByteMap, design: str, bar_mm: float, deep: float, margin: float, fine: float) -> None:
    """Paint the blocks of a bar into its face."""
    rows = 2 if design.startswith("two") else 1
    for row in range(rows):
        for k in range(int(bar_mm // 10)):
            if (k + row) % 2 == 0:
                x, y = margin + 10 * k, margin + deep * row / rows
                low = (round(x * fine), round(y * fine))
                high = (round((x + 10) * fine) - 1, round((y + deep / rows) * fine) - 1)
                cv2.rectangle(face, low, high, (32.0,), -1)
    if "outlined" in design or "card" in design:
        near, far = int(margin * fine), int((margin + deep) * fine) - 1
        cv2.rectangle(face, (near, near), (int((margin + bar_mm) * fine) - 1, far), (32.0,), max(int(0.5 * fine), 1))


def _figures(face: ByteMap, bar_mm: float, deep: float, margin: float, fine: float) -> None:
    """Print the figures under a bar."""
    for k in range(0, int(bar_mm // 10) + 1, 1 if bar_mm < 60 else 5):
        at = (int((margin + 10 * k - 1.2) * fine), int((margin + deep + 5.0) * fine))
        cv2.putText(
            face, str(k), at, cv2.FONT_HERSHEY_SIMPLEX, 0.11 * fine, (40.0,), max(int(0.25 * fine), 1), cv2.LINE_AA
        )
    at = (int((margin + bar_mm - 9) * fine), int((margin + deep + 5.0) * fine))
    cv2.putText(face, "cm", at, cv2.FONT_HERSHEY_SIMPLEX, 0.1 * fine, (40.0,), max(int(0.25 * fine), 1), cv2.LINE_AA)


def draw_label(rng: np.random.Generator, text: str, px_per_mm: float, place_mm: FloatArray, turn_deg: float) -> Flat:
    """Draw a paper label with a written number."""
    size = np.array([max(16.0, 4.2 * len(text) + 7.0), 11.0])
    fine = 8.0
    face = np.full((int(size[1] * fine), int(size[0] * fine)), int(rng.integers(222, 244)), np.uint8)
    at = (int(3 * fine), int(7.6 * fine))
    cv2.putText(
        face, text, at, cv2.FONT_HERSHEY_SCRIPT_SIMPLEX, 0.2 * fine, (50.0,), max(int(0.5 * fine), 1), cv2.LINE_AA
    )
    tint = np.array([1.0, float(rng.uniform(0.96, 1.0)), float(rng.uniform(0.86, 1.0))], np.float32)
    albedo = srgb_to_linear(np.repeat(face[..., None], 3, axis=2)).astype(np.float32) * tint
    return _laid(albedo, size, px_per_mm, place_mm, turn_deg, 0.3)


def _laid(
    albedo: Map, size_mm: FloatArray, px_per_mm: float, place_mm: FloatArray, turn_deg: float, thickness_mm: float
) -> Flat:
    """Put a flat face down on the tray at a place and an angle."""
    half = size_mm / 2
    corners = turned(np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half, turn_deg)
    outline = (corners + place_mm) * px_per_mm - 0.5
    low = np.floor(outline.min(axis=0)).astype(int) - 2
    wide, high = (np.ceil(outline.max(axis=0)).astype(int) + 3 - low).tolist()
    goal = ((outline[:3] - low + 0.5) * 2 - 0.5).astype(np.float32)
    rows, columns = albedo.shape[:2]
    source = np.array([[-0.5, -0.5], [columns - 0.5, -0.5], [columns - 0.5, rows - 0.5]], np.float32)
    move = cv2.getAffineTransform(source, goal)
    soft = blurred(albedo, max(rows / size_mm[1] / px_per_mm / 2 * 0.4, 0.16))
    face = cv2.warpAffine(soft, move, (wide * 2, high * 2), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    cover = np.zeros((high * 2, wide * 2), np.uint8)
    cv2.fillPoly(cover, [np.round(((outline - low + 0.5) * 2 - 0.5) * 16).astype(np.int32)], (255.0,), cv2.LINE_8, 4)
    small = (high, wide)
    return Flat(
        outline,
        resized(cover, small, cv2.INTER_AREA) / np.float32(255),
        resized(face, small, cv2.INTER_AREA),
        (int(low[0]), int(low[1])),
        thickness_mm,
    )


def scatter_dust(rng: np.random.Generator, albedo: Map, px_per_mm: float, per_dm2: float) -> None:
    """Strew specks, crumbs and a few fibres over a backdrop, in place."""
    rows, columns = albedo.shape[:2]
    count = int(rng.poisson(per_dm2 * rows * columns / (100 * px_per_mm) ** 2))
    clay = lab_to_linear((float(rng.uniform(45, 65)), 12.0, 18.0))
    for _ in range(count):
        x, y = rng.uniform(0, columns), rng.uniform(0, rows)
        size = float(np.exp(rng.normal(np.log(0.35), 0.5))) * px_per_mm
        shape = np.array([x, y]) + size * rng.uniform(0.4, 1.0, (7, 1)) * np.stack(
            [np.cos(np.linspace(0, 5.4, 7)), np.sin(np.linspace(0, 5.4, 7))], axis=1
        )
        colour = clay * rng.uniform(0.6, 1.2)
        cv2.fillPoly(albedo, [np.round(shape * 16).astype(np.int32)], tuple(colour.tolist()), cv2.LINE_8, 4)


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Where things lie. size_mm: (width, height) of the tray; places_mm: (N, 2) centres, in the order given."""

    size_mm: tuple[float, float]
    places_mm: FloatArray


def arrange(rng: np.random.Generator, outlines_mm: Sequence[FloatArray], gap_mm: float, fill: float) -> Arrangement:
    """Find places for outlines (mm, each about its own centre) so that none overlap.

    Parameters
    ----------
    rng : Generator
    outlines_mm : polygons
    gap_mm : least distance between two of them and to the frame
    fill : share of the tray that they should cover; the tray grows until all find room
    """
    if not outlines_mm:
        return Arrangement((200.0, 150.0), np.zeros((0, 2)))
    stamps = [_stamp(one, gap_mm) for one in outlines_mm]
    area = sum(float(stamp.sum()) for stamp, _ in stamps)
    longest = max(max(stamp.shape) for stamp, _ in stamps)
    aspect = float(rng.choice([4 / 3, 3 / 2, 3 / 4]))
    width = max(np.sqrt(area / fill * aspect), longest + 4.0)
    height = max(area / fill / width, longest + 4.0)
    while True:
        places = _try_places(rng, stamps, int(width), int(height))
        if places is not None:
            return Arrangement((float(int(width)), float(int(height))), places)
        width, height = width * 1.06, height * 1.06


Stamp = tuple[np.ndarray[tuple[int, int], np.dtype[np.bool_]], FloatArray]


def _stamp(outline_mm: FloatArray, gap_mm: float) -> Stamp:
    """Return an outline on a grid of 1 mm, fattened by half the gap, and the offset of its centre in the grid."""
    low = np.floor(outline_mm.min(axis=0)) - gap_mm / 2 - 1
    size = np.ceil(outline_mm.max(axis=0) + gap_mm / 2 + 1 - low).astype(int)
    grid = np.zeros((size[1], size[0]), np.uint8)
    cv2.fillPoly(grid, [np.round((outline_mm - low) * 16).astype(np.int32)], (1.0,), cv2.LINE_8, 4)
    reach = int(np.ceil(gap_mm / 2)) * 2 + 1
    fat = cv2.dilate(grid, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach)))
    return np.asarray(fat, np.bool_), -low


def _try_places(rng: np.random.Generator, stamps: Sequence[Stamp], width: int, height: int) -> FloatArray | None:
    """Throw the stamps, largest first, at random places that are free; None when one finds no room."""
    taken = np.zeros((height, width), np.bool_)
    places = np.zeros((len(stamps), 2))
    for k in sorted(range(len(stamps)), key=lambda k: -stamps[k][0].size):
        stamp, centre = stamps[k]
        rows, columns = stamp.shape
        if rows > height or columns > width:
            return None
        for _ in range(220):
            x, y = int(rng.integers(0, width - columns + 1)), int(rng.integers(0, height - rows + 1))
            if not np.any(taken[y : y + rows, x : x + columns] & stamp):
                taken[y : y + rows, x : x + columns] |= stamp
                places[k] = centre + np.array([x, y])
                break
        else:
            return None
    return places
