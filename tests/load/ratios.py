"""Every step beside the bare library that does its core: `python -m tests.load.ratios [STEP ...] [--rounds 5]`.

One table: seconds of this program, seconds of the library, and their ratio, in interleaved rounds on one core. Seconds are of
processor time of the process (least of the rounds), so that others at work on the machine count little; where a page is opened in a
browser they are of the clock, and the load is stated. The single benchmarks with more to say are named beside each row.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import argparse
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True, slots=True)
class Row:
    """One line: ours and the library's, in seconds; what each did; which benchmark says more."""

    step: str
    ours_s: float
    bare_s: float
    bare: str
    more: str


def interleaved(ours: Callable[[], object], bare: Callable[[], object], rounds: int) -> tuple[float, float]:
    """Least processor seconds of each, taken in turn, after one round that does not count."""
    taken: tuple[list[float], list[float]] = ([], [])
    for turn in range(rounds + 1):
        for work, seconds in zip((ours, bare), taken, strict=True):
            began = time.process_time()
            work()
            if turn:
                seconds.append(time.process_time() - began)
    return min(taken[0]), min(taken[1])


def starting(rounds: int) -> Iterator[Row]:
    """`import motifs` and `--help`, beside Python that does nothing."""
    helped = "from motifs.cli import main\ntry: main(['--help'])\nexcept SystemExit: pass"

    def child(statement: str) -> float:
        line = "import sys, time\n" + statement + "\nsys.stderr.write(str(time.process_time()))"
        done = subprocess.run([sys.executable, "-c", line], cwd=ROOT, capture_output=True, text=True, check=True)
        return float(done.stderr)

    taken = [[child(statement) for statement in ("pass", "import motifs", helped)] for _ in range(max(3, rounds))]
    nothing, plain, with_help = (min(column) for column in zip(*taken, strict=True))
    yield Row("import motifs", plain, nothing, "Python alone", "tests/test_layers.py")
    yield Row("--help", with_help, nothing, "Python alone", "tests/test_layers.py")


def intake(rounds: int) -> Iterator[Row]:
    """A tray of 12 sherds, 4 megapixels: outlines and scale; and catalogued with crops and every figure."""
    import cv2

    from motifs.catalogue import Catalogue
    from motifs.imaging import outline_measures, read_photo, read_tray
    from motifs.workflows.intake import catalogue_photos, read_photos
    from tests.imaging.measure_imaging import _bare
    from tests.imaging.trays import Recipe, make_tray

    cv2.setNumThreads(1)
    recipe = Recipe(seed=4242, backdrop="grey", size_px=(2400, 1700), sherds=12, px_per_mm=8.0, sherd_mm=40.0)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "tray.jpg"
        path.write_bytes(make_tray(recipe).jpeg())
        # Made beforehand: only the intake is timed, and one photograph is taken into a collection once.
        made = [Path(folder) / f"collection_{turn}" for turn in range(rounds + 1)]
        for one in made:
            Catalogue.open(one, create=True).close()

        def read() -> None:
            reading = read_tray(read_photo(path))
            for sherd in reading.sherds:
                outline_measures(sherd.outline_px, reading.scale)

        def catalogued() -> None:
            with Catalogue.open(made.pop()) as cat:
                catalogue_photos(cat, read_photos([path]), lot="A", by="measure")

        library = "OpenCV: decode, Lab, components"
        more = "tests.imaging.measure_imaging"
        yield Row("intake: outlines", *interleaved(read, lambda: _bare(path), rounds), library, more)
        yield Row("intake: all, kept", *interleaved(catalogued, lambda: _bare(path), rounds), library, more)


