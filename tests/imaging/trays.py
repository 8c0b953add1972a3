"""Rendered tray photographs with known outlines, scale and light: the tests' own, independent of the package.

A tray is composed in reflectance (linear light), lit, blurred, given noise and encoded. Lengths are in mm until the
very end. Nothing here imports the code under test.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from PIL import Image

from tests.imaging.shapes import coverage, encoded, fractal, linear, sherd_polygon

# sRGB of Munsell soil chips that pottery pastes usually fall on (chip values computed with colour-science).
PASTES = [
    (192, 135, 94), (194, 170, 139), (179, 101, 61), (112, 92, 77), (142, 79, 62), (195, 133, 103), (152, 113, 88),
    (204, 167, 133), (177, 141, 108), (161, 145, 125), (214, 198, 175), (185, 172, 147), (152, 147, 134), (79, 70, 62),
]
PAINTS = [(52, 44, 40), (120, 50, 38), (88, 58, 44), (228, 220, 204), (66, 60, 62)]

BACKDROPS = {
    "white": (232, 232, 230), "grey": (128, 128, 128), "black": (26, 26, 27), "blue": (58, 92, 150),
    "green": (70, 120, 84), "red": (150, 46, 50), "tan": (190, 166, 128), "cream": (236, 228, 208),
    "cloth": (104, 112, 122), "darkcloth": (40, 42, 50), "lightcloth": (206, 202, 192), "wood": (150, 108, 70),
}
PLAIN = ("white", "grey", "black", "blue", "green", "red", "cream")
HARD = ("tan", "cloth", "darkcloth", "lightcloth", "wood")


@dataclass(frozen=True)
class Recipe:
    seed: int
    backdrop: str = "white"
    light_seed: int | None = None
    px_per_mm: float = 5.0
    size_px: tuple[int, int] = (2000, 1500)
    sherds: int = 12
    sherd_mm: float = 42.0
    bar: str = "row10"  # row5, row10, checker10, checker5, half10 (5 mm blocks), row5x2 (2 cm blocks), none
    outline_bar: bool = True
    figures: bool = True
    label: bool = True
    dust: int = 12
    crumbs: int = 2
    touching: int = 0
    at_frame: int = 0
    slip: str = "mixed"  # mixed, black-on-white, dark, none
    cast: float = 0.3
    falloff: float = 0.5
    quality: int = 88
    noise: float = 0.006
    blur_px: float = 0.7
    shadow: float = 0.55


@dataclass(frozen=True)
class Tray:
    recipe: Recipe
    rgb: np.ndarray
    masks: list[np.ndarray] = field(repr=False)  # (H, W) bool each, visible sherd
    ids: list[int] = field(repr=False)
    bar_block_px: float | None = None

    def jpeg(self) -> bytes:
        stream = io.BytesIO()
        Image.fromarray(self.rgb).save(stream, "JPEG", quality=self.recipe.quality)
        return stream.getvalue()


def _decoration(rng, shape, px_per_mm, paste, slip, angle):
    """Painted surface colour of one sherd over its box, linear (h, w, 3), and a height for the grain."""
    yy, xx = np.mgrid[: shape[0], : shape[1]] / px_per_mm
    along = xx * np.cos(angle) + yy * np.sin(angle)
    across = -xx * np.sin(angle) + yy * np.cos(angle)
    ground = np.broadcast_to(linear(paste), (*shape, 3)).copy()
    kind = rng.choice(["plain", "bands", "zigzag", "dots", "checks"])
    paint = linear(PAINTS[rng.integers(len(PAINTS))])
    if slip == "black-on-white":
        ground[:] = linear((226, 220, 208))
        paint, kind = linear((44, 40, 38)), rng.choice(["bands", "zigzag", "checks", "dots"])
    elif slip == "dark":
        ground[:] = linear((56, 52, 50))
        kind = "plain"
    elif slip == "none":
        kind = "plain"
    period = rng.uniform(6, 14)
    if kind == "bands":
        inked = np.mod(across, period) < period * rng.uniform(0.2, 0.5)
    elif kind == "zigzag":
        wave = np.abs(np.mod(along, period) - period / 2)
        inked = np.mod(across + wave, period) < period * 0.35
    elif kind == "dots":
        inked = np.hypot(np.mod(along, period) - period / 2, np.mod(across, period) - period / 2) < period * 0.28
    elif kind == "checks":
        inked = (np.floor(along / period) + np.floor(across / period)) % 2 == 0
    else:
        inked = np.zeros(shape, bool)
    soft = cv2.GaussianBlur(inked.astype(np.float32), (0, 0), max(0.3, 0.12 * px_per_mm))[..., None]
    return ground * (1 - soft) + paint * soft


def _backdrop(rng, recipe, shape) -> np.ndarray:
    base = linear(BACKDROPS[recipe.backdrop])
    p = recipe.px_per_mm
    cover = np.broadcast_to(base, (*shape, 3)).copy()
    if "cloth" in recipe.backdrop:
        yy, xx = np.mgrid[: shape[0], : shape[1]] / p
        bend = fractal(rng, shape, 40 * p, 2) * 0.8
        weave = np.sin(2 * np.pi * (xx + bend) / 0.9) * np.sin(2 * np.pi * (yy + bend) / 0.9)
        folds = fractal(rng, shape, 90 * p, 2)
        cover *= np.exp(0.12 * weave + 0.05 * folds + 0.06 * rng.standard_normal(shape))[..., None]
    elif recipe.backdrop == "wood":
        yy, xx = np.mgrid[: shape[0], : shape[1]] / p
        grain = fractal(rng, (shape[0], max(8, shape[1] // 14)), 5 * p, 4)
        grain = cv2.resize(grain.astype(np.float32), (shape[1], shape[0]))
        cover *= np.exp(0.10 * grain)[..., None] ** np.array([0.9, 1.0, 1.2])
    else:
        cover *= np.exp(0.012 * fractal(rng, shape, 3 * p, 3))[..., None]
    return cover


def _bar(recipe) -> tuple[list[np.ndarray], float, float, float]:
    """Black blocks as (x, y, w, h) mm rows, length, height, block."""
    design = {"row5": (5, 10, 1), "row10": (10, 10, 1), "checker10": (10, 10, 2), "checker5": (5, 10, 2),
              "half10": (20, 5, 1), "halfchecker10": (20, 5, 2), "row5x2": (5, 20, 1)}
    count, block, rows = design[recipe.bar]
    height = {1: 8.0, 2: 5.0}[rows] if block == 10 else (5.0 if block == 5 else 12.0)
    blacks = [
        np.array([(i * block, r * height), ((i + 1) * block, r * height), ((i + 1) * block, (r + 1) * height),
                  (i * block, (r + 1) * height)], dtype=float)
        for r in range(rows) for i in range(count) if (i + r) % 2 == 0
    ]
    return blacks, count * block, rows * height, block


def _place(rng, recipe, radii, reserved):
    """Centres (mm) for the pieces by rejection, biggest first."""
    width, height = recipe.size_px[0] / recipe.px_per_mm, recipe.size_px[1] / recipe.px_per_mm
    centres = {}
    discs = list(reserved)
    for index in np.argsort(-np.asarray(radii)):
        radius = radii[index]
        for _ in range(400):
            at = rng.uniform([radius + 1, radius + 1], [max(radius + 2, width - radius - 1), max(radius + 2, height - radius - 1)])
            if all(np.hypot(*(at - other)) > radius + far + 2.0 for other, far in discs):
                centres[int(index)] = at
                discs.append((at, radius))
                break
    return centres, discs


def make_tray(recipe: Recipe) -> Tray:
    rng = np.random.default_rng(recipe.seed)
    lamp = np.random.default_rng([recipe.seed, recipe.light_seed if recipe.light_seed is not None else 1])
    p = recipe.px_per_mm
    shape = (recipe.size_px[1], recipe.size_px[0])
    pieces = []
    for index in range(recipe.sherds):
        piece_rng = np.random.default_rng([recipe.seed, 77, index])
        pieces.append((piece_rng, sherd_polygon(piece_rng, recipe.sherd_mm)))
    scene = _backdrop(rng, recipe, shape)
    height_map = np.zeros(shape, np.float32)
    reserved, block_px = [], None
    if recipe.bar != "none":
        scene, reserved, block_px = _lay_bar(lamp, recipe, scene)
    if recipe.label:
        scene, reserved = _lay_label(lamp, recipe, scene, reserved)
    radii = [float(np.hypot(*poly.T).max()) for _, poly in pieces]
    centres, discs = _place(lamp, recipe, radii, reserved)
    owner = np.full(shape, -1, np.int32)
    cover_all = np.zeros(shape, np.float32)
    ids = sorted(centres)
    moved = {}
    for order, index in enumerate(ids):
        angle = lamp.uniform(0, 2 * np.pi)
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        poly = pieces[index][1] @ turn.T
        at = centres[index]
        if order < recipe.at_frame and all(abs(at[1] - centres[o][1]) > radii[index] + radii[o] + 2 for o in ids if o != index):
            at = np.array([rng.uniform(0, 3), at[1]])
        elif recipe.touching and order and order <= recipe.touching:
            at = _push_against(poly, at, moved[ids[order - 1]])
        moved[index] = poly + at
    for index in ids:
        alpha = coverage(moved[index] * p, shape)
        scene = _lay_sherd(pieces[index][0], recipe, scene, alpha, p, index)
        owner[alpha > 0.5] = index
        cover_all = np.maximum(cover_all, alpha)
    crumb_cover = np.zeros(shape, np.float32)
    small = [*lamp.uniform(0.4, 1.2, recipe.dust), *lamp.uniform(3, 4.2, recipe.crumbs)]
    spots, _ = _place(lamp, recipe, [s / 2 + 0.5 for s in small], discs)
    for k, at in spots.items():
        poly = sherd_polygon(lamp, small[k]) + at
        alpha = coverage(poly * p, shape)
        scene = scene * (1 - alpha[..., None]) + linear(PASTES[lamp.integers(len(PASTES))]) * alpha[..., None]
        crumb_cover = np.maximum(crumb_cover, alpha)
    light = _light(lamp, recipe, shape, cover_all, crumb_cover, height_map)
    rgb = _camera(lamp, recipe, scene * light)
    masks = [owner == index for index in ids]
    keep = [k for k, m in enumerate(masks) if m.sum() > 30]
    return Tray(recipe, rgb, [masks[k] for k in keep], [ids[k] for k in keep], block_px)


def _push_against(poly, at, other):
    """Move a piece towards another until they just touch."""
    from shapely.affinity import translate
    from shapely.geometry import Polygon

    target, mine = Polygon(other).buffer(0), Polygon(poly).buffer(0)
    aim = np.array(target.centroid.coords[0])
    direction = aim - at
    low, high = 0.0, 1.0
    for _ in range(30):
        mid = (low + high) / 2
        where = at + mid * direction
        if translate(mine, *where).intersection(target).area > 0.5:
            high = mid
        else:
            low = mid
    return at + low * direction


def _lay_bar(rng, recipe, scene):
    blacks, length, height, block = _bar(recipe)
    p = recipe.px_per_mm
    shape = scene.shape[:2]
    width_mm, height_mm = recipe.size_px[0] / p, recipe.size_px[1] / p
    angle = rng.choice([0.0, np.pi / 2, rng.uniform(-0.12, 0.12), rng.uniform(0, np.pi)])
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    around = np.array([(0, 0), (length, 0), (length, height), (0, height)], float) - (length / 2, height / 2)
    extent = np.abs(around @ turn.T).max(0) + 6
    low, high = extent, np.array([width_mm, height_mm]) - extent
    at = rng.uniform(low, np.maximum(high, low + 1e-6))
    if rng.random() < 0.7:
        at[1] = high[1] if rng.random() < 0.5 else low[1]
    def put(poly):
        return ((poly - (length / 2, height / 2)) @ turn.T + at) * p
    white = linear((238, 238, 236))
    dark = linear((28, 28, 28))
    card = np.array([(0, 0), (length, 0), (length, height), (0, height)], float)
    if recipe.outline_bar:
        rim = 0.5
        frame = card + np.array([(-rim, -rim), (rim, -rim), (rim, rim), (-rim, rim)])
        alpha = coverage(put(frame), shape)[..., None]
        scene = scene * (1 - alpha) + dark * alpha
    alpha = coverage(put(card), shape)[..., None]
    scene = scene * (1 - alpha) + white * alpha
    for poly in blacks:
        alpha = coverage(put(poly), shape)[..., None]
        scene = scene * (1 - alpha) + dark * alpha
    if recipe.figures:
        ink = dark if scene.mean() > 0.1 else white
        for value in (0, int(length / 10)):
            place = put(np.array([[value * 10.0, height + 4.5]]))[0]
            layer = np.zeros(shape, np.uint8)
            cv2.putText(layer, str(value), (int(place[0]), int(place[1])), cv2.FONT_HERSHEY_SIMPLEX, 0.14 * p, 255, max(1, int(0.3 * p)), cv2.LINE_AA)
            scene = scene * (1 - layer[..., None] / 255.0) + ink * (layer[..., None] / 255.0)
    steps = np.linspace(-length / 2, length / 2, 12)
    reserved = [(at + turn @ np.array([s, 0]), height / 2 + 6) for s in steps]
    return scene, reserved, block * p


def _lay_label(rng, recipe, scene, reserved):
    p = recipe.px_per_mm
    shape = scene.shape[:2]
    size = np.array([rng.uniform(28, 45), rng.uniform(14, 22)])
    angle = rng.uniform(-0.3, 0.3)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    half = float(np.hypot(*size) / 2)
    width_mm, height_mm = recipe.size_px[0] / p, recipe.size_px[1] / p
    for _ in range(200):
        at = rng.uniform([half, half], [max(half + 1, width_mm - half), max(half + 1, height_mm - half)])
        if all(np.hypot(*(at - other)) > half + far for other, far in reserved):
            break
    else:
        return scene, reserved
    corners = (np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * size / 2) @ turn.T + at
    alpha = coverage(corners * p, shape)[..., None]
    scene = scene * (1 - alpha) + linear((240, 239, 234)) * alpha
    layer = np.zeros(shape, np.uint8)
    org = (corners[3] * 0.82 + corners[1] * 0.18) * p
    cv2.putText(layer, f"KV-{rng.integers(100, 999)}", (int(org[0]), int(org[1])), cv2.FONT_HERSHEY_SIMPLEX, 0.16 * p, 255, max(1, int(0.35 * p)), cv2.LINE_AA)
    scene = scene * (1 - layer[..., None] / 255.0) + linear((40, 40, 60)) * (layer[..., None] / 255.0)
    return scene, [*reserved, (at, half)]


def _lay_sherd(rng, recipe, scene, alpha, p, index):
    ys, xs = np.nonzero(alpha > 0)
    if ys.size == 0:
        return scene
    box = np.s_[ys.min() : ys.max() + 1, xs.min() : xs.max() + 1]
    part = alpha[box]
    paste = PASTES[rng.integers(len(PASTES))]
    slip = recipe.slip if recipe.slip != "mixed" else rng.choice(["mixed", "none"])
    face = _decoration(rng, part.shape, p, paste, slip, rng.uniform(0, np.pi))
    face *= np.exp(0.05 * fractal(rng, part.shape, 1.2 * p, 3) + 0.06 * fractal(rng, part.shape, 20 * p, 2))[..., None]
    bend = np.linspace(-1, 1, part.shape[1])[None] * np.cos(index) + np.linspace(-1, 1, part.shape[0])[:, None] * np.sin(index)
    face *= (1 - 0.12 * bend**2 + 0.05 * bend)[..., None]
    depth = cv2.distanceTransform((part > 0.5).astype(np.uint8), cv2.DIST_L2, 5) / p
    worn = np.clip(1 - depth / rng.uniform(0.4, 1.2), 0, 1)[..., None] * rng.uniform(0.3, 0.9)
    face = face * (1 - worn) + linear(paste) * rng.uniform(0.8, 1.1) * worn
    out = scene.copy()
    out[box] = scene[box] * (1 - part[..., None]) + face * part[..., None]
    return out


def _light(rng, recipe, shape, cover, crumbs, _height):
    p = recipe.px_per_mm
    yy, xx = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    angle = rng.uniform(0, 2 * np.pi)
    along = ((xx / shape[1] - 0.5) * np.cos(angle) + (yy / shape[0] - 0.5) * np.sin(angle))
    far = np.hypot(xx / shape[1] - 0.5, yy / shape[0] - 0.5)
    depth = recipe.falloff * rng.uniform(0.3, 1.0)
    lamp = (1 - depth * 0.6 * (along + 0.5)) * (1 - 0.5 * depth * far**2)
    lamp /= lamp.max()
    azimuth = rng.uniform(0, 2 * np.pi)
    reach = rng.uniform(1.0, 4.0) * p
    shift = np.array([[1, 0, reach * np.cos(azimuth)], [0, 1, reach * np.sin(azimuth)]], np.float32)
    thrown = cv2.warpAffine(cover, shift, (shape[1], shape[0]), borderMode=cv2.BORDER_REPLICATE)
    thrown = cv2.GaussianBlur(thrown, (0, 0), rng.uniform(0.6, 1.6) * p)
    contact = cv2.GaussianBlur(cover, (0, 0), 1.2 * p)
    strength = recipe.shadow * rng.uniform(0.5, 1.0)
    shade = 1 - (strength * thrown + 0.25 * strength * contact) * (1 - np.maximum(cover, crumbs))
    cast = np.exp(rng.uniform(-1, 1, 3) * np.log1p(recipe.cast))
    cast /= cast.max()
    exposure = rng.uniform(0.75, 1.0)
    ambient_tint = np.array([0.97, 1.0, 1.05])
    shaded = shade[..., None] ** (1.0 / ambient_tint)
    return lamp[..., None] * shaded * cast * exposure


def _camera(rng, recipe, light):
    blurred = cv2.GaussianBlur(light, (0, 0), recipe.blur_px) if recipe.blur_px else light
    noise = recipe.noise * np.sqrt(np.maximum(blurred, 0.001)) * rng.standard_normal(blurred.shape)
    rgb = np.rint(encoded(blurred + 0.6 * noise) * 255).astype(np.uint8)
    stream = io.BytesIO()
    Image.fromarray(rgb).save(stream, "JPEG", quality=recipe.quality)
    return np.asarray(Image.open(stream).convert("RGB"))


def varied(seed: int, backdrop: str, **fixed) -> Recipe:
    """A recipe with everything else drawn from the seed."""
    rng = np.random.default_rng([seed, 5])
    px_per_mm = float(np.round(np.exp(rng.uniform(np.log(4), np.log(12))), 2))
    size = (1800, 1350) if rng.random() < 0.7 else (1350, 1800)
    area = size[0] * size[1] / px_per_mm**2
    sherd_mm = float(rng.uniform(22, 50))
    room = int(area / (sherd_mm * 1.5) ** 2)
    recipe = Recipe(
        seed=seed, backdrop=backdrop, px_per_mm=px_per_mm, size_px=size, sherd_mm=sherd_mm,
        sherds=int(np.clip(rng.integers(1, 61), 1, max(1, room))),
        bar=str(rng.choice(["row5", "row10", "checker10", "checker5", "half10", "halfchecker10"]))
        if min(size) / px_per_mm > 125 else str(rng.choice(["row5", "checker5"])),
        outline_bar=bool(rng.random() < 0.6), figures=bool(rng.random() < 0.6), label=bool(rng.random() < 0.5),
        slip=str(rng.choice(["mixed", "mixed", "black-on-white", "dark", "none"])),
        quality=int(rng.integers(60, 96)), noise=float(rng.uniform(0.003, 0.014)), blur_px=float(rng.uniform(0.4, 1.3)),
        shadow=float(rng.uniform(0.2, 0.75)), at_frame=int(rng.random() < 0.2),
    )
    return replace(recipe, **fixed)
