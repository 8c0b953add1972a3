"""Print how classical descriptors retrieve, beside the encoders: ``python -m tests.retrieval.measure_classical FOLDER``.

FOLDER holds photographs in one folder a class (``class/photo.jpg``), or an ``index.csv`` with the columns file, pattern
and cloth_by_eye (or file, label and group). Mean average precision and precision at 1, the query's own group left out.

- SIFT with a bag of visual words: Lowe 2004; Sivic & Zisserman 2003 (words weighed by tf-idf; RootSIFT: Arandjelović &
  Zisserman 2012). The words come from the photographs themselves.
- LBP: Ojala, Pietikäinen & Mäenpää 2002 (rotation-invariant uniform patterns, radii 1 to 3; histogram intersection as
  similarity by Hellinger mapping).
- HOG: Dalal & Triggs 2005 (whole picture at one size).
"""

from __future__ import annotations

import argparse
import csv
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from skimage.feature import hog, local_binary_pattern
from sklearn.cluster import MiniBatchKMeans

from motifs.embedding import ENCODERS, encode_crops, shipped_encoders
from motifs.records import CROP_PX_PER_MM, SherdCrop
from motifs.retrieval import mean_average_precision, precision_at_1

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Pictures = list[NDArray[np.uint8]]

SUFFIXES = {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp"}
WORDS = 1000
MOST_KEYPOINTS = 600
HOG_SIDE = 128


@dataclass(frozen=True)
class Labelled:
    """One photograph. group: what is left out together with it."""

    path: Path
    label: str
    group: str


def read_folder(folder: Path) -> list[Labelled]:
    """Photographs with their labels; without an index each is a group of its own."""
    index = folder / "index.csv"
    if index.exists():
        with index.open(encoding="utf-8", newline="") as rows:
            found = [
                Labelled(folder / r["file"], r.get("pattern") or r["label"], r.get("cloth_by_eye") or r["group"])
                for r in csv.DictReader(rows)
            ]
        return [one for one in found if one.label != "solid"]
    paths = sorted(path for path in folder.glob("*/*") if path.suffix.lower() in SUFFIXES)
    return [Labelled(path, path.parent.name, str(path)) for path in paths]


def read_rgb(path: Path) -> NDArray[np.uint8]:
    """Decode as RGB."""
    bgr = cv2.imread(str(path))
    if bgr is None:
        raise OSError(f"{path.name} cannot be read as an image")
    return cv2.cvtColor(bgr, cv2.COLOR_BGR2RGB).astype(np.uint8)


def unit(rows: NDArray[np.floating]) -> NDArray[np.float32]:
    return (rows / np.maximum(np.linalg.norm(rows, axis=1, keepdims=True), 1e-12)).astype(np.float32)


def sift_words(pictures: Pictures) -> NDArray[np.float32]:
    """Bag of RootSIFT words, tf-idf, unit length."""
    finder = cv2.SIFT_create(nfeatures=MOST_KEYPOINTS)
    described = []
    for picture in pictures:
        found = finder.detectAndCompute(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), None)[1]
        rows = np.zeros((0, 128), np.float32) if found is None else np.asarray(found, np.float32)
        described.append(np.sqrt(rows / np.maximum(rows.sum(axis=1, keepdims=True), 1e-9)))
    together = np.concatenate(described)
    words = MiniBatchKMeans(min(WORDS, len(together)), random_state=0, n_init=1, batch_size=4096).fit(together)
    bags = np.zeros((len(pictures), words.n_clusters))
    for row, rows in enumerate(described):
        if len(rows):
            bags[row] = np.bincount(words.predict(rows), minlength=words.n_clusters)
    rarity = np.log((1 + len(bags)) / (1 + (bags > 0).sum(axis=0)))
    return unit(bags / np.maximum(bags.sum(axis=1, keepdims=True), 1) * rarity)


def lbp(pictures: Pictures) -> NDArray[np.float32]:
    """Histograms of rotation-invariant uniform patterns at three radii, square roots, unit length."""
    rows = []
    for picture in pictures:
        grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
        parts = []
        for radius in (1, 2, 3):
            codes = local_binary_pattern(grey, 8 * radius, radius, method="uniform")
            parts.append(np.bincount(codes.astype(int).ravel(), minlength=8 * radius + 2) / codes.size)
        rows.append(np.sqrt(np.concatenate(parts)))
    return unit(np.array(rows))


def hog_whole(pictures: Pictures) -> NDArray[np.float32]:
    """Oriented gradients of the picture at one size, unit length."""
    small = [
        cv2.resize(cv2.cvtColor(p, cv2.COLOR_RGB2GRAY), (HOG_SIDE, HOG_SIDE), interpolation=cv2.INTER_AREA)
        for p in pictures
    ]
    return unit(np.array([hog(p, orientations=9, pixels_per_cell=(16, 16), cells_per_block=(2, 2)) for p in small]))


def encoder_rows() -> dict[str, Callable[[Pictures], NDArray[np.float32]]]:
    """The program's own encoders, each picture taken for one sherd."""

    def of(spec: object) -> Callable[[Pictures], NDArray[np.float32]]:
        def run(pictures: Pictures) -> NDArray[np.float32]:
            crops = [SherdCrop(p, np.ones(p.shape[:2], bool), CROP_PX_PER_MM, CROP_PX_PER_MM, False) for p in pictures]
            return encode_crops(spec, crops)  # type: ignore[arg-type]

        return run

    wanted = (*ENCODERS, *(one for one in shipped_encoders() if one.tag.startswith("motif.")))
    return {spec.tag: of(spec) for spec in wanted}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--every", type=int, default=1, help="take every so manieth photograph only")
    parser.add_argument("--classical-only", action="store_true", help="leave the encoders out")
    given = parser.parse_args()
    photos = read_folder(given.folder)[:: given.every]
    if not photos:
        raise SystemExit(f"{given.folder} holds no class folders with photographs and no index.csv")
    pictures = [read_rgb(photo.path) for photo in photos]
    labels, groups = [p.label for p in photos], [p.group for p in photos]
    methods: dict[str, Callable[[Pictures], NDArray[np.float32]]] = {
        f"SIFT, bag of {WORDS} words": sift_words, "LBP": lbp, "HOG": hog_whole,
    }  # fmt: skip
    methods |= {} if given.classical_only else encoder_rows()
    print(f"{len(photos)} photographs, {len(set(labels))} classes, {len(set(groups))} groups (own group left out)")
    print(f"{'':32s} {'mAP':>6s} {'P@1':>6s} {'ms/picture':>11s}")
    for name, method in methods.items():
        start = time.perf_counter()
        rows = method(pictures)
        took = 1000 * (time.perf_counter() - start) / len(pictures)
        near = rows @ rows.T
        figures = mean_average_precision(near, labels, groups), precision_at_1(near, labels, groups)
        print(f"{name:32s} {figures[0]:6.3f} {figures[1]:6.3f} {took:11.1f}", flush=True)


if __name__ == "__main__":
    main()
