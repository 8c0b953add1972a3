"""Print how large collections are searched: ``python -m tests.retrieval.measure_index --count 100000``.

Vectors are made by seed to be like those of the motif encoder. What they follow was taken from its vectors of 723
sherds of practice gatherings (mean taken away, unit length): variances fall as (rank + 8) ** -1.2, and sherds come as
motifs of ten vessels of five sherds that share part of their variance within a motif and more within a vessel, some
sherds more than others. As many made so, beside the real ones: variance of the 1st, 4th, 16th, 64th and 256th component
0.041, 0.028, 0.012, 0.0036, 0.0006 (real: 0.048, 0.036, 0.014, 0.0030, 0.0005); similarity of the nearest, 10th, 50th and
90th percentile, 0.40, 0.62, 0.80 (real: 0.44, 0.67, 0.87), of the tenth nearest 0.21, 0.28, 0.37 (real: 0.25, 0.35, 0.51).
Queries are further sherds of the same vessels.

All on one core. Each line: build time, memory of the structure, time a query asked alone, share of the exact ten nearest
among the ten found, and the same for bare faiss with the same structure and settings, asked for as many candidates,
whose first ten count. The whole vectors lie in a file in 16 bits and are read from there for the candidates.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import faiss
import numpy as np
from scipy.fft import dct

from motifs.retrieval import LargeIndex, LargePlan, VectorIndex
from motifs.retrieval.large import CHUNK, EXACT_UP_TO, empty_structure, search_settings
from motifs.retrieval.rows import VectorRows

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    Vectors = NDArray[np.float32]

swig: Any = faiss
TOP = 10
MOTIF_SHARE, VESSEL_SHARE = 0.30, 0.35
VESSELS, SHERDS = 10, 5
OWN_SHARE = (0.1, 0.6)
"""Range of the share of variance that is a sherd's own."""
PLANS = {
    "lists, 8 bits": LargePlan(kind="lists"),
    "lists, product codes": LargePlan(kind="codes"),
    "graph": LargePlan(kind="graph"),
    "lists, flat": LargePlan(kind="flat"),
}
SEARCHES: dict[str, tuple[dict[str, Any], ...]] = {
    "graph": ({"search_depth": 100}, {"search_depth": 200}, {"search_depth": 400}),
    "lists": ({"probes": 0.005}, {"probes": 0.01}, {"probes": 0.02}, {"probes": 0.04}),
    "flat": ({"probes": 0.01}, {"probes": 0.02}),
    "codes": ({"probes": 0.02}, {"probes": 0.02, "looked_at": 30}, {"probes": 0.04, "looked_at": 30}),
}


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    name: str
    build_s: float | None
    memory_mb: float
    query_ms: float
    recall: float


