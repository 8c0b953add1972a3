"""One sherd as the camera sees it from above: the curved piece, its worn edge, its colours and heights."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.practice.arrays import FloatArray, Map, as_map, blurred, resized, smooth_noise, soft_step
from motifs.practice.colours import lab_to_linear, mixed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.practice.breaking import Fragment
    from motifs.practice.forms import VesselForm
    from motifs.practice.pots import PaintedPot

COARSE = 8
MARGIN_PX = 4


@dataclass(frozen=True, slots=True)
class SherdImage:
    """A sherd in its own patch of the photograph.

    outline_px: (N, 2) in the patch. corner_px: (2,) of the patch, from the sherd's centre. cover: (h, w) float32, share of each pixel that is sherd. albedo: (h, w, 3)
    float32 linear. height_mm: (h, w) float32 above the backdrop. gloss: 0..1. motif_map: (h, w) int16. ink: (h, w) bool.
    """

    outline_px: FloatArray
    corner_px: FloatArray
    cover: Map
    albedo: Map
    height_mm: Map
    gloss: float
    motif_map: NDArray[np.int16]
    ink: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Pose:
    """How a sherd lies on the tray: turn_deg clockwise in the photograph, tilt (mm of height a mm) in x and y."""

    turn_deg: float
    tilt_x: float
    tilt_y: float
    edge_mm: float  # how far its edges are worn


def flat_outline(form: VesselForm, fragment: Fragment) -> tuple[FloatArray, FloatArray]:
    """Return a fragment's outline as seen from above (mm, centred, unturned) and its centre on the surface (mm)."""
    centre = fragment.polygon_mm.mean(axis=0)
    local, _ = _raised(form, centre, fragment.polygon_mm)
    return local, centre


def _tangent(form: VesselForm, down_mm: float) -> tuple[float, float]:
    """Return the profile's direction at a place, as (down, outward) of unit length."""
    step = 1.0
    a, b = max(down_mm - step, 0.0), min(down_mm + step, form.height_mm)
    drop = np.interp([a, b], form.down_mm, form.drop_mm)
    radius = np.interp([a, b], form.down_mm, form.radius_mm)
    way = np.array([drop[1] - drop[0], radius[1] - radius[0]])
    way /= np.hypot(*way)
    return float(way[0]), float(way[1])


def _raised(form: VesselForm, centre: FloatArray, surface_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Carry points of the developed surface into the plane that touches the pot at the centre; also their heights."""
    down, out = _tangent(form, float(centre[1]))
    angle = (surface_mm[:, 0] - centre[0]) / form.radius_mm.max()
    radius = np.interp(surface_mm[:, 1], form.down_mm, form.radius_mm)
    drop = np.interp(surface_mm[:, 1], form.down_mm, form.drop_mm)
    d_down = drop - np.interp(centre[1], form.down_mm, form.drop_mm)
    d_out = radius * np.cos(angle) - form.radius_at(float(centre[1]))
    plane = np.stack([radius * np.sin(angle), d_down * down + d_out * out], axis=1)
    return plane, d_out * down - d_down * out


def _unrolled(
    form: VesselForm, centre: FloatArray, x: FloatArray, y: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Find the surface point above each point of the plane: x and y on the developed surface, and the height (mm)."""
    down, out = _tangent(form, float(centre[1]))
    r0, z0 = form.radius_at(float(centre[1])), np.interp(centre[1], form.down_mm, form.drop_mm)
    along = (form.drop_mm - z0) * down + (form.radius_mm - r0) * out
    low, high = _rising_run(along, int(np.argmin(np.abs(form.down_mm - centre[1]))))
    along, place = along[low:high], form.down_mm[low:high]
    surface_y = np.interp(y, along, place)
    for _ in range(4):
        radius = np.interp(surface_y, form.down_mm, form.radius_mm)
        angle = np.arcsin(np.clip(x / radius, -0.98, 0.98))
        target = y + radius * (1 - np.cos(angle)) * out
        beyond = target - np.clip(target, along[0], along[-1])
        surface_y = np.interp(target, along, place) + beyond
    radius = np.interp(surface_y, form.down_mm, form.radius_mm)
    angle = np.arcsin(np.clip(x / radius, -0.98, 0.98))
    d_down = np.interp(surface_y, form.down_mm, form.drop_mm) - z0
    height = (radius * np.cos(angle) - r0) * down - d_down * out
    return centre[0] + angle * form.radius_mm.max(), surface_y, height


def _rising_run(along: FloatArray, start: int) -> tuple[int, int]:
    """Return the stretch around a place in which a table rises without a break."""
    rises = np.diff(along) > 0
    low, high = start, start
    while low > 0 and rises[low - 1]:
        low -= 1
    while high < len(along) - 1 and rises[high]:
        high += 1
    return low, high + 1


def worn_outline(outline_mm: FloatArray, edge_mm: float) -> FloatArray:
    """Round an outline's corners and draw it in, as edges worn by edge_mm look."""
    legs = np.hypot(*(np.roll(outline_mm, -1, axis=0) - outline_mm).T)
    sigma = max(0.55 * edge_mm / max(float(np.median(legs)), 1e-6), 0.3)
    reach = min(int(3 * sigma) + 1, len(outline_mm) - 1)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    kernel /= kernel.sum()
    padded = np.concatenate([outline_mm[-reach:], outline_mm, outline_mm[:reach]])
    smooth = np.stack([np.convolve(padded[:, k], kernel, mode="valid") for k in (0, 1)], axis=1)
    ahead = np.roll(smooth, -1, axis=0) - np.roll(smooth, 1, axis=0)
    ahead /= np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    turn = np.sign(np.sum(smooth[:, 0] * np.roll(smooth[:, 1], -1) - np.roll(smooth[:, 0], -1) * smooth[:, 1]))
    inward = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1) * turn
    return np.asarray(smooth + inward * 0.15 * edge_mm)


