"""The photograph of style two: a table under a near lamp, seen by a camera with a tone curve."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from tests.outsider.optics import Image, encode_srgb
from tests.outsider.placing import place_shapes, to_millimetre_grid
from tests.outsider.scenes import Shot, TrayLook
from tests.outsider.style_two.cracking import contacts_of, crack_wall
from tests.outsider.style_two.designs import design_names
from tests.outsider.style_two.recipes import PotRecipe, draw_lot, draw_recipe
from tests.outsider.style_two.scenery import draw_measure, draw_ticket, spread_backdrop
from tests.outsider.style_two.sherd import Lamp, Look, Piece, cut_pieces, look_at
from tests.outsider.style_two.wall import build_wall

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

APART_MM = 3
INSET_MM = 3


def motif_names() -> list[str]:
    """All designs of this style."""
    return design_names()


def lot_recipes(kind: str, pots: int, rng: np.random.Generator) -> list[PotRecipe]:
    """Recipes of one lot's pots."""
    return draw_lot(kind, pots, rng)


def recipe_with(motifs: Sequence[str], rng: np.random.Generator) -> PotRecipe:
    """A new pot with these designs."""
    return draw_recipe(motifs, rng)


def px_range() -> tuple[float, float]:
    """Resolutions that this style's camera is used at, px/mm."""
    return 6.5, 10.5


def break_pot(
    recipe: PotRecipe, pieces: int, px_per_mm: float, rng: np.random.Generator
) -> tuple[list[Piece], dict[tuple[int, int], float]]:
    """Build and break one pot; the resolution does not matter before the photograph."""
    wall = build_wall(recipe, rng)
    labels = crack_wall(recipe.girth_mm, recipe.height_mm, pieces, rng)
    return cut_pieces(wall, labels, rng), contacts_of(labels)


def photograph(pieces: Sequence[Piece], look: TrayLook, rng: np.random.Generator) -> Shot:
    """Lay pieces, a measure and tickets on a table and photograph them."""
    px, lamp = look.px_per_mm, _draw_lamp(rng)
    looks = [look_at(piece, px, lamp, rng) for piece in pieces]
    paper = [_measure(look.bar_mm, px, rng)] if look.bar_mm else []
    paper += [_ticket(px, rng) for _ in range(look.slips)]
    corners, shape = _lay_out([*looks, *paper], px, rng)
    scene = spread_backdrop(look.backdrop, look.backdrop_seed, shape, px)
    for item, corner in zip(paper, corners[len(looks) :], strict=True):
        _put(scene, item, corner)
    _sprinkle(scene, px, rng)
    scene *= _cast_shadows(looks, corners, shape, px, lamp, rng)[..., None]
    for item, corner in zip(looks, corners, strict=False):
        _put(scene, item, corner)
    rgb = _develop(scene * _lamp_field(shape, px, rng), rng)
    masks = tuple((item.cover > 0.5, corner) for item, corner in zip(looks, corners, strict=False))
    return Shot(rgb, masks, px, int(rng.integers(84, 95)), halve_chroma=True)


def _draw_lamp(rng: np.random.Generator) -> Lamp:
    azimuth, rise = rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(32, 62))
    level = np.cos(rise)
    return Lamp(
        (float(level * np.cos(azimuth)), float(level * np.sin(azimuth)), float(np.sin(rise))),
        float(rng.uniform(0.4, 0.65)),
    )


def _lay_out(
    items: Sequence[Look], px: float, rng: np.random.Generator
) -> tuple[list[tuple[int, int]], tuple[int, int]]:
    footprints = [to_millimetre_grid(item.cover > 0, px) for item in items]
    side = np.sqrt(sum(float(f.sum()) for f in footprints) / rng.uniform(0.26, 0.4))
    ratio = float(rng.choice([1.5, 1.333, 0.75]))
    while True:
        wide, tall = round(max(side * np.sqrt(ratio), 118)), round(max(side / np.sqrt(ratio), 90))
        corners = place_shapes(footprints, (wide, tall), APART_MM, INSET_MM, rng)
        if corners is not None:
            return [(round(x * px), round(y * px)) for x, y in corners], (round(tall * px), round(wide * px))
        side *= 1.07


