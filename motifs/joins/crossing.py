"""What crosses a break: colours just inside either edge, carried on to the break, and laid side by side along the contact.

The skin at an edge is worn, so colours are read a little way in, at two depths. Oblique strokes are further along
at the deeper one; how far is found place by place, and the course of colour is carried on by as much towards the break.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from motifs.joins.contact import soft_along
from motifs.joins.paths import STEP_MM, joined_up

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.joins.alignment import Contacts
    from motifs.joins.paths import EdgePath
    from motifs.joins.pieces import SherdEdge, SherdFields

DEPTHS_MM: Final = (1.5, 3.0)
NORMAL_SMOOTH_MM: Final = 1.5
SLANT_MM: Final = 3.0
"""Strokes may move this far along the edge from one depth to the other."""
COLOUR_NOISE: Final = 5.0
"""Colour differences (CIE76) along an edge that are worn skin and noise."""
CORRELATED_MM: Final = 3.0
INK_IS: Final = 0.5
NEAR_STROKE_MM: Final = 1.5
MIN_KNOWN: Final = 8


@dataclass(frozen=True, slots=True)
class EdgeColours:
    """Along every point of all paths in a row: lab (n, 3) carried on to the edge, ground (n, 3) without ink, ink (n,) 0..1; NaN unknown."""

    lab: NDArray[np.float64]
    ground: NDArray[np.float64]
    ink: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CrossingMeasures:
    """What was seen across each contact; all (m,).

    colour_llr: natural-log likelihood ratio that the two courses of colour are one. ground_de: CIE76 of the grounds, NaN
    unknown. strokes, strokes_met: painted stretches at the break, and those with a partner. known: share of the contact seen.
    """

    colour_llr: NDArray[np.float64]
    ground_de: NDArray[np.float64]
    strokes: NDArray[np.intp]
    strokes_met: NDArray[np.intp]
    known: NDArray[np.float64]


def edge_colours(pieces: Sequence[SherdEdge], paths: Sequence[EdgePath]) -> EdgeColours:
    """Read the colours along every edge."""
    parts = [_along(piece.fields, path) for piece, path in zip(pieces, paths, strict=True)]
    if not parts:
        return EdgeColours(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0))
    return EdgeColours(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def _along(
    fields: SherdFields | None, path: EdgePath
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    n = len(path.points)
    if fields is None:
        return np.full((n, 3), np.nan), np.full((n, 3), np.nan), np.full(n, np.nan)
    way = gaussian_filter1d(np.exp(1j * path.direction), NORMAL_SMOOTH_MM / STEP_MM, mode="wrap")
    inward = 1j * way / np.maximum(np.abs(way), 1e-9)
    layers = [_sampled(fields, path.points + depth * inward) for depth in DEPTHS_MM]
    lab, ink = layers[0]
    carried = _carried_on(lab, layers[1][0])
    ground = np.where((ink < 0.25)[:, None] if fields.has_ink else np.ones((n, 1), np.bool_), lab, np.nan)
    return carried, ground, ink


def _sampled(fields: SherdFields, places: NDArray[np.complex128]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    x = ((places.real - fields.corner_mm[0]) * fields.px_per_mm).astype(np.float32)[None]
    y = ((places.imag - fields.corner_mm[1]) * fields.px_per_mm).astype(np.float32)[None]
    lab = np.asarray(cv2.remap(fields.lab, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float64)[0]
    ink = np.asarray(cv2.remap(fields.ink, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float64)[0]
    seen = cv2.remap(fields.face.astype(np.float32), x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)[0]
    hidden = np.asarray(seen) < 0.5
    lab[hidden], ink[hidden] = np.nan, np.nan
    return lab, ink


def _carried_on(outer: NDArray[np.float64], inner: NDArray[np.float64]) -> NDArray[np.float64]:
    """Move the outer course on by the slant that best explains the inner one near each place."""
    lags = np.arange(-round(SLANT_MM / STEP_MM), round(SLANT_MM / STEP_MM) + 1)
    unlike = []
    for lag in lags:
        off = np.nansum((outer - np.roll(inner, lag, axis=0)) ** 2, axis=1)
        unlike.append(uniform_filter1d(off, round(5.0 / STEP_MM), mode="wrap") + 2.0 * np.abs(lag))
    slant = lags[np.argmin(unlike, axis=0)]
    slant = np.rint(gaussian_filter1d(slant.astype(np.float64), 2.0, mode="wrap")).astype(np.intp)
    n = len(outer)
    # inner rolled by the lag lies on outer, so what is at the edge lies one more lag on
    return np.asarray(outer[(np.arange(n) - slant) % n])


def measure_crossings(colours: EdgeColours, paths: Sequence[EdgePath], contacts: Contacts) -> CrossingMeasures:
    """Compare the colours on both sides of every contact."""
    _, starts, _ = joined_up(paths)
    at_a, at_b = starts[contacts.a][:, None] + contacts.at_a, starts[contacts.b][:, None] + contacts.at_b
    lab_a, lab_b = colours.lab[at_a], colours.lab[at_b]
    known = contacts.touching & ~np.isnan(lab_a[..., 0]) & ~np.isnan(lab_b[..., 0])
    llr = _colour_llr(lab_a, lab_b, known)
    ground = _ground_difference(colours.ground[at_a], colours.ground[at_b], contacts.touching)
    strokes = np.array(
        [
            _strokes_met(colours.ink[i[on]], colours.ink[j[on]])
            for i, j, on in zip(at_a, at_b, contacts.touching, strict=True)
        ],
        dtype=np.intp,
    ).reshape(-1, 2)
    share = known.sum(axis=1) / np.maximum(contacts.touching.sum(axis=1), 1)
    return CrossingMeasures(llr, ground, strokes[:, 0], strokes[:, 1], share)


def _colour_llr(
    lab_a: NDArray[np.float64], lab_b: NDArray[np.float64], known: NDArray[np.bool_]
) -> NDArray[np.float64]:
    weight = known.astype(np.float64)
    count = np.maximum(weight.sum(axis=1), 1.0)
    energy, left = np.zeros(len(weight)), np.zeros(len(weight))
    for k in range(3):
        own, other = (_centred(np.nan_to_num(lab[..., k]), weight, count) for lab in (lab_a, lab_b))
        energy += ((own**2 + other**2) * weight).sum(axis=1) / count
        left += ((own - other) ** 2 * weight).sum(axis=1) / count
    independent = count * STEP_MM / CORRELATED_MM
    llr = 0.5 * independent * np.log((energy + COLOUR_NOISE**2) / (left + COLOUR_NOISE**2))
    return np.asarray(np.where(weight.sum(axis=1) >= MIN_KNOWN, llr, 0.0))


def _centred(
    values: NDArray[np.float64], weight: NDArray[np.float64], count: NDArray[np.float64]
) -> NDArray[np.float64]:
    soft = soft_along(values, weight, 0.6)
    return np.asarray(soft - (soft * weight).sum(axis=1, keepdims=True) / count[:, None])


def _ground_difference(
    ground_a: NDArray[np.float64], ground_b: NDArray[np.float64], touching: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """CIE76 between the median grounds along the contact; NaN where either shows too little ground."""
    out = np.full(len(touching), np.nan)
    for row, on in enumerate(touching):
        own, other = (side[row][on] for side in (ground_a, ground_b))
        own, other = own[~np.isnan(own[:, 0])], other[~np.isnan(other[:, 0])]
        if min(len(own), len(other)) >= MIN_KNOWN:
            out[row] = float(np.linalg.norm(np.median(own, axis=0) - np.median(other, axis=0)))
    return out


def _strokes_met(ink_a: NDArray[np.float64], ink_b: NDArray[np.float64]) -> tuple[int, int]:
    """Count painted stretches along a contact and those with paint across from them."""
    on_a, on_b = np.nan_to_num(ink_a) > INK_IS, np.nan_to_num(ink_b) > INK_IS
    total = met = 0
    near = round(NEAR_STROKE_MM / STEP_MM)
    for own, other in ((on_a, on_b), (on_b, on_a)):
        changes = np.flatnonzero(np.diff(np.concatenate([[0], own.astype(np.int8), [0]])))
        for first, last in zip(changes[::2], changes[1::2], strict=True):
            total += 1
            met += bool(other[max(first - near, 0) : last + near].any())
    return total, met
