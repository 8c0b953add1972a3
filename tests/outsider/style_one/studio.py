"""The tray photograph of style one: reflectance of everything on the tray times one field of light."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from tests.outsider.optics import Image, encode_srgb
from tests.outsider.placing import place_shapes, to_millimetre_grid
from tests.outsider.scenes import Shot, TrayLook
from tests.outsider.style_one.backdrops import draw_bar, draw_slip, lay_backdrop, turn_bar
from tests.outsider.style_one.breakage import Piece, shatter
from tests.outsider.style_one.figures import FIGURES
from tests.outsider.style_one.recipes import PotRecipe, draw_lot, draw_recipe
from tests.outsider.style_one.surface import make_surface

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

GAP_MM = 4
MARGIN_MM = 4


@dataclass(frozen=True)
class Cut:
    """Something flat to lay on the tray: reflectance (h, w, 3), coverage (h, w) 0..1, shading factor (h, w)."""

    albedo: Image
    cover: Image
    shade: Image
    is_sherd: bool


def motif_names() -> list[str]:
    """All motifs of this style."""
    return list(FIGURES)


def lot_recipes(kind: str, pots: int, rng: np.random.Generator) -> list[PotRecipe]:
    """Recipes of one lot's pots."""
    return draw_lot(kind, pots, rng)


def recipe_with(motifs: Sequence[str], rng: np.random.Generator) -> PotRecipe:
    """A new pot with these motifs."""
    return draw_recipe(motifs, rng)


def px_range() -> tuple[float, float]:
    """Resolutions that this style's camera is used at, px/mm."""
    return 7.5, 10.5


def break_pot(
    recipe: PotRecipe, pieces: int, px_per_mm: float, rng: np.random.Generator
) -> tuple[list[Piece], dict[tuple[int, int], float]]:
    """Decorate and break one pot."""
    return shatter(make_surface(recipe, px_per_mm, rng), pieces, rng)


def photograph(pieces: Sequence[Piece], look: TrayLook, rng: np.random.Generator) -> Shot:
    """Lay pieces on a tray with a bar and slips, and photograph it."""
    px = look.px_per_mm
    toward = rng.uniform(0, 2 * np.pi)
    light = np.array([np.cos(toward), np.sin(toward)]) * rng.uniform(0.25, 0.55)
    cuts = [_turned(piece, px, light, rng) for piece in pieces]
    extras = [_bar_cut(look.bar_mm, px, rng)] if look.bar_mm else []
    extras += [_slip_cut(px, rng) for _ in range(look.slips)]
    corners, tray_mm = _arrange([*cuts, *extras], px, rng)
    shape = (round(tray_mm[1] * px), round(tray_mm[0] * px))
    albedo = lay_backdrop(look.backdrop, look.backdrop_seed, shape, px)
    _dust(albedo, px, rng)
    pixel_corners = [(round(x * px), round(y * px)) for x, y in corners]
    albedo *= _shadow(cuts, pixel_corners, shape, px, light, rng)[..., None]
    for cut, corner in zip([*cuts, *extras], pixel_corners, strict=True):
        _lay(albedo, cut, corner)
    rgb = _expose(albedo * _light_field(shape, rng), rng)
    masks = tuple((cut.cover > 0.5, corner) for cut, corner in zip(cuts, pixel_corners, strict=False))
    return Shot(rgb, masks, px, int(rng.integers(88, 96)), halve_chroma=False)


def _arrange(cuts: Sequence[Cut], px: float, rng: np.random.Generator) -> tuple[list[tuple[int, int]], tuple[int, int]]:
    footprints = [to_millimetre_grid(cut.cover > 0.01, px) for cut in cuts]
    area = sum(float(foot.sum()) for foot in footprints) / rng.uniform(0.3, 0.42)
    width = max(np.sqrt(area * 4 / 3), max(foot.shape[1] for foot in footprints) + 4 * MARGIN_MM, 130)
    while True:
        tray = (round(width), round(max(width * 0.75, max(foot.shape[0] for foot in footprints) + 4 * MARGIN_MM)))
        corners = place_shapes(footprints, tray, GAP_MM, MARGIN_MM, rng)
        if corners is not None:
            return corners, tray
        width *= 1.08


def _turned(piece: Piece, px: float, light: NDArray[np.float64], rng: np.random.Generator) -> Cut:
    angle, zoom = rng.uniform(0, 360), px / piece.px_per_mm
    height, width = piece.mask.shape
    side = int(np.hypot(height, width) * zoom) + 4
    turn = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), angle, zoom)
    turn[:, 2] += (side - 1) / 2 - np.array([(width - 1) / 2, (height - 1) / 2])
    method = cv2.INTER_CUBIC if zoom > 1 else cv2.INTER_LINEAR
    albedo = cv2.warpAffine(piece.albedo, turn, (side, side), flags=method, borderMode=cv2.BORDER_REPLICATE)
    soft = cv2.GaussianBlur(piece.mask.astype(np.float32), (0, 0), 0.8)
    cover = np.clip((cv2.warpAffine(soft, turn, (side, side)) - 0.5) * 1.6 + 0.5, 0, 1)
    ys, xs = np.flatnonzero((cover > 0.02).any(1)), np.flatnonzero((cover > 0.02).any(0))
    box = np.s_[ys[0] : ys[-1] + 1, xs[0] : xs[-1] + 1]
    shade = _bend_shade(side, np.radians(angle), piece.wall_radius_mm * px, light)[box]
    return Cut(np.clip(albedo[box], 0.002, 1), cover[box], shade * _edge_shade(cover[box], px, rng), is_sherd=True)