def encode(rounds: int) -> Iterator[Row]:
    """60 sherds into vectors, beside the network alone on as many ready views, whichever way it runs fastest."""
    import torch

    from motifs.embedding import EFFICIENTNET_LITE0, encode_crops, encoder_named, views_of
    from motifs.embedding.encode import BATCH
    from motifs.embedding.engines import fold_normalisation, has_onnx, onnx_engine
    from motifs.embedding.weights import load_network
    from tests.embedding.sherds import sherd, textures

    torch.set_num_threads(1)
    spec = encoder_named(EFFICIENTNET_LITE0.tag)
    crops = [sherd(picture, seed=seed) for seed in range(30) for picture in textures().values()][:60]
    batches = sum(1 for crop in crops for _ in views_of(crop, spec)) // BATCH
    images = np.random.default_rng(0).integers(0, 256, (BATCH, spec.input_px, spec.input_px, 3), dtype=np.uint8)
    ready = (torch.from_numpy(images).permute(0, 3, 1, 2).float() / 255.0).contiguous(memory_format=torch.channels_last)
    body = load_network(spec).body.to(memory_format=torch.channels_last)
    fold_normalisation(body)

    def eager() -> None:
        with torch.inference_mode():
            for _ in range(batches):
                body(ready)

    bare: Callable[[], object] = eager
    if has_onnx():
        graph = onnx_engine(load_network(spec), spec.input_px, 1)
        masks = np.full(images.shape[:3], 255, np.uint8)

        def bare() -> None:
            for _ in range(batches):
                graph(images, masks)

    few = max(2, rounds // 2)
    yield Row("encode 60 sherds", *interleaved(lambda: encode_crops(spec, crops), bare, few), "the network alone", "tests.embedding.measure_encode")  # fmt: skip


def index(rounds: int) -> Iterator[Row]:
    """20,000 vectors of 320 numbers, exact: built; and 200 queries for the ten nearest."""
    import faiss

    from motifs.retrieval import VectorIndex

    faiss.omp_set_num_threads(1)
    rng = np.random.default_rng(0)
    vectors = rng.standard_normal((20_000, 320), np.float32)
    vectors /= np.linalg.norm(vectors, axis=1, keepdims=True)
    queries, keys = vectors[:200], [f"S-{row:05d}" for row in range(len(vectors))]

    def bare_build() -> object:
        flat = faiss.IndexFlatIP(320)
        flat.add(vectors)
        return flat

    def build() -> VectorIndex:
        made = VectorIndex("x", 320)
        made.add(keys, vectors)
        return made

    ours, bare, more = build(), bare_build(), "tests.retrieval.measure_index"
    yield Row("index: built", *interleaved(build, bare_build, rounds), "faiss IndexFlatIP", more)
    found = interleaved(lambda: ours.search(queries, 10), lambda: bare.search(queries, 10), rounds)
    yield Row("index: 200 queries", *found, "faiss IndexFlatIP", more)


def sort(rounds: int) -> Iterator[Row]:
    """500 sherds of three pots, number unknown, beside average linkage on their distances with the number given."""
    from sklearn.cluster import AgglomerativeClustering

    from motifs.records import Links
    from motifs.vessels import sort_sherds
    from tests.vessels.measure_sorting import made_up_lot

    blocks, photos = made_up_lot(500, pots=3)
    x = np.concatenate([block.x for block in blocks], axis=1)
    square = (x**2).sum(axis=1)
    far = np.sqrt(np.maximum(square[:, None] - 2 * x @ x.T + square, 0))
    plain = AgglomerativeClustering(3, metric="precomputed", linkage="average")
    both = interleaved(lambda: sort_sherds(blocks, photos, Links()), lambda: plain.fit(far), max(2, rounds // 2))
    yield Row("sort 500 sherds", *both, "scikit-learn agglomerative", "tests.vessels.measure_sorting speed")


def joins(rounds: int) -> Iterator[Row]:
    """60 rough sherds, every edge against every other, beside one pass of cross-correlation."""
    from motifs.joins.benchmark import correlate_all, rough_sherds
    from motifs.joins.paths import edge_path
    from motifs.joins.proposing import propose_joins

    sherds = rough_sherds(60)
    paths = [edge_path(one.outline_mm) for one in sherds]
    both = interleaved(lambda: propose_joins(sherds), lambda: correlate_all(paths), max(2, rounds // 2))
    yield Row("joins of 60 sherds", *both, "SciPy FFT, one pass", "motifs.joins.benchmark")


def pages(rounds: int) -> Iterator[Row]:
    """The page of lots and a sorting table of 300 sherds in a browser, beside a page of two lines."""
    from tests.browser.lab import browsing, chromium, served
    from tests.load.make import make_collection
    from tests.load.served_page import hello_served, open_page, server_of

    if chromium() is None:
        print("no chromium here: pages are left out", file=sys.stderr)
        return
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "collection"
        make_collection(folder, 600)
        with (
            served(folder, Path(scratch) / "log") as address,
            hello_served(Path(scratch)) as (hello, bare_pid),
            browsing() as browser,
        ):
            pid, tab = server_of(int(address.rpartition(":")[2])), browser.new_page()
            time.sleep(3)
            for name, path in (("page: lots", ""), ("page: 300 sherds", "sorting_table?lot=AH-0001")):
                taken = []
                for _ in range(rounds + 1):
                    ours = open_page(tab, f"{address}/{path}", pid)
                    taken.append((ours.whole_s, open_page(tab, hello, bare_pid).whole_s))
                ours_s, bare_s = (min(column) for column in zip(*taken[1:], strict=True))
                yield Row(name, ours_s, bare_s, "Streamlit, two lines (clock)", "tests.load.measure_pages")


STEPS = {
    "start": starting, "intake": intake, "encode": encode, "index": index, "sort": sort, "joins": joins, "pages": pages,
}  # fmt: skip


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.load.ratios", description=__doc__.splitlines()[0])
    parser.add_argument("steps", nargs="*", metavar="STEP", help=f"of {', '.join(STEPS)} (default: all)")
    parser.add_argument("--rounds", type=int, default=5)
    given = parser.parse_args()
    unknown = [step for step in given.steps if step not in STEPS]
    if unknown:
        parser.error(f"no step '{unknown[0]}'; the steps are {', '.join(STEPS)}")
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; one core is used")
    print(f"{'step':20s}{'ours, s':>10s}{'bare, s':>10s}{'ratio':>8s}  beside; more is said by")
    for step in given.steps or STEPS:
        for row in STEPS[step](given.rounds):
            ratio = row.ours_s / max(row.bare_s, 1e-9)
            print(f"{row.step:20s}{row.ours_s:10.4f}{row.bare_s:10.4f}{ratio:8.1f}  {row.bare}; {row.more}", flush=True)
    print(f"load of the machine {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
