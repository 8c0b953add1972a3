"""Lots and retrieval from real photographs of patterned cloth, given as a folder with an index.csv.

index.csv has the columns file, pattern, cloth_by_eye, session, state_by_eye. A lot is two cloths of one
pattern class, each from a few photographs of one session, cut into pieces and laid on trays.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy.spatial import cKDTree

from tests.outsider.scenes import RENDER_VERSION, Labelled, TrayLook, seeded, shoot, style_named
from tests.outsider.style_one.breakage import Piece
from tests.outsider.style_one.surface import cyclic_noise
from tests.outsider.truth import LotTruth, read_truth, write_truth

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from tests.outsider.optics import Image

ENLARGE = 2
PX_PER_MM = 8.0
FLAT_MM = 1e6


@dataclass(frozen=True)
class ClothPhoto:
    """One row of the index."""

    path: Path
    pattern: str
    cloth: str
    session: str


def read_index(folder: Path) -> list[ClothPhoto]:
    """All photographs that show a pattern ("solid" has none).

    Raises
    ------
    FileNotFoundError : if the folder has no index.csv.
    """
    with (folder / "index.csv").open(encoding="utf-8", newline="") as rows:
        photos = [
            ClothPhoto(folder / r["file"], r["pattern"], r["cloth_by_eye"], r["session"]) for r in csv.DictReader(rows)
        ]
    return [photo for photo in photos if photo.pattern != "solid"]


def read_rgb(path: Path) -> NDArray[np.uint8]:
    """Decode a photograph as RGB."""
    bgr = cv2.imread(str(path))
    if bgr is None:
        raise OSError(f"{path.name} cannot be read as an image")
    return cv2.cvtColor(bgr, cv2.COLOR_BGR2RGB).astype(np.uint8)


def make_cloth_lot(folder: Path, seed: int, work: Path, *, takes: int = 1) -> tuple[LotTruth, Path]:
    """Two cloths of one pattern class in pieces, each from so many photographs of one session; the class goes round by seed."""
    name = f"cloth-{takes}-{seed}"
    place = work / f"v{RENDER_VERSION}" / name
    if (place / "truth.json").exists():
        return read_truth(place / "truth.json"), place
    place.mkdir(parents=True, exist_ok=True)
    rng = seeded(seed, "cloth")
    sherds: list[Labelled] = []
    chosen = _two_sessions(read_index(folder), seed, takes, rng)
    for number, photos in enumerate(chosen):
        for take, photo in enumerate(photos):
            pieces = _cut_photo(read_rgb(photo.path), rng)
            sherds += [
                Labelled(f"cloth{number}-{take}-{p.index:02d}", f"{photo.cloth}", p, (0.0, 0.0, 0.0)) for p in pieces
            ]
    mixed = [sherds[k] for k in rng.permutation(len(sherds))]
    look_of = _contrasting(sherds), int(rng.integers(1 << 30)), int(rng.choice([50, 100]))
    photos_truth = []
    for tray, part in enumerate(np.array_split(np.arange(len(mixed)), 3)):
        look = TrayLook(look_of[0], look_of[1], PX_PER_MM, look_of[2])
        photos_truth.append(
            shoot(style_named("one"), [mixed[k] for k in part], look, place / f"{name}-{tray}.jpg", rng)
        )
    truth = LotTruth(name, "site-a", "cloth", chosen[0][0].pattern, seed, tuple(photos_truth))
    write_truth(truth, place / "truth.json")
    return truth, place


def _contrasting(sherds: list[Labelled]) -> str:
    """The plain backdrop that a photographer would take: the one farther from the pieces in lightness."""
    light = np.array([float(item.piece.albedo[item.piece.mask].mean()) for item in sherds])
    return "light" if (light < 0.06).sum() > (light > 0.35).sum() else "dark"


def _two_sessions(photos: list[ClothPhoto], seed: int, takes: int, rng: np.random.Generator) -> list[list[ClothPhoto]]:
    patterns = sorted({photo.pattern for photo in photos})
    pattern = patterns[seed % len(patterns)]
    sessions: dict[str, dict[str, list[ClothPhoto]]] = defaultdict(lambda: defaultdict(list))
    for photo in photos:
        if photo.pattern == pattern:
            sessions[photo.cloth][photo.session].append(photo)
    cloths = [sorted(sessions)[k] for k in rng.permutation(len(sessions))[:2]]
    chosen = []
    for cloth in cloths:
        session = sessions[cloth][str(rng.choice(sorted(sessions[cloth])))]
        chosen.append([session[k] for k in rng.permutation(len(session))[:takes]])
    return chosen


def _cut_photo(rgb: NDArray[np.uint8], rng: np.random.Generator) -> list[Piece]:
    """Irregular pieces of a photograph, enlarged; pieces at its border are kept."""
    linear = np.where(rgb <= 10, rgb / 255 / 12.92, ((rgb / 255 + 0.055) / 1.055) ** 2.4).astype(np.float32)
    large = cv2.resize(linear, None, fx=ENLARGE, fy=ENLARGE, interpolation=cv2.INTER_CUBIC)
    shape = (large.shape[0], large.shape[1])
    cells = np.stack(np.meshgrid(np.arange(4) + 0.5, np.arange(4) + 0.5), -1).reshape(-1, 2) + rng.uniform(
        -0.28, 0.28, (16, 2)
    )
    seeds = cells * (shape[1] / 4, shape[0] / 4)
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    x += 9 * cyclic_noise(shape, 60, rng) + 2 * cyclic_noise(shape, 12, rng)
    y += 9 * cyclic_noise(shape, 60, rng) + 2 * cyclic_noise(shape, 12, rng)
    _, labels = cKDTree(seeds).query(np.stack([x, y], -1))
    pieces = [_piece(np.clip(large, 0.003, 1), labels == number, number) for number in range(len(seeds))]
    return [piece for piece in pieces if piece.area_mm2 > 200]


def _piece(linear: Image, mask: NDArray[np.bool_], number: int) -> Piece:
    ys, xs = np.flatnonzero(mask.any(1)), np.flatnonzero(mask.any(0))
    box = np.s_[ys[0] : ys[-1] + 1, xs[0] : xs[-1] + 1]
    inner = cv2.erode(np.pad(mask[box], 3).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    _, parts, stats, _ = cv2.connectedComponentsWithStats(inner.astype(np.uint8), connectivity=4)
    largest = parts == 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax())
    albedo = np.pad(linear[box], ((3, 3), (3, 3), (0, 0)), mode="edge")
    return Piece(number, albedo, largest, PX_PER_MM, {}, FLAT_MM)


@dataclass(frozen=True)
class ClothRetrieval:
    """Pattern across cloths: the query's own cloth is left out."""

    encoder: str
    mean_average_precision: float
    precision_at_1: float
    queries: int


