"""Rendered photographs of the photo mat with known truth: the tests' own camera (OpenCV's pinhole and lens model).

The page is drawn here from the design's numbers (or handed in, as rasterised from the PDF), sherds are laid on it, and the
whole is seen by a camera at a slant, through a bending lens, in coloured uneven light, with blur, noise and JPEG.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import cv2
import numpy as np
from PIL import Image

from motifs.imaging.mat_design import MatDesign, marker_squares, mat_design
from motifs.imaging.mat_page import code_squares
from tests.imaging.shapes import encoded, fractal, linear, sherd_polygon

PAGE_PX_PER_MM = 10
PASTES = [(192, 135, 94), (179, 101, 61), (142, 79, 62), (161, 145, 125), (112, 92, 77), (204, 167, 133), (79, 70, 62)]


@dataclass(frozen=True)
class Shot:
    """One photograph of a mat. k1: radial distortion in OpenCV's sense; height_mm: of the sherds' faces over the mat."""

    seed: int = 1
    mat: str = "A4"
    lot: str | None = "K-12"
    site: str | None = "Kestrel Ford"
    tilt_deg: float = 0.0
    toward_deg: float = 90.0
    roll_deg: float = 4.0
    size_px: tuple[int, int] = (2000, 1500)
    focal_share: float = 1.1  # focal length over the photograph's longer side
    k1: float = 0.0
    fill: float = 0.92
    sherds: int = 8
    sherd_mm: float = 32.0
    height_mm: float = 0.0
    cast: tuple[float, float, float] = (1.0, 1.0, 1.0)
    exposure: float = 0.9
    falloff: float = 0.3
    blur_px: float = 0.8
    noise: float = 0.006
    quality: int = 90
    hand: bool = False  # something dark over a corner and two markers
    shadow: float = 0.4
    paper: float = 0.86


@dataclass(frozen=True)
class Photographed:
    shot: Shot
    rgb: np.ndarray = field(repr=False)
    outlines_mm: list[np.ndarray] = field(repr=False)
    outlines_px: list[np.ndarray] = field(repr=False)
    focal_px: float = 0.0
    pastes: list[tuple[int, int, int]] = field(default_factory=list)

    def to_px(self, points_mm, height_mm=0.0):
        return project(self.shot, mat_design(self.shot.mat), points_mm, height_mm)

    def jpeg(self, **extra) -> bytes:
        stream = io.BytesIO()
        Image.fromarray(self.rgb).save(stream, "JPEG", quality=95, **extra)
        return stream.getvalue()


def draw_page(design: MatDesign, lot: str | None, site: str | None) -> np.ndarray:
    """The page as sRGB grey, (h, w) uint8, at PAGE_PX_PER_MM, from the numbers of the design."""
    p = PAGE_PX_PER_MM
    page = np.full((round(design.height * p), round(design.width * p)), 255, np.uint8)

    def fill(x, y, width, height, level):
        page[round(y * p) : round((y + height) * p), round(x * p) : round((x + width) * p)] = level

    def grid(squares, box):
        step = box.width / len(squares)
        for row, line in enumerate(squares):
            for column in np.flatnonzero(line):
                fill(box.x + column * step, box.y + row * step, step, step, 0)

    for marker in design.markers:
        grid(marker_squares(marker.number), marker.box)
    for patch in design.patches:
        fill(patch.box.x, patch.box.y, patch.box.width, patch.box.height, patch.level)
    for block in design.bar_blocks():
        fill(block.x, block.y, block.width, block.height, 0)
    fill(design.bar.x, design.bar.y - 0.3, design.bar.width, 0.3, 0)
    fill(design.bar.x, design.bar.y + design.bar.height, design.bar.width, 0.3, 0)
    for x, y in design.crosses():
        fill(x - 2, y - 0.15, 4, 0.3, 170)
        fill(x - 0.15, y - 2, 0.3, 4, 170)
    if lot or site:
        grid(code_squares(lot, site), design.code)
    zone = design.words_zone()
    for k, text in enumerate(
        ("Lot K-12   Site Kestrel Ford", "Photo mat: sherds inside the crosses, flat", "Print at 100 %")
    ):
        at = (round((zone.x + 1) * p), round((zone.y + 5 + 4.6 * k) * p))
        cv2.putText(page, text, at, cv2.FONT_HERSHEY_SIMPLEX, 0.09 * p, 0, round(0.3 * p), cv2.LINE_AA)
    for words in design.cell_names():
        cv2.putText(
            page, words.text, (round(words.x * p), round(words.y * p)), cv2.FONT_HERSHEY_SIMPLEX, 0.08 * p, 170, 2
        )
    return page


def pose(shot: Shot, design: MatDesign):
    """Camera matrix, rotation, translation and lens of a shot; the mat fills `fill` of the frame."""
    width, height = shot.size_px
    focal = shot.focal_share * max(shot.size_px)
    matrix = np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1.0]])
    toward = np.deg2rad(shot.toward_deg)
    lean, _ = cv2.Rodrigues(np.deg2rad(shot.tilt_deg) * np.array([np.cos(toward), np.sin(toward), 0.0]))
    roll, _ = cv2.Rodrigues(np.array([0, 0, np.deg2rad(shot.roll_deg)]))
    turn = lean @ roll
    middle = np.array([design.width / 2, design.height / 2, 0.0])
    lens = np.array([shot.k1, 0.0, 0.0, 0.0, 0.0])
    corners = np.array(
        [(0, 0, 0), (design.width, 0, 0), (design.width, design.height, 0), (0, design.height, 0)], float
    )
    far = 300.0
    for _ in range(30):
        shift = np.array([0, 0, far]) - turn @ middle
        seen = cv2.projectPoints(corners, cv2.Rodrigues(turn)[0], shift, matrix, lens)[0][:, 0]
        off = np.abs(seen - np.array(matrix[:2, 2])) / (np.array(shot.size_px) / 2)
        far *= (off.max() / shot.fill) ** 0.8
    return matrix, turn, np.array([0, 0, far]) - turn @ middle, lens


def project(shot: Shot, design: MatDesign, points_mm, height_mm=0.0) -> np.ndarray:
    """Where points of the mat (or at a height over it) are seen, (N, 2) px."""
    matrix, turn, shift, lens = pose(shot, design)
    at = np.asarray(points_mm, float)
    # The page's y runs down and its face looks at the camera: up is towards smaller z.
    lifted = np.column_stack([at, np.full(len(at), -height_mm)])
    return cv2.projectPoints(lifted, cv2.Rodrigues(turn)[0], shift, matrix, lens)[0][:, 0]


def shoot(shot: Shot, page: np.ndarray | None = None) -> Photographed:
    """Render one photograph. page: (h, w) uint8 sRGB grey of the mat; drawn from the design when None."""
    design = mat_design(shot.mat)
    rng = np.random.default_rng(shot.seed)
    page = draw_page(design, shot.lot, shot.site) if page is None else page
    outlines, pastes = _lay(rng, shot, design)
    matrix, turn, shift, lens = pose(shot, design)
    scene = _reflectance(rng, shot, design, page, outlines, pastes)
    width, height = shot.size_px
    fold = 2
    step = 8
    x = np.arange(0, width * fold + step, step)
    y = np.arange(0, height * fold + step, step)
    xx, yy = np.meshgrid((x + 0.5) / fold - 0.5, (y + 0.5) / fold - 0.5)
    rays = cv2.undistortPoints(np.stack([xx.ravel(), yy.ravel()], 1)[:, None].astype(np.float64), matrix, lens)[:, 0]
    to_plane = np.linalg.inv(np.column_stack([turn[:, 0], turn[:, 1], shift]))
    lifted = np.column_stack([rays, np.ones(len(rays))]) @ to_plane.T
    mm = (lifted[:, :2] / lifted[:, 2:]).reshape(*xx.shape, 2)
    border = scene.border_mm
    maps = ((mm + border) * PAGE_PX_PER_MM - 0.5).astype(np.float32)
    shape = (height * fold, width * fold)
    grid_y, grid_x = np.meshgrid(
        np.arange(shape[0], dtype=np.float32) / step, np.arange(shape[1], dtype=np.float32) / step, indexing="ij"
    )
    fine = cv2.remap(maps, grid_x, grid_y, cv2.INTER_LINEAR)
    light = cv2.remap(scene.reflectance, fine, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    light = cv2.resize(light, (width, height), interpolation=cv2.INTER_AREA)
    rgb = _camera(rng, shot, light)
    seen = [project(shot, design, outline) for outline in outlines]
    return Photographed(shot, rgb, outlines, seen, float(matrix[0, 0]), pastes)


@dataclass(frozen=True)
class _Scene:
    reflectance: np.ndarray
    border_mm: float


def _lay(rng, shot, design):
    """Sherds at random places of the field that do not touch."""
    outlines, centres, pastes = [], [], []
    zone = design.field
    for index in range(shot.sherds):
        poly = sherd_polygon(np.random.default_rng([shot.seed, index]), shot.sherd_mm)
        reach = float(np.hypot(*poly.T).max())
        for _ in range(300):
            at = rng.uniform(
                [zone.x + reach, zone.y + reach], [zone.x + zone.width - reach, zone.y + zone.height - reach]
            )
            if all(np.hypot(*(at - other)) > reach + far + 3 for other, far in centres):
                centres.append((at, reach))
                outlines.append(poly + at)
                pastes.append(PASTES[index % len(PASTES)])
                break
    return outlines, pastes


def _reflectance(rng, shot, design, page, outlines, pastes):
    p = PAGE_PX_PER_MM
    border = 60.0
    shape = (page.shape[0] + round(2 * border * p), page.shape[1] + round(2 * border * p))
    grain = cv2.resize(fractal(rng, (shape[0] // 8, 32), 10, 3).astype(np.float32), shape[::-1])
    scene = linear((146, 112, 80)).astype(np.float32) * np.exp(0.12 * grain)[..., None]
    edge = round(border * p)
    scene[edge : edge + page.shape[0], edge : edge + page.shape[1]] = (
        shot.paper * linear(np.repeat(page[..., None], 3, 2))
    ).astype(np.float32)
    cover = np.zeros(shape, np.float32)
    for outline in outlines:
        mask = np.zeros(shape, np.uint8)
        cv2.fillPoly(mask, [np.rint(((outline + border) * p - 0.5) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
        cover = np.maximum(cover, mask / np.float32(255))
    thrown = cv2.GaussianBlur(np.roll(cover, (round(1.5 * p), round(1.2 * p)), (0, 1)), (0, 0), 0.9 * p)
    scene *= (1 - shot.shadow * thrown * (1 - cover))[..., None]
    for index, (outline, paste) in enumerate(zip(outlines, pastes, strict=True)):
        mask = np.zeros(shape, np.uint8)
        cv2.fillPoly(mask, [np.rint(((outline + border) * p - 0.5) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
        face = _face(np.random.default_rng([shot.seed, 5, index]), outline, paste, mask, border)
        ys, xs = np.nonzero(mask)
        box = np.s_[ys.min() : ys.max() + 1, xs.min() : xs.max() + 1]
        alpha = (mask[box] / np.float32(255))[..., None]
        scene[box] = scene[box] * (1 - alpha) + face * alpha
    if shot.hand:
        cv2.ellipse(
            scene,
            (edge + round(20 * p), edge + round(20 * p)),
            (round(55 * p), round(24 * p)),
            40,
            0,
            360,
            (0.35, 0.2, 0.14),
            -1,
        )
    return _Scene(scene.astype(np.float32), border)


def _face(rng, outline, paste, mask, border):
    ys, xs = np.nonzero(mask)
    shape = (int(np.ptp(ys)) + 1, int(np.ptp(xs)) + 1)
    yy, xx = np.mgrid[: shape[0], : shape[1]] / PAGE_PX_PER_MM
    turn = rng.uniform(0, np.pi)
    across = xx * np.cos(turn) + yy * np.sin(turn)
    inked = (np.mod(across, 9.0) < 2.0) & (rng.random() < 0.6)
    face = np.where(inked[..., None], linear((60, 50, 45)), linear(paste))
    return (face * np.exp(0.05 * fractal(rng, shape, 12, 3))[..., None]).astype(np.float32)


def _camera(rng, shot, light):
    height, width = light.shape[:2]
    yy, xx = np.mgrid[:height, :width]
    far = np.hypot(xx / width - 0.3, yy / height - 0.4)
    lamp = (1 - shot.falloff * np.clip(far, 0, 1.2))[..., None] * np.array(shot.cast) * shot.exposure
    lit = cv2.GaussianBlur(light * lamp, (0, 0), shot.blur_px) if shot.blur_px else light * lamp
    lit = lit + shot.noise * np.sqrt(np.maximum(lit, 0.001)) * rng.standard_normal(lit.shape)
    rgb = np.rint(encoded(np.clip(lit, 0, 1)) * 255).astype(np.uint8)
    stream = io.BytesIO()
    Image.fromarray(rgb).save(stream, "JPEG", quality=shot.quality)
    return np.asarray(Image.open(stream).convert("RGB"))
