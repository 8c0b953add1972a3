"""The fast pass over all pairs: windows of one edge beside windows of the other run backwards.

A window of an edge is described by how its course strays sideways from its own straight line (the integral of the tangent angle less its
mean, sampled evenly), which neither turning nor moving the sherd changes. Two sides of one break show the same
course, so the squared distance D of their descriptions is noise; of strangers it is near the sum of their energies E. With
Gaussian courses and n independent places along the window the log-likelihood ratio is n/2 log((Ea + Eb + c) / (D + c)),
c the energy of the noise: a straight window has no energy and says nothing. The distances of all pairs of windows are one matrix
product. (Tangent-angle signatures for broken pieces: Wolfson 1990, IEEE PAMI 12, 483-489; Leitao & Stolfi 2002, IEEE
PAMI 24, 1239-1251, who match at several scales as well.)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.joins.paths import EdgePath


@dataclass(frozen=True, slots=True)
class WindowSize:
    """A length at which edges are compared: samples of a description, noise (mm) of each, and step of window starts."""

    length_mm: float
    samples: int
    noise_mm: float
    stride: int


WINDOWS: Final = (
    WindowSize(12.0, 14, 0.015, 2),
    WindowSize(18.0, 18, 0.015, 2),
    WindowSize(26.0, 22, 0.02, 2),
)
CORRELATED_MM: Final = 3.0
"""Courses of fractures this far apart along the edge count as independent."""

LONGEST_SHARE: Final = 0.75
"""A window is not longer than this share of the perimeter."""


@dataclass(frozen=True, slots=True)
class Seeds:
    """Where two edges look alike; all (m,).

    a, b: sherds, a < b. at_a, at_b: matched points (indices of the paths) in the middle of the windows. llr: natural-log
    likelihood ratio of the windows.
    """

    a: NDArray[np.intp]
    b: NDArray[np.intp]
    at_a: NDArray[np.intp]
    at_b: NDArray[np.intp]
    llr: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.a)

    def taken(self, which: NDArray[np.intp] | NDArray[np.bool_]) -> Seeds:
        """Some of the seeds."""
        return Seeds(self.a[which], self.b[which], self.at_a[which], self.at_b[which], self.llr[which])


def find_seeds(
    paths: Sequence[EdgePath],
    *,
    per_sherd: int = 40,
    windows: Sequence[WindowSize] = WINDOWS,
    mates: Sequence[EdgePath] | None = None,
    first_mate: int = 0,
) -> Seeds:
    """Find the likeliest meetings of every sherd's edge with all others.

    Parameters
    ----------
    paths : the edges.
    per_sherd : about how many meetings to keep of each sherd.
    mates : edges on b's side where these are not the same ones (their mirror images), in the same order; each a < b is tried once.
    first_mate : only mates from here on are tried.

    Returns
    -------
    Seeds
        Ordered by a, b; each pair at most once a window size.
    """
    others = paths if mates is None else mates
    found = [_of_size(paths, others, first_mate, size) for size in windows]
    seeds = Seeds(*(np.concatenate([getattr(one, name) for one in found]) for name in Seeds.__slots__))
    return _best_of_each(seeds, len(paths), per_sherd)


def _best_of_each(seeds: Seeds, sherds: int, per_sherd: int) -> Seeds:
    """Keep a seed that is among the best of either of its sherds."""
    chosen = among_best(seeds, seeds.llr, sherds, per_sherd)
    return seeds.taken(chosen[np.lexsort((-seeds.llr[chosen], seeds.b[chosen], seeds.a[chosen]))])


def among_best(seeds: Seeds, worth: NDArray[np.float64], sherds: int, per_sherd: int) -> NDArray[np.intp]:
    """Rows, in order, that are among the `per_sherd` of most worth of either of their sherds; ties by order."""
    order = np.argsort(-worth, kind="stable")
    keep = np.zeros(len(seeds), np.bool_)
    for ends in (seeds.a[order], seeds.b[order]):
        by_end = np.argsort(ends, kind="stable")
        starts = np.searchsorted(ends[by_end], np.arange(sherds))
        place = np.arange(len(by_end)) - starts[ends[by_end]]
        keep[order[by_end[place < per_sherd]]] = True
    return np.flatnonzero(keep)


def _of_size(paths: Sequence[EdgePath], mates: Sequence[EdgePath], first_mate: int, size: WindowSize) -> Seeds:
    """The best meeting of every pair at one window size."""
    forward = [_described(path, size, backwards=False) for path in paths]
    backward = [_described(path, size, backwards=True) for path in mates]
    counts = np.array([len(one) for one in backward], dtype=np.intp)
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.intp)
    everything = np.concatenate(backward) if len(paths) else np.zeros((0, size.samples), np.float32)
    rows = [_meetings(i, forward[i], everything, starts, size, first_mate) for i in range(len(paths))]
    parts = [np.concatenate(column) for column in zip(*rows, strict=True)] if rows else [np.zeros(0)] * 5
    a, b, from_a, from_b, llr = parts
    half = round(size.length_mm / 2)
    at_a = np.array([_wrapped(paths[i], s, half) for i, s in zip(a, from_a, strict=True)], dtype=np.intp)
    at_b = np.array([_wrapped_back(mates[j], t, half) for j, t in zip(b, from_b, strict=True)], dtype=np.intp)
    return Seeds(a.astype(np.intp), b.astype(np.intp), at_a, at_b, llr.astype(np.float64))


def _wrapped(path: EdgePath, start: int, half_mm: float) -> int:
    return int(start + round(half_mm / path.step_mm)) % len(path.points)


def _wrapped_back(path: EdgePath, start: int, half_mm: float) -> int:
    """Index in the path of the middle of a window of the path run backwards."""
    return int(len(path.points) - 1 - start - round(half_mm / path.step_mm)) % len(path.points)


def _described(path: EdgePath, size: WindowSize, *, backwards: bool) -> NDArray[np.float32]:
    """(windows, samples) float32: sideways course of every window, mm; none where the edge is too short."""
    n, step = len(path.points), path.step_mm
    span = round(size.length_mm / step)
    if size.length_mm > LONGEST_SHARE * path.perimeter_mm:
        return np.zeros((0, size.samples), np.float32)
    # backwards, every direction is turned by half a turn, which the mean takes out again
    turning = path.direction[::-1] if backwards else path.direction
    once = -2 * np.pi if backwards else 2 * np.pi
    wound = np.concatenate([turning, turning + once])[: n + span + 1]
    course = np.concatenate([[0.0], np.cumsum(wound)]) * step
    first = np.arange(0, n, size.stride)
    place = np.rint(np.linspace(0, span, size.samples)).astype(np.intp)
    along = course[first[:, None] + place] - course[first][:, None]
    along -= place / span * along[:, -1:]
    return np.asarray(along - along.mean(axis=1, keepdims=True), np.float32)


def _meetings(
    i: int,
    own: NDArray[np.float32],
    everything: NDArray[np.float32],
    starts: NDArray[np.intp],
    size: WindowSize,
    first_mate: int,
) -> tuple[NDArray[np.intp], ...]:
    """Best meeting of sherd i with each later sherd: a, b, window starts (path indices, b's backwards), likelihood ratio."""
    later = [j for j in range(max(i + 1, first_mate), len(starts) - 1) if starts[j + 1] > starts[j]]
    if not len(own) or not later:
        return (np.zeros(0, np.intp),) * 5
    low = starts[later[0]]
    others = everything[low:]
    noise = np.float32(2 * size.samples * size.noise_mm**2)
    own_energy = np.einsum("ws,ws->w", own, own)[:, None] + noise
    # 1 - q = 2 <a, b> / (Ea + Eb + c) is what is wanted large; the matrix product gives 2 <a, b>
    alike = (2 * own) @ others.T
    alike /= own_energy + np.einsum("ws,ws->w", others, others)[None]
    best = alike.max(axis=0)
    edges = starts[later] - low
    places = [int(lo + best[lo:hi].argmax()) for lo, hi in zip(edges, [*edges[1:], len(best)], strict=True)]
    rows = alike[:, places].argmax(axis=0)
    unlike = np.maximum(1 - best[places], 1e-6)
    llr = -0.5 * size.length_mm / CORRELATED_MM * np.log(unlike)
    window_b = np.asarray(places) - edges
    full = np.full(len(later), i, np.intp)
    return full, np.asarray(later, np.intp), rows * size.stride, window_b * size.stride, llr
