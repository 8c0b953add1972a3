"""Light on the tray and the camera above it.

The light multiplies all that lies in the photograph (bar and backdrop too) before the camera's curve. Shading is
Lambert's law on the height map; shot noise grows with the square root of the light, read noise does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.practice.arrays import ByteMap, FloatArray, Map, as_map, blurred, resized
from motifs.practice.colours import linear_to_srgb

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.practice.scenes import Scene


@dataclass(frozen=True, slots=True)
class Light:
    """The light of one photograph.

    azimuth_deg: where it comes from, clockwise from the right of the frame. elevation_deg: above the tray. ambient:
    0..1, share of light from all around. softness: width of a shadow's edge over its length. cast: gains of R, G, B.
    exposure: overall gain. falloff: brightness at the dark end over the bright end. falloff_deg: towards the dark end.
    vignette: loss at the corners, 0..1.
    """

    azimuth_deg: float
    elevation_deg: float
    ambient: float
    softness: float
    cast: tuple[float, float, float]
    exposure: float
    falloff: float
    falloff_deg: float
    vignette: float


@dataclass(frozen=True, slots=True)
class Lens:
    """Lens and sensor.

    blur_px: Gaussian sigma. shot, read: noise of linear light at white. tilt: perspective, the change of scale across
    the frame. contrast: strength of the camera's curve. jpeg_quality: 60 to 97.
    """

    blur_px: float
    shot: float
    read: float
    tilt_x: float
    tilt_y: float
    contrast: float
    jpeg_quality: int


def draw_light(rng: np.random.Generator) -> Light:
    """Draw a light between a studio's and a window's."""
    warm = float(rng.normal(0, 0.09))
    green = float(rng.normal(0, 0.03))
    return Light(
        azimuth_deg=float(rng.uniform(0, 360)),
        elevation_deg=float(rng.uniform(32, 68)),
        ambient=float(rng.uniform(0.3, 0.7)),
        softness=float(rng.uniform(0.25, 1.0)),
        cast=(float(np.exp(warm)), float(np.exp(green)), float(np.exp(-warm))),
        exposure=float(rng.uniform(0.78, 1.08)),
        falloff=float(rng.uniform(0.55, 1.0)),
        falloff_deg=float(rng.uniform(0, 360)),
        vignette=float(rng.uniform(0.0, 0.18)),
    )


def draw_lens(rng: np.random.Generator) -> Lens:
    """Draw a lens and a sensor."""
    tilted = rng.random() < 0.4
    return Lens(
        blur_px=float(rng.uniform(0.35, 1.0)),
        shot=float(rng.uniform(0.003, 0.014)),
        read=float(rng.uniform(0.0005, 0.003)),
        tilt_x=float(rng.normal(0, 0.006)) * tilted,
        tilt_y=float(rng.normal(0, 0.006)) * tilted,
        contrast=float(rng.uniform(0.0, 0.12)),
        jpeg_quality=int(rng.integers(82, 97)),
    )


def shade(scene: Scene, light: Light, px_per_mm: float) -> Map:
    """Light a scene; a level place without shadow keeps its albedo. Returns (H, W, 3) float32, linear."""
    azimuth, elevation = np.radians(light.azimuth_deg), np.radians(light.elevation_deg)
    towards = np.array([np.cos(azimuth) * np.cos(elevation), np.sin(azimuth) * np.cos(elevation), np.sin(elevation)])
    towards = towards.astype(np.float32)
    slope_x, slope_y, gloss = cv2.split(scene.skin)
    steep = as_map(1 / np.sqrt(1 + slope_x**2 + slope_y**2))
    facing = as_map((towards[2] - slope_x * towards[0] - slope_y * towards[1]) * steep)
    direct = np.clip(facing, 0, 2.2 * towards[2]) / towards[2]
    direct *= 1 - _shadow(scene, light, px_per_mm)
    around = (0.5 + 0.5 * steep) * (1 - _nearness(scene, px_per_mm))
    total = as_map(light.ambient * around + (1 - light.ambient) * direct)
    lit = scene.albedo * total[..., None]
    if gloss.max() > 0.2:
        lit += _sheen(as_map(slope_x), as_map(slope_y), steep, towards, as_map(gloss))[..., None]
    return as_map(lit)


def _sheen(slope_x: Map, slope_y: Map, steep: Map, towards: NDArray[np.float32], gloss: Map) -> Map:
    """Return the mirror light of burnished places, seen from straight above (Blinn's half vector)."""
    half = towards + np.array([0, 0, 1], np.float32)
    half /= np.linalg.norm(half)
    facing = np.clip((half[2] - slope_x * half[0] - slope_y * half[1]) * steep, 0, 1)
    return as_map(gloss * np.float32(0.10) * facing**24)


def _reduced(height_mm: Map, px_per_mm: float, wanted: float) -> tuple[Map, float]:
    """Return a height map at about the wanted px/mm, and the factor by which it was reduced."""
    scale = min(1.0, wanted / px_per_mm)
    shape = (max(int(height_mm.shape[0] * scale), 1), max(int(height_mm.shape[1] * scale), 1))
    return resized(height_mm, shape, cv2.INTER_AREA), scale


def _shadow(scene: Scene, light: Light, ppm: float) -> Map:
    """Return 0..1, how much of the direct light is kept from each pixel, by marching towards the light.

    The tray and the things on it are reckoned apart, so that no light seam runs along a sherd's foot.
    """
    azimuth, rise = np.radians(light.azimuth_deg), np.tan(np.radians(light.elevation_deg))
    small, scale = _reduced(scene.height_mm, ppm, 2.5)
    dark = np.zeros((2, *small.shape), np.float32)
    step_mm = 0.8
    for distance in np.arange(step_mm, min(float(small.max()) / rise, 32.0) + step_mm, step_mm):
        move = np.eye(2, 3)
        move[:, 2] = np.array([np.cos(azimuth), np.sin(azimuth)]) * distance * ppm * scale
        above = as_map(
            cv2.warpAffine(small, move, small.shape[::-1], flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
        ) - np.float32(distance * rise)
        fade = np.float32(np.exp(-distance * light.softness / 22.0) / (0.3 + 0.5 * distance * light.softness))
        np.maximum(dark[0], np.clip(above * fade, 0, 1), out=dark[0])
        np.maximum(dark[1], np.clip((above - small) * fade, 0, 1), out=dark[1])
    shape = scene.labels.shape
    soft = 0.3 + 1.1 * light.softness * ppm * scale
    ground, things = (resized(blurred(one, soft), (shape[0], shape[1])) for one in dark)
    return as_map(np.where(scene.labels > 0, things, ground))


def _nearness(scene: Scene, ppm: float) -> Map:
    """Return 0..1, how much of the sky is hidden from the tray by what stands close by."""
    small, scale = _reduced(scene.height_mm, ppm, 2.0)
    around = np.clip(blurred(small, 4.0 * ppm * scale) / np.float32(9.0), 0, 0.55)
    shape = scene.labels.shape
    return as_map(resized(around, (shape[0], shape[1])) * (scene.labels == 0))


def light_field(rng: np.random.Generator, shape: tuple[int, ...], light: Light) -> Map:
    """Return the gain of the light over the frame (H, W, 3): falloff, vignette, exposure and cast."""
    rows, columns = shape[0], shape[1]
    y, x = np.mgrid[-1:1:24j, -1:1:24j]
    angle = np.radians(light.falloff_deg)
    across = (x * np.cos(angle) + y * np.sin(angle)) / 1.42
    low = np.log(light.falloff)
    gain = np.exp(low * (0.5 + 0.5 * across) ** 1.3) * (1 - light.vignette * ((x**2 + y**2) / 2))
    gain = gain * (1 + 0.015 * rng.standard_normal() * x * y)
    fine = resized(gain.astype(np.float32), (rows, columns), cv2.INTER_CUBIC)
    return as_map(fine[..., None] * (np.asarray(light.cast) * light.exposure).astype(np.float32))


def develop(
    rng: np.random.Generator, lit: Map, labels: NDArray[np.int16], lens: Lens
) -> tuple[ByteMap, NDArray[np.int16], FloatArray]:
    """Turn lit linear colour into a photograph.

    Returns
    -------
    rgb (H, W, 3) uint8, labels carried along, and the projective map (3, 3) from tray px to photograph px.
    """
    rows, columns = labels.shape
    move = _perspective(lens, rows, columns)
    if lens.tilt_x or lens.tilt_y:
        lit = as_map(
            cv2.warpPerspective(lit, move, (columns, rows), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
        )
        labels = np.asarray(cv2.warpPerspective(labels, move, (columns, rows), flags=cv2.INTER_NEAREST), np.int16)
    lit = blurred(lit, lens.blur_px)
    noise = rng.standard_normal(lit.shape, dtype=np.float32)
    lit = lit + noise * np.sqrt(np.float32(lens.shot**2) * np.clip(lit, 0, 1) + np.float32(lens.read**2))
    np.clip(lit, 0, 1, out=lit)
    if lens.contrast > 0:
        lit = lit + np.float32(lens.contrast) * lit * (1 - lit) * (2 * lit - np.float32(0.6))
    return linear_to_srgb(lit), labels, move


def _perspective(lens: Lens, rows: int, columns: int) -> FloatArray:
    """Return the projective map of a camera a little out of plumb; the middle of the frame stays where it is."""
    centre = np.array([[1, 0, -columns / 2], [0, 1, -rows / 2], [0, 0, 1.0]])
    back = np.array([[1, 0, columns / 2], [0, 1, rows / 2], [0, 0, 1.0]])
    tilt = np.array([[1, 0, 0], [0, 1, 0], [lens.tilt_x / columns, lens.tilt_y / rows, 1.0]])
    return np.asarray(back @ tilt @ centre)


def jpeg_bytes(rgb: ByteMap, quality: int) -> bytes:
    """Encode a photograph as JPEG."""
    done, encoded = cv2.imencode(".jpg", np.ascontiguousarray(rgb[..., ::-1]), [cv2.IMWRITE_JPEG_QUALITY, quality])
    if not done:
        raise RuntimeError("OpenCV could not encode the photograph as JPEG")
    return bytes(encoded.tobytes())