def _measure(bar_mm: int, px: float, rng: np.random.Generator) -> Look:
    card = draw_measure(bar_mm, px, rng)
    angle = float(rng.choice([0, 90]) + rng.normal(0, 6))
    reach = int(np.hypot(*card.shape)) + 8
    reach += -reach % 4
    turn = cv2.getRotationMatrix2D(((card.shape[1] - 1) / 2, (card.shape[0] - 1) / 2), angle, 1.0)
    turn[:, 2] += (reach - 1) / 2 - (np.array(card.shape[::-1]) - 1) / 2
    small = (reach // 4, reach // 4)
    cover = cv2.resize(cv2.warpAffine(np.ones_like(card), turn, (reach, reach)), small, interpolation=cv2.INTER_AREA)
    ink = cv2.resize(cv2.warpAffine(card, turn, (reach, reach)), small, interpolation=cv2.INTER_AREA) / np.maximum(
        cover, 1e-3
    )
    ys, xs = np.flatnonzero((cover > 0).any(1)), np.flatnonzero((cover > 0).any(0))
    box = np.s_[ys[0] : ys[-1] + 1, xs[0] : xs[-1] + 1]
    return Look(np.repeat(ink[box][..., None], 3, 2), cover[box])


def _ticket(px: float, rng: np.random.Generator) -> Look:
    ticket = draw_ticket(f"K{rng.integers(1, 40)}/{rng.integers(1, 400)}", px, rng)
    tint = np.array([1.0, rng.uniform(0.93, 1.0), rng.uniform(0.75, 0.97)], np.float32)
    return Look(ticket[..., None] * tint, np.ones(ticket.shape, np.float32))


def _sprinkle(scene: Image, px: float, rng: np.random.Generator) -> None:
    """Grit and lint."""
    for _ in range(int(rng.integers(5, 50))):
        place = rng.random(2) * scene.shape[1::-1]
        tone = rng.uniform(0.08, 0.45)
        reach = rng.exponential(0.25, 2) * px * rng.choice([-1, 1], 2)
        ends = [tuple(int(c) for c in place), tuple(int(c) for c in place + reach)]
        cv2.line(
            scene,
            ends[0],
            ends[1],
            (tone, tone * 0.8, tone * 0.6),
            max(1, round(rng.uniform(0.1, 0.5) * px)),
            cv2.LINE_AA,
        )


def _cast_shadows(
    looks: Sequence[Look],
    corners: Sequence[tuple[int, int]],
    shape: tuple[int, int],
    px: float,
    lamp: Lamp,
    rng: np.random.Generator,
) -> Image:
    solid = np.zeros(shape, np.float32)
    for item, (x, y) in zip(looks, corners, strict=False):
        window = solid[y : y + item.cover.shape[0], x : x + item.cover.shape[1]]
        np.maximum(window, item.cover, out=window)
    small = cv2.resize(solid, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    thick = rng.uniform(4, 8) * px / 2
    away = -np.array(lamp.toward[:2]) / lamp.toward[2]
    cast = small.copy()
    for share in np.linspace(0.15, 1, 6):
        move = np.array([[1, 0, away[0] * thick * share], [0, 1, away[1] * thick * share]])
        np.maximum(cast, cv2.warpAffine(small, move, small.shape[::-1]), out=cast)
    blur = rng.uniform(0.6, 2.2) * px / 2
    dark = (1 - lamp.ambient) * rng.uniform(0.5, 0.9)
    near = cv2.GaussianBlur(small, (0, 0), 1.2 * px / 2)
    shade = 1 - dark * cv2.GaussianBlur(cast, (0, 0), blur) - 0.15 * near
    return cv2.resize(shade, (shape[1], shape[0]))


def _put(scene: Image, item: Look, corner: tuple[int, int]) -> None:
    x, y = corner
    window = scene[y : y + item.cover.shape[0], x : x + item.cover.shape[1]]
    cover = item.cover[: window.shape[0], : window.shape[1], None]
    window *= 1 - cover
    window += item.radiance[: window.shape[0], : window.shape[1]] * cover


def _lamp_field(shape: tuple[int, int], px: float, rng: np.random.Generator) -> Image:
    """Inverse-square light from a lamp some way off, plus even light, coloured by the lamp."""
    y, x = np.meshgrid(
        np.linspace(-0.5, 0.5, shape[0]) * shape[0] / px,
        np.linspace(-0.5, 0.5, shape[1]) * shape[1] / px,
        indexing="ij",
    )
    far = rng.uniform(550, 1000)
    cx, cy = rng.uniform(-0.35, 0.35, 2) * far
    near = far**3 / ((x - cx) ** 2 + (y - cy) ** 2 + far**2) ** 1.5
    even = rng.uniform(0.3, 0.6)
    field = even + (1 - even) * near / near.mean()
    kelvin = rng.normal(0, 0.12)
    colour = np.array([np.exp(kelvin), np.exp(rng.normal(0, 0.02)), np.exp(-kelvin)]) * rng.uniform(0.68, 1.0)
    return (field[..., None] * colour).astype(np.float32)


def _develop(scene: Image, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Lens blur, photon and colour noise, sharpening, a mild tone curve."""
    scene = cv2.GaussianBlur(scene, (0, 0), rng.uniform(0.5, 1.1))
    grain = rng.standard_normal(scene.shape[:2], dtype=np.float32)[..., None]
    tint = cv2.GaussianBlur(rng.standard_normal(scene.shape, dtype=np.float32), (0, 0), 1.2) * 2
    level = np.sqrt(np.maximum(scene, 0.0) + 0.02)
    scene = scene + level * (rng.uniform(0.004, 0.014) * grain + rng.uniform(0.002, 0.006) * tint)
    scene = scene + rng.uniform(0, 0.5) * (scene - cv2.GaussianBlur(scene, (0, 0), 1.5))
    rgb = encode_srgb(scene)
    steps = np.arange(256) / 255
    curve = steps - rng.uniform(0, 0.18) * np.sin(2 * np.pi * steps) / (2 * np.pi)
    return np.round(curve * 255).astype(np.uint8)[rgb]