def turned(points_mm: FloatArray, turn_deg: float) -> FloatArray:
    """Turn points clockwise as seen in a photograph (y down)."""
    angle = np.radians(turn_deg)
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(points_mm @ np.array([[c, s], [-s, c]]))


def render_sherd(
    rng: np.random.Generator, pot: PaintedPot, fragment: Fragment, pose: Pose, px_per_mm: float
) -> SherdImage:
    """Render one sherd lying on the tray.

    Parameters
    ----------
    rng : Generator
    pot, fragment : the pot (its px_per_mm should be near the photograph's) and the piece
    pose : how it lies
    px_per_mm : of the photograph
    """
    flat, centre = flat_outline(pot.form, fragment)
    worn = worn_outline(turned(flat, pose.turn_deg), pose.edge_mm) * px_per_mm
    corner = np.floor(worn.min(axis=0)) - MARGIN_PX
    outline = worn - corner
    width, height = (np.ceil(outline.max(axis=0)) + MARGIN_PX).astype(int).tolist()
    map_x, map_y, rise = _maps(pot, centre, pose, px_per_mm, corner, (height, width))
    albedo, relief, motif_map, ink = _sampled(pot, map_x, map_y)
    cover = _cover(outline, (height, width))
    edge = _edge(rng, cover, map_y, 0.5 * pot.px_per_mm, pose, px_per_mm)
    albedo, relief = _broken_edge(rng, pot, albedo, relief, edge, px_per_mm)
    base = float(np.percentile(rise[cover > 0.5], 2)) if (cover > 0.5).any() else 0.0
    heights = as_map(np.maximum(rise - np.float32(base), 0) * np.float32(0.8) + np.float32(pot.form.wall_mm) + relief)
    return SherdImage(outline, corner, cover, albedo, heights, pot.paste.gloss, motif_map, ink & (edge < 0.5))