def _bend_shade(side: int, angle: float, radius_px: float, light: NDArray[np.float64]) -> Image:
    """Lambert shading of a wall bent about one axis, relative to a flat one."""
    y, x = (np.mgrid[0:side, 0:side] - (side - 1) / 2).astype(np.float32)
    across = (x * np.cos(angle) - y * np.sin(angle)) / radius_px
    slope = np.clip(across, -0.9, 0.9)
    along_light = np.cos(angle) * light[0] - np.sin(angle) * light[1]
    return np.clip(np.sqrt(1 - slope**2) + slope * along_light, 0.35, 1.4).astype(np.float32)


def _edge_shade(cover: Image, px: float, rng: np.random.Generator) -> Image:
    depth = cv2.distanceTransform((np.pad(cover, 1) > 0.5).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1] / px
    dark = rng.uniform(0.1, 0.35)
    return (1 - dark * np.exp(-depth / 0.5)).astype(np.float32)


def _bar_cut(bar_mm: int, px: float, rng: np.random.Generator) -> Cut:
    bar, _ = draw_bar(bar_mm, px, rng)
    ink, cover = turn_bar(bar, 4, float(rng.choice([0, 90, 180]) + rng.normal(0, 3)))
    ys, xs = np.flatnonzero((cover > 0.02).any(1)), np.flatnonzero((cover > 0.02).any(0))
    box = np.s_[ys[0] : ys[-1] + 1, xs[0] : xs[-1] + 1]
    return Cut(np.repeat(ink[box][..., None], 3, 2), cover[box], np.ones_like(ink[box]), is_sherd=False)


def _slip_cut(px: float, rng: np.random.Generator) -> Cut:
    slip = draw_slip(f"{rng.integers(1, 99)}-{rng.integers(1, 999)}", px, rng)
    return Cut(np.repeat(slip[..., None], 3, 2), np.ones_like(slip), np.ones_like(slip), is_sherd=False)


def _dust(albedo: Image, px: float, rng: np.random.Generator) -> None:
    for _ in range(int(rng.integers(5, 40))):
        x, y = rng.integers(albedo.shape[1]), rng.integers(albedo.shape[0])
        tone = lab_tone(rng)
        cv2.circle(albedo, (int(x), int(y)), max(1, round(rng.uniform(0.1, 0.5) * px)), tone, -1, cv2.LINE_AA)


def lab_tone(rng: np.random.Generator) -> tuple[float, float, float]:
    """Clay dust, linear RGB."""
    tone = rng.uniform(0.12, 0.5)
    return float(tone), float(tone * 0.75), float(tone * 0.55)


def _shadow(
    cuts: Sequence[Cut],
    corners: Sequence[tuple[int, int]],
    shape: tuple[int, int],
    px: float,
    light: NDArray[np.float64],
    rng: np.random.Generator,
) -> Image:
    solid = np.zeros(shape, np.float32)
    for cut, (x, y) in zip(cuts, corners, strict=False):
        window = solid[y : y + cut.cover.shape[0], x : x + cut.cover.shape[1]]
        np.maximum(window, cut.cover[: window.shape[0], : window.shape[1]], out=window)
    thick, soft = rng.uniform(4, 8), rng.uniform(1.0, 3.0)
    move = np.array([[1, 0, -light[0] * thick * px], [0, 1, -light[1] * thick * px]])
    cast = cv2.warpAffine(cv2.GaussianBlur(solid, (0, 0), soft * px), move, (shape[1], shape[0]))
    contact = cv2.GaussianBlur(solid, (0, 0), 0.5 * px)
    return 1 - rng.uniform(0.25, 0.5) * cast - 0.2 * contact


def _lay(albedo: Image, cut: Cut, corner: tuple[int, int]) -> None:
    x, y = corner
    window = albedo[y : y + cut.cover.shape[0], x : x + cut.cover.shape[1]]
    cover = cut.cover[: window.shape[0], : window.shape[1], None]
    top = (cut.albedo * cut.shade[..., None])[: window.shape[0], : window.shape[1]]
    window[:] = window * (1 - cover) + top * cover


def _light_field(shape: tuple[int, int], rng: np.random.Generator) -> Image:
    """Cast, falloff across the tray and vignetting, (H, W, 3)."""
    warm = rng.uniform(-0.16, 0.16)
    cast = np.array([1 + warm, 1 + rng.uniform(-0.03, 0.03), 1 - warm], np.float32) * rng.uniform(0.72, 1.05)
    y, x = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j].astype(np.float32)
    turn, fall = rng.uniform(0, 2 * np.pi), rng.uniform(0.03, 0.2)
    field = 1 + fall * (np.cos(turn) * x + np.sin(turn) * y) - rng.uniform(0.02, 0.1) * (x**2 + y**2)
    return field[..., None] * cast


def _expose(scene: Image, rng: np.random.Generator) -> NDArray[np.uint8]:
    scene = cv2.GaussianBlur(scene, (0, 0), rng.uniform(0.4, 0.9))
    shot, read = rng.uniform(0.004, 0.012), rng.uniform(0.001, 0.003)
    grain = rng.standard_normal(scene.shape, dtype=np.float32)
    scene += grain * np.sqrt(shot**2 * np.maximum(scene, 0) + read**2)
    return encode_srgb(scene)
