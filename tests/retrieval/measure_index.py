"""Print how large collections are searched: ``python -m tests.retrieval.measure_index --count 100000``.

Clustered synthetic vectors (a mixture whose members spread in fewer directions than the space has, as encoded sherds
do); queries are further members. All on one core. Each line: build time, memory of the structure, time a query,
share of the exact ten nearest among the ten found, and the same for bare faiss with the same structure and settings.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import faiss
import numpy as np

from motifs.retrieval import LargeIndex, LargePlan, VectorIndex
from motifs.retrieval.large import empty_structure

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Vectors = NDArray[np.float32]

swig: Any = faiss
TOP = 10
SPREAD_DIRECTIONS = 24


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    name: str
    build_s: float
    memory_mb: float
    query_ms: float
    recall: float


def clustered(count: int, dim: int, clusters: int, seed: int) -> Vectors:
    """(count, dim) unit vectors in clusters of some fifty."""
    rng, shape = np.random.default_rng(seed), np.random.default_rng(0)
    centres = shape.normal(size=(clusters, dim)).astype(np.float32) / np.sqrt(dim)
    directions = shape.normal(size=(SPREAD_DIRECTIONS * 4, dim)).astype(np.float32) / np.sqrt(dim)
    found = np.empty((count, dim), np.float32)
    for start in range(0, count, 20_000):
        rows = min(20_000, count - start)
        weights = rng.normal(size=(rows, len(directions))).astype(np.float32) / np.sqrt(SPREAD_DIRECTIONS)
        part = centres[rng.integers(clusters, size=rows)] + 0.35 * weights @ directions
        part += 0.15 * rng.normal(size=(rows, dim)).astype(np.float32) / np.float32(np.sqrt(dim))
        found[start : start + rows] = part / np.linalg.norm(part, axis=1, keepdims=True)
    return found


def timed(run: Callable[[], object]) -> tuple[float, object]:
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
    search(queries[:1])
    seconds, found = timed(lambda: [search(queries[i : i + 1]) for i in range(len(queries))])
    return 1000.0 * seconds / len(queries), found  # type: ignore[return-value]


def ours(name: str, index: Any, keys: list[str], vectors: Vectors, queries: Vectors, true: NDArray[np.int64]) -> Row:
    """A line for one of the program's indexes."""
    build_s, _ = timed(lambda: index.add(keys, vectors))
    query_ms, found = asked_one_by_one(lambda q: [key for key, _ in index.search(q, TOP)[0]], queries)
    memory = vectors.nbytes if isinstance(index, VectorIndex) else _structure_bytes(index._faiss) + vectors.nbytes // 2
    return Row(name, build_s, memory / 1e6, query_ms, share_found(found, true))


def bare(name: str, plan: LargePlan | None, vectors: Vectors, queries: Vectors, true: NDArray[np.int64]) -> Row:
    """A line for faiss itself: the same structure and settings, its own order of the ten it finds first."""
    structure = (
        swig.IndexFlatIP(vectors.shape[1]) if plan is None else empty_structure(plan, vectors.shape[1], len(vectors))
    )

    def build() -> None:
        if not structure.is_trained:
            structure.train(vectors)
        structure.add(vectors)

    build_s, _ = timed(build)
    settings = None
    if plan is not None and plan.kind == "graph":
        settings = swig.SearchParametersHNSW(efSearch=plan.search_depth)
    elif plan is not None:
        settings = swig.SearchParametersIVF(nprobe=max(1, round(plan.probes * structure.nlist)))
    query_ms, found = asked_one_by_one(
        lambda q: [str(n) for n in structure.search(q, TOP, params=settings)[1][0]], queries
    )
    return Row(name, build_s, _structure_bytes(structure) / 1e6, query_ms, share_found(found, true))


def _structure_bytes(structure: Any) -> int:
    return int(swig.serialize_index(structure).nbytes)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--dim", type=int, default=1280, help="length of a vector (the motif encoder's: 1280)")
    parser.add_argument("--queries", type=int, default=100)
    parser.add_argument("--probes", type=float, nargs="*", default=[0.01, 0.03], help="shares of the lists searched")
    parser.add_argument("--depths", type=int, nargs="*", default=[64, 128], help="candidates in view in the graph")
    parser.add_argument("--links", type=int, default=32)
    parser.add_argument("--exact", action="store_true", help="the exact index too")
    given = parser.parse_args()
    swig.omp_set_num_threads(1)
    clusters = max(1, given.count // 50)
    vectors, queries = clustered(given.count, given.dim, clusters, 1), clustered(given.queries, given.dim, clusters, 2)
    exact = swig.IndexFlatIP(given.dim)
    exact.add(vectors)
    true = exact.search(queries, TOP)[1]
    del exact
    keys = [str(number) for number in range(given.count)]
    plans = [(f"lists, {share:.1%} searched", LargePlan(kind="lists", probes=share)) for share in given.probes]
    plans += [
        (f"graph of {given.links}, depth {d}", LargePlan(links=given.links, search_depth=d)) for d in given.depths
    ]
    print(f"{given.count} vectors of {given.dim}, {clusters} clusters, {given.queries} queries, one core")
    print(f"{'':38s} {'build s':>9s} {'MB':>8s} {'ms/query':>9s} {'recall@10':>10s}")
    if given.exact:
        _print(ours("exact", VectorIndex("m.one", given.dim), keys, vectors, queries, true))
        _print(bare("  bare faiss", None, vectors, queries, true))
    for name, plan in plans:
        _print(ours(name, LargeIndex("m.one", given.dim, plan), keys, vectors, queries, true))
        _print(bare("  bare faiss", plan, vectors, queries, true))


def _print(row: Row) -> None:
    print(f"{row.name:38s} {row.build_s:9.1f} {row.memory_mb:8.0f} {row.query_ms:9.2f} {row.recall:10.3f}", flush=True)


if __name__ == "__main__":
    main()