def _maps(
    pot: PaintedPot, centre: FloatArray, pose: Pose, px_per_mm: float, corner: FloatArray, shape: tuple[int, int]
) -> tuple[Map, Map, Map]:
    """Return for each pixel where it lies on the pot's maps (px) and how high (mm), from a coarse grid."""
    height, width = shape
    gx = np.arange(0, width + COARSE, COARSE, dtype=np.float64)
    gy = np.arange(0, height + COARSE, COARSE, dtype=np.float64)
    grid = np.stack(np.meshgrid(gx, gy), axis=-1)
    mm = turned((grid.reshape(-1, 2) + corner) / px_per_mm, -pose.turn_deg)
    x, y, rise = _unrolled(pot.form, centre, mm[:, 0], mm[:, 1])
    rise = rise + mm[:, 0] * pose.tilt_x + mm[:, 1] * pose.tilt_y
    coarse = np.stack([x * pot.px_per_mm - 0.5, y * pot.px_per_mm - 0.5, rise], axis=-1)
    small = coarse.reshape(len(gy), len(gx), 3).astype(np.float32)
    fine = cv2.warpAffine(
        small,
        np.array([[1 / COARSE, 0, 0], [0, 1 / COARSE, 0]]),
        (width, height),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return as_map(fine[..., 0]), as_map(fine[..., 1]), as_map(fine[..., 2])


def _sampled(pot: PaintedPot, map_x: Map, map_y: Map) -> tuple[Map, Map, NDArray[np.int16], NDArray[np.bool_]]:
    """Look the pot's maps up at each pixel; x closes round the pot."""
    rows, columns = pot.relief_mm.shape
    left = int(np.floor(map_x.min())) - 2
    right = int(np.ceil(map_x.max())) + 3
    top, bottom = max(int(map_y.min()) - 2, 0), min(int(map_y.max()) + 4, rows)
    top, bottom = min(top, rows - 2), max(bottom, 2)
    take = np.arange(left, right) % columns
    x, y = map_x - left, np.clip(map_y, 0, rows - 1) - top

    def look(array: NDArray[np.generic], how: int) -> NDArray[np.generic]:
        part = array[top:bottom].take(take, axis=1)
        return np.asarray(cv2.remap(part, x, y, how, borderMode=cv2.BORDER_REPLICATE))

    albedo, relief = look(pot.albedo, cv2.INTER_LINEAR), look(pot.relief_mm, cv2.INTER_LINEAR)
    motif = look(pot.motif_map, cv2.INTER_NEAREST).astype(np.int16)
    ink = look(pot.ink_mask.astype(np.uint8), cv2.INTER_NEAREST).astype(np.bool_)
    return as_map(albedo), as_map(relief), motif, ink


def _cover(outline_px: FloatArray, shape: tuple[int, int]) -> Map:
    """Return the share of each pixel inside an outline."""
    big = np.zeros((shape[0] * 4, shape[1] * 4), np.uint8)
    fixed = np.round(((outline_px + 0.5) * 4 - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(big, [fixed], (255.0,), cv2.LINE_8, 4)
    return resized(big, shape, cv2.INTER_AREA) / np.float32(255)


def _edge(rng: np.random.Generator, cover: Map, map_y: Map, rim_y: float, pose: Pose, ppm: float) -> Map:
    """Return 0..1, where the skin is gone and the break shows: along the edges, in places wider (chips), not at the rim."""
    inside = ((cover > 0.5) | (map_y < rim_y)).astype(np.uint8)
    depth_mm = as_map(cv2.distanceTransform(inside, cv2.DIST_L2, 3)) / np.float32(ppm)
    ragged = smooth_noise(rng, cover.shape, 5.0 * ppm) * np.float32(0.28) + smooth_noise(
        rng, cover.shape, 1.3 * ppm
    ) * np.float32(0.13)
    chips = np.clip(smooth_noise(rng, cover.shape, 6 * ppm) - np.float32(1.5), 0.0, None) * np.float32(2.2)
    width = pose.edge_mm * np.clip(0.45 + ragged, 0.08, 1.4) + chips
    return soft_step(width - depth_mm, 0.0, 0.25)


def _broken_edge(
    rng: np.random.Generator, pot: PaintedPot, albedo: Map, relief: Map, edge: Map, ppm: float
) -> tuple[Map, Map]:
    """Show the core where the skin is gone, rough and falling away."""
    rough = smooth_noise(rng, edge.shape, 0.7 * ppm)
    core = as_map(lab_to_linear(pot.paste.core_lab)) * np.exp(np.float32(0.12) * rough)[..., None]
    fall = blurred(edge, 0.35 * ppm)
    return mixed(albedo, core, edge), as_map(
        relief * (1 - edge) - fall * np.float32(0.6) + rough * edge * np.float32(0.05)
    )
