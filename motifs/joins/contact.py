"""What a contact is worth: how long, how close, and how much form the two edges share beyond what any two edges share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.ndimage import gaussian_filter1d

from motifs.joins.paths import STEP_MM, joined_up

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.joins.alignment import Contacts
    from motifs.joins.paths import EdgePath

BANDS_MM: Final = ((0.6, 1.5, 0.03), (1.5, 4.0, 0.05), (4.0, 10.0, 0.12))
"""Bands of the course of an edge: from and to (Gaussian sigma, mm), and the noise in each (mm)."""


@dataclass(frozen=True, slots=True)
class ContactMeasures:
    """All (m,): length and root mean square stray in mm, gap (median) and share of the reach that touches.

    shared: (m, bands) natural-log likelihood ratio that the edges' courses in each band are one course rather than two.
    relief: (m, bands) root mean square course of the edge itself in the band, mm.
    """

    length_mm: NDArray[np.float64]
    stray_mm: NDArray[np.float64]
    gap_mm: NDArray[np.float64]
    whole: NDArray[np.float64]
    shared: NDArray[np.float64]
    relief: NDArray[np.float64]


def measure_contacts(paths: Sequence[EdgePath], contacts: Contacts) -> ContactMeasures:
    """Measure every contact."""
    points, starts, _ = joined_up(paths)
    weight = contacts.touching.astype(np.float64)
    total = np.maximum(weight.sum(axis=1), 1.0)
    own = points[starts[contacts.a][:, None] + contacts.at_a]
    course = sideways(own, weight)
    stray = _without_parabola(contacts.stray_mm * weight, weight)
    shared, relief = shared_courses(course, stray, weight)
    middle = np.array(
        [np.median(gap[on]) if on.any() else 0.0 for gap, on in zip(contacts.gap_mm, contacts.touching, strict=True)]
    )
    spanned = _span(contacts.touching)
    return ContactMeasures(
        contacts.length_mm,
        np.sqrt((stray**2 * weight).sum(axis=1) / total),
        middle,
        weight.sum(axis=1) / np.maximum(spanned, 1),
        shared,
        relief,
    )


def shared_courses(
    course: NDArray[np.float64], stray: NDArray[np.float64], weight: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Likelihood ratio (nats) in each band that a course is shared, given what strays, and the course's rms (mm): both (m, bands)."""
    total = np.maximum(weight.sum(axis=1), 1.0)
    shared, relief = [], []
    for low, high, noise in BANDS_MM:
        edge, rest = _band(course, weight, low, high), _band(stray, weight, low, high)
        energy, left = (edge**2 * weight).sum(axis=1) / total, (rest**2 * weight).sum(axis=1) / total
        independent = weight.sum(axis=1) * STEP_MM / (2.5 * low + 1.0)
        shared.append(0.5 * independent * np.log((2 * energy + noise**2) / (left + noise**2)))
        relief.append(np.sqrt(energy))
    return np.stack(shared, axis=1), np.stack(relief, axis=1)


def _span(touching: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Places from the first to the last that touches."""
    any_there = touching.any(axis=1)
    first, last = touching.argmax(axis=1), touching.shape[1] - 1 - touching[:, ::-1].argmax(axis=1)
    return np.where(any_there, last - first + 1, 0).astype(np.float64)


def sideways(own: NDArray[np.complex128], weight: NDArray[np.float64]) -> NDArray[np.float64]:
    """Course of an edge across its own main direction, without its parabola."""
    total = np.maximum(weight.sum(axis=1), 1.0)[:, None]
    centred = own - (own * weight).sum(axis=1, keepdims=True) / total
    double = np.sum(weight * centred**2, axis=1)
    main = np.exp(0.5j * np.angle(double))
    return _without_parabola((centred * main.conj()[:, None]).imag, weight)


def _without_parabola(values: NDArray[np.float64], weight: NDArray[np.float64]) -> NDArray[np.float64]:
    place = np.linspace(-1, 1, values.shape[1])
    terms = np.stack([np.ones_like(place), place, place**2], axis=1)
    matrix = np.einsum("mk,ki,kj->mij", weight, terms, terms) + 1e-9 * np.eye(3)
    right = np.einsum("mk,mk,ki->mi", weight, values, terms)
    fitted = np.linalg.solve(matrix, right[..., None])[..., 0]
    return np.asarray((values - fitted @ terms.T) * (weight > 0))


def _band(
    values: NDArray[np.float64], weight: NDArray[np.float64], low_mm: float, high_mm: float
) -> NDArray[np.float64]:
    return np.asarray(soft_along(values, weight, low_mm) - soft_along(values, weight, high_mm))


def soft_along(values: NDArray[np.float64], weight: NDArray[np.float64], sigma_mm: float) -> NDArray[np.float64]:
    """Smooth (m, k) courses along their second axis by a Gaussian (sigma in mm), over places with weight only."""
    sigma = sigma_mm / STEP_MM
    above = gaussian_filter1d(values * weight, sigma, axis=1, mode="constant", truncate=3.0)
    below = gaussian_filter1d(weight, sigma, axis=1, mode="constant", truncate=3.0)
    return np.asarray(above / np.maximum(below, 1e-3))
