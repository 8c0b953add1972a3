"""Symmetry of drawn designs whose group is known: letters, generators, turned, cut and noisy.

The rows of letters are those of handbooks on pattern (the seven band groups by letters; common practice), drawn from one letter
by the isometries themselves, so that nothing of the program's own generators is in them.
"""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont
from scipy import ndimage

from motifs.design import BAND_GROUPS, PLANE_GROUPS, band_group, explained, group_of, read_symmetry
from motifs.design.benchmark import band_trial, plane_trial, symbol_read
from motifs.design.groups import BAND_MOVES

SIDE = 64


def letter(sign: str) -> np.ndarray:
    """A letter as an image of SIDE px, from Pillow's own font."""
    image = Image.new("L", (SIDE, SIDE), 0)
    ImageDraw.Draw(image).text((SIDE / 2, SIDE / 2), sign, 255, ImageFont.load_default(44), anchor="mm")
    return np.asarray(image) / 255.0


def row_of(parts: list[np.ndarray], times: int) -> tuple[np.ndarray, np.ndarray]:
    band = np.hstack([np.hstack(parts)] * times)
    band = np.pad(band, ((20, 20), (0, 0)))
    return band, np.ones(band.shape, bool)


F = letter("F")
ROWS = {
    "p111": [F],
    "p1a1": [F, F[::-1]],
    "p1m1": [np.vstack([F, F[::-1]])],
    "pm11": [F, F[:, ::-1]],
    "p112": [F, F[::-1, ::-1]],
    "pma2": [F, F[:, ::-1], F[::-1], F[::-1, ::-1]],
    "pmm2": [np.vstack([F, F[::-1]]), np.vstack([F, F[::-1]])[:, ::-1]],
}


@pytest.mark.parametrize("symbol", sorted(ROWS))
def test_rows_of_one_letter(symbol):
    found = read_symmetry(*row_of(ROWS[symbol], 3))
    assert symbol_read(found) == symbol
    assert found.repeats == pytest.approx(3, abs=0.3)
    assert np.hypot(*found.shifts_px[0]) == pytest.approx(SIDE * len(ROWS[symbol]), rel=0.03)


@pytest.mark.parametrize(
    ("sign", "symbol"), [("L", "p111"), ("D", "p1m1"), ("A", "pm11"), ("N", "p112"), ("H", "pmm2")]
)
def test_letters_that_have_the_symmetry_themselves(sign, symbol):
    assert symbol_read(read_symmetry(*row_of([letter(sign)], 4))) == symbol


def test_orbifold_costs_are_two():
    """Conway's counting: the parts of every symbol cost 2 in all (Conway, Burgiel & Goodman-Strauss 2008, ch. 3)."""
    for group in (*BAND_GROUPS, *PLANE_GROUPS):
        cost, after_mirror = 0.0, False
        for sign in group.orbifold:
            if sign in "*×":
                cost, after_mirror = cost + 1, after_mirror or sign == "*"
            elif sign == "o":
                cost += 2
            else:
                whole = 1.0 if sign == "∞" else (int(sign) - 1) / int(sign)
                cost += whole / 2 if after_mirror else whole
        assert cost == pytest.approx(2), group.symbol


def test_the_copies_in_a_repeat_follow_from_the_moves():
    """Seven pixels of motif make 7, 14, 14, 14, 14, 28, 28 in a repeat: index of the translations in each group."""
    copies = {
        symbol: 4 if sum((m.across, m.along, m.turn, m.glide)) == 3 else 1 + any((m.across, m.along, m.turn, m.glide))
        for symbol, m in BAND_MOVES.items()
    }
    assert copies == {group.symbol: group.copies for group in BAND_GROUPS}


def test_the_clash_of_p1m1_is_explained():
    assert "two different band groups" in explained(band_group("p1m1"))
    assert "two different band groups" in explained(band_group("pm11"))
    assert "two different" not in explained(band_group("p112"))
    assert group_of("*∞∞").iuc_short == "p1m1" != group_of("∞*").iuc_short
    assert len({group.orbifold for group in (*BAND_GROUPS, *PLANE_GROUPS)}) == 24


def test_bands_on_sherds_turned_and_noisy():
    """A sample of the benchmark's seeds; the benchmark prints the whole table."""
    rng = np.random.default_rng(5)
    trials = [band_trial(group.symbol, rng, repeats=(2.9, 5.0)) for group in BAND_GROUPS]
    read = [symbol_read(read_symmetry(trial.picture, trial.mask, kind="band")) for trial in trials]
    assert sum(a == trial.symbol for a, trial in zip(read, trials, strict=True)) >= 6


def test_all_over_designs_on_sherds_turned_and_noisy():
    rng = np.random.default_rng(4)
    trials = [plane_trial(group.symbol, rng, cells=(9, 14)) for group in PLANE_GROUPS[::2]]
    read = [symbol_read(read_symmetry(trial.picture, trial.mask, kind="plane")) for trial in trials]
    assert sum(a == trial.symbol for a, trial in zip(read, trials, strict=True)) >= 8


def test_less_than_one_and_a_half_repeats_is_indeterminate():
    band, mask = row_of(ROWS["pma2"], 2)
    part = slice(0, round(4 * SIDE * 1.3))
    found = read_symmetry(band[:, part], mask[:, part])
    assert found.group is None
    assert found.support == 0
    assert "indeterminate" in found.notes[0]


def test_nothing_and_plain_and_lines_have_no_group():
    assert read_symmetry(np.zeros((40, 40)), np.zeros((40, 40), bool)).group is None
    assert read_symmetry(np.zeros((40, 40)), np.ones((40, 40), bool)).group is None
    assert read_symmetry(np.zeros((1, 1)), np.ones((1, 1), bool)).group is None
    lines = np.zeros((120, 200))
    lines[30:36] = lines[80:86] = 1
    noise = np.random.default_rng(1).normal(0, 0.2, lines.shape)
    assert read_symmetry(lines + noise, np.ones(lines.shape, bool)).group is None
    assert read_symmetry(noise, np.ones(lines.shape, bool)).group is None


def test_the_answer_turns_with_the_picture():
    band, mask = row_of(ROWS["p1a1"], 3)
    turned = ndimage.rotate(band, -30, reshape=True, order=1)
    seen = ndimage.rotate(mask.astype(float), -30, reshape=True, order=1) > 0.9
    found = read_symmetry(turned, seen)
    assert symbol_read(found) == "p1a1"
    assert found.axis_deg == pytest.approx(30, abs=3)


def test_axes_lie_where_they_were_drawn():
    """F and its mirror image: mirrors stand at whole multiples of the letter's width."""
    found = read_symmetry(*row_of(ROWS["pm11"], 3))
    at = [one.points_px[0][0] for one in found.elements if one.what == "mirror"]
    assert len(at) >= 5
    assert max(abs(x + 0.5 - SIDE * round((x + 0.5) / SIDE)) for x in at) < 3


def test_light_and_dark_changing_places_is_noted():
    band, mask = row_of([F, 1 - F], 4)
    strip = slice(20, 20 + SIDE)
    found = read_symmetry(band[strip], mask[strip])
    assert any("change places" in note for note in found.notes)
    plain = read_symmetry(*row_of([F], 4))
    assert not any("change places" in note for note in plain.notes)
