"""Broken plates of known fit: one jagged crack through a plate, cut, turned and moved. Written for these tests alone."""

import numpy as np


def crack(rng, length_mm=60.0, step_mm=0.25, rough_mm=1.2):
    """A course across: sum of waves whose amplitude falls with their wavelength, as on real fractures; (n, 2) along x."""
    x = np.arange(0, length_mm + step_mm, step_mm)
    y = np.zeros_like(x)
    for wavelength in (40.0, 21.0, 11.0, 6.0, 3.1):
        y += rough_mm * wavelength / 40 * rng.normal() * np.sin(2 * np.pi * x / wavelength + rng.uniform(0, 2 * np.pi))
    return np.stack([x, y], axis=1)


def side(rng, edge, away_mm):
    """The rest of a sherd's outline behind an edge: a rough arc on one side of it (away_mm < 0 above, > 0 below)."""
    t = np.linspace(0, np.pi, 90)[1:-1]
    middle, half = edge[:, 0].mean(), np.ptp(edge[:, 0]) / 2
    wobble = 1 + 0.08 * np.sin(5 * t + rng.uniform(0, 6)) + 0.04 * np.sin(11 * t + rng.uniform(0, 6))
    return np.stack([middle + half * np.cos(t), away_mm * np.sin(t) * wobble], axis=1)


def broken_plate(rng, length_mm=60.0, gap_mm=0.0):
    """Two outlines (mm) that share one crack, both in the plate's frame; gap_mm worn off between them."""
    edge = crack(rng, length_mm)
    upper = np.concatenate([edge, side(rng, edge, -35.0)])
    lower = np.concatenate([edge + np.array([0, gap_mm]), side(rng, edge, 30.0)])
    return upper, lower


def placed(outline, turn_deg, shift_mm):
    """Turned and moved; and the 3 by 3 matrix that does it."""
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    matrix = np.array([[c, -s, shift_mm[0]], [s, c, shift_mm[1]], [0, 0, 1.0]])
    return outline @ matrix[:2, :2].T + matrix[:2, 2], matrix