def cloth_retrieval(folder: Path) -> list[ClothRetrieval]:
    """Each encoder of the program on whole photographs (no command does this, so its Python is called)."""
    from motifs.embedding import ENCODERS, encode_crops, shipped_encoders
    from motifs.errors import MotifsError
    from motifs.records import CROP_PX_PER_MM, SherdCrop

    photos = read_index(folder)
    crops = []
    for photo in photos:
        rgb = read_rgb(photo.path)
        crops.append(SherdCrop(rgb, np.ones(rgb.shape[:2], bool), CROP_PX_PER_MM, CROP_PX_PER_MM, is_scaled=False))
    results = []
    for spec in (*ENCODERS, *(one for one in shipped_encoders() if one.tag.startswith("motif."))):
        try:
            vectors = encode_crops(spec, crops)
        except MotifsError as reason:
            print(f"{spec.tag}: left out: {reason}")
            continue
        results.append(rank_photos(spec.tag, vectors, photos))
    return results


def rank_photos(tag: str, vectors: NDArray[np.float32], photos: list[ClothPhoto]) -> ClothRetrieval:
    """mAP and precision@1 of unit vectors, relevance being the pattern, the query's own cloth left out."""
    pattern, cloth = np.array([p.pattern for p in photos]), np.array([p.cloth for p in photos])
    similarity = vectors @ vectors.T
    precisions, first = [], []
    for query in range(len(photos)):
        others = np.flatnonzero(cloth != cloth[query])
        order = others[np.argsort(-similarity[query, others], kind="stable")]
        hits = pattern[order] == pattern[query]
        if hits.any():
            precisions.append(float((np.cumsum(hits)[hits] / (np.flatnonzero(hits) + 1)).mean()))
            first.append(float(hits[0]))
    return ClothRetrieval(tag, float(np.mean(precisions)), float(np.mean(first)), len(first))