class MadeSherds:
    """Vectors like the encoder's, by seed; every call to `chunks` draws further sherds of the same vessels."""

    def __init__(self, count: int, dim: int) -> None:
        rng = np.random.default_rng(0)
        spectrum = (np.arange(1, dim + 1) + 8.0) ** -1.2
        self.sd = np.sqrt(spectrum / spectrum.sum()).astype(np.float32)
        self.signs = rng.choice(np.array([-1.0, 1.0], np.float32), dim)
        self.order = rng.permutation(dim)
        self.vessels = max(1, count // SHERDS)
        self.motifs = rng.standard_normal((max(1, count // (SHERDS * VESSELS)), dim), np.float32) * self.sd

    def chunks(self, count: int, seed: int) -> Iterator[Vectors]:
        """(CHUNK, dim) unit vectors at a time."""
        rng = np.random.default_rng(seed)
        for start in range(0, count, CHUNK):
            yield self._some(rng.integers(self.vessels, size=min(CHUNK, count - start)), rng)

    def _some(self, vessels: NDArray[np.int64], rng: np.random.Generator) -> Vectors:
        dim = len(self.sd)
        unique, place = np.unique(vessels, return_inverse=True)
        shapes = np.stack([np.random.default_rng([1, v]).standard_normal(dim, np.float32) for v in unique]) * self.sd
        own = rng.uniform(*OWN_SHARE, size=(len(vessels), 1)).astype(np.float32)
        shared = (1.0 - own) / (MOTIF_SHARE + VESSEL_SHARE)
        found = np.sqrt(shared * MOTIF_SHARE) * self.motifs[vessels // VESSELS % len(self.motifs)]
        found += np.sqrt(shared * VESSEL_SHARE) * shapes[place]
        found += np.sqrt(own) * rng.standard_normal((len(vessels), dim), np.float32) * self.sd
        # Turned, so that no component lies along a number of the vector: faiss has to find them itself.
        turned = dct((found * self.signs)[:, self.order], norm="ortho", axis=1)
        return turned / np.linalg.norm(turned, axis=1, keepdims=True)


def timed(run: Callable[[], object]) -> tuple[float, Any]:
    """Seconds, and what came of it."""
    start = time.perf_counter()
    result = run()
    return time.perf_counter() - start, result


def share_found(found: list[list[str]], true: NDArray[np.int64]) -> float:
    """Mean share of the exact nearest among the found ones."""
    return float(
        np.mean([len({str(n) for n in row} & set(near)) / len(row) for near, row in zip(found, true, strict=True)])
    )


def asked_one_by_one(search: Callable[[Vectors], list[str]], queries: Vectors) -> tuple[float, list[list[str]]]:
    """Milliseconds a query, asked one at a time as a person does, and the answers."""
    for row in range(min(len(queries), 5)):
        search(queries[row : row + 1])
    seconds, found = timed(lambda: [search(queries[i : i + 1]) for i in range(len(queries))])
    return 1000.0 * seconds / len(queries), found


def true_nearest(rows: VectorRows, queries: Vectors) -> NDArray[np.int64]:
    """(Q, TOP) numbers, by looking through the file."""
    values = np.zeros((len(queries), 0), np.float32)
    numbers = np.zeros((len(queries), 0), np.int64)
    for start in range(0, len(rows), CHUNK):
        part = np.arange(start, min(start + CHUNK, len(rows)))
        values = np.concatenate([values, queries @ rows.take(part).T], axis=1)
        numbers = np.concatenate([numbers, np.broadcast_to(part, (len(queries), len(part)))], axis=1)
        best = np.argsort(-values, axis=1, kind="stable")[:, :TOP]
        values, numbers = np.take_along_axis(values, best, axis=1), np.take_along_axis(numbers, best, axis=1)
    return numbers


def ours(name: str, index: Any, queries: Vectors, true: NDArray[np.int64], build_s: float | None, memory: int) -> Row:
    """A line for one of the program's indexes."""
    query_ms, found = asked_one_by_one(lambda q: [key for key, _ in index.search(q, TOP)[0]], queries)
    return Row(name, build_s, memory / 1e6, query_ms, share_found(found, true))


def bare(
    structure: Any,
    plan: LargePlan | None,
    queries: Vectors,
    true: NDArray[np.int64],
    build_s: float | None,
    memory: int,
) -> Row:
    """A line for faiss itself: the same structure, settings and number of candidates, its own order of the first ten."""
    count = TOP if plan is None else TOP * plan.looked_at
    settings = None if plan is None else search_settings(plan, structure, count)
    query_ms, found = asked_one_by_one(
        lambda q: [str(n) for n in structure.search(q, count, params=settings)[1][0][:TOP]], queries
    )
    return Row("   bare faiss", build_s, memory / 1e6, query_ms, share_found(found, true))


def bare_build_s(plan: LargePlan, rows: VectorRows, dim: int) -> float:
    """Seconds that faiss takes by itself for the same structure, vectors in memory."""
    vectors = rows.take(np.arange(len(rows)))
    structure = empty_structure(plan, dim, len(vectors))
    sample = np.random.default_rng(0).permutation(len(vectors))[: plan.trained_on]
    start = time.perf_counter()
    structure.train(vectors[np.sort(sample)])
    structure.add(vectors)
    return time.perf_counter() - start


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, nargs="+", default=[100_000])
    parser.add_argument("--dim", type=int, default=2560, help="length of a vector (the motif encoder's: 2560)")
    parser.add_argument("--components", type=int, default=LargePlan().components)
    parser.add_argument("--queries", type=int, default=200)
    parser.add_argument("--kinds", nargs="+", choices=[*PLANS, "exact"], default=["exact", *PLANS])
    parser.add_argument("--work", type=Path, help="folder that keeps the vectors (5 kB each) between runs")
    given = parser.parse_args()
    if given.work is not None:
        given.work.mkdir(parents=True, exist_ok=True)
    swig.omp_set_num_threads(1)
    for count in given.count:
        with tempfile.TemporaryDirectory() as folder:
            _measure(count, given, given.work or Path(folder))


def _measure(count: int, given: argparse.Namespace, folder: Path) -> None:
    made, file = MadeSherds(count, given.dim), folder / f"made-{count}-{given.dim}.rows"
    if file.exists() and file.stat().st_size == 2 * count * given.dim:
        rows = VectorRows(given.dim, file, count)
    else:
        rows = VectorRows(given.dim, file)
        for part in made.chunks(count, 1):
            rows.append(part)
    queries = np.concatenate(list(made.chunks(given.queries, 2)))
    del made
    true = true_nearest(rows, queries)
    print(
        f"{count} vectors of {given.dim} ({len(rows) * given.dim * 2e-6:.0f} MB on disk), {given.components} components,"
    )
    print(f"{given.queries} queries, one core")
    print(f"{'':40s} {'build s':>9s} {'MB':>8s} {'ms/query':>9s} {'recall@10':>10s}", flush=True)
    if "exact" in given.kinds:
        _measure_exact(rows, queries, true)
    for name in [name for name in given.kinds if name != "exact"]:
        _measure_plan(name, replace(PLANS[name], components=given.components), rows, queries, true)
    print(
        f"most memory held by this run: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.1f} GB", flush=True
    )


def _measure_exact(rows: VectorRows, queries: Vectors, true: NDArray[np.int64]) -> None:
    if len(rows) > EXACT_UP_TO:
        index = _keyed(rows, LargePlan())
        _print(ours("looked through on disk", index, queries[:3], true[:3], None, 0))
        return
    vectors = rows.take(np.arange(len(rows)))
    vectors /= np.linalg.norm(vectors, axis=1, keepdims=True)
    exact = VectorIndex("m.one", rows.dim)
    build_s, _ = timed(lambda: exact.add([str(number) for number in range(len(rows))], vectors))
    _print(ours("exact", exact, queries, true, build_s, vectors.nbytes))
    flat = swig.IndexFlatIP(rows.dim)
    build_s, _ = timed(lambda: flat.add(vectors))
    _print(bare(flat, None, queries, true, build_s, vectors.nbytes))


def _keyed(rows: VectorRows, plan: LargePlan) -> LargeIndex:
    index = LargeIndex("m.one", rows.dim, plan, rows)
    index.restore([str(number) for number in range(len(rows))], np.zeros(0, np.uint8), 0)
    return index


def _measure_plan(name: str, plan: LargePlan, rows: VectorRows, queries: Vectors, true: NDArray[np.int64]) -> None:
    index = _keyed(rows, plan)
    build_s, _ = timed(index.build)
    # A second structure of a million takes as long and as much memory again: there the same one is asked.
    bare_s = bare_build_s(plan, rows, rows.dim) if len(rows) <= EXACT_UP_TO else None
    size = len(index.packed())
    for changes in SEARCHES[plan.kind]:
        index.plan = replace(plan, **changes)
        words = ", ".join(f"{key.replace('_', ' ')} {value:g}" for key, value in changes.items())
        _print(ours(f"{name}: {words}", index, queries, true, build_s, size))
        _print(bare(index._structure, index.plan, queries, true, bare_s, size))


def _print(row: Row) -> None:
    build = "same" if row.build_s is None else f"{row.build_s:.1f}"
    print(f"{row.name:40s} {build:>9s} {row.memory_mb:8.0f} {row.query_ms:9.2f} {row.recall:10.3f}", flush=True)


if __name__ == "__main__":
    main()
