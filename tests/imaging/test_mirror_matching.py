"""Turned-over outlines find their fronts: on broken practice pots, with wear, other scale, missing and extra pieces."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifs.imaging.mirror_matching import match_mirrored
from tests.imaging.turned_over import broken_outlines, turned_over

KINDS = {
    "clean": {"rough_mm": 0.1, "bevel_mm": 0.6, "scale_sd": 0.005},
    "usual": {"rough_mm": 0.2, "bevel_mm": 1.5, "scale_sd": 0.01},
    "worn": {"rough_mm": 0.3, "bevel_mm": 2.5, "scale_sd": 0.015},
}
"""How far front and back differ: scatter, slanting and worn edges, height over the tray (sizes by common practice)."""


def laid_out(seed, kind, *, lost=3, strange=3):
    """Fronts, backs and the true pairs: some sherds have no back in the photograph, some backs no front."""
    pieces, rng = broken_outlines(seed, 30), np.random.default_rng(seed)
    order = rng.permutation(len(pieces))
    with_front = [place for place in range(len(pieces)) if place not in set(order[:strange])]
    with_back = [place for place in rng.permutation(len(pieces)) if place not in set(order[strange : strange + lost])]
    backs = [turned_over(pieces[place], rng, **KINDS[kind]) for place in with_back]
    truth = {with_front.index(place): back for back, place in enumerate(with_back) if place in with_front}
    return [pieces[place] for place in with_front], backs, truth


@pytest.mark.parametrize("is_to_scale", [True, False])
@pytest.mark.parametrize(("kind", "right", "sure"), [("clean", 1.0, 0.99), ("usual", 0.99, 0.9), ("worn", 0.95, 0.4)])
def test_backs_find_their_fronts(kind, right, sure, is_to_scale):
    found = possible = settled = 0
    for seed in (0, 1):
        fronts, backs, truth = laid_out(seed, kind)
        pairs = match_mirrored(fronts, backs, is_to_scale=is_to_scale)
        found += sum(truth.get(pair.front) == pair.back for pair in pairs)
        settled += sum(pair.is_sure for pair in pairs)
        possible += len(truth)
        assert [pair for pair in pairs if pair.is_sure and truth.get(pair.front) != pair.back] == []
        assert len({pair.back for pair in pairs}) == len(pairs) == len({pair.front for pair in pairs})
    slack = 0.0 if is_to_scale else 0.1
    assert found >= (right - slack) * possible
    assert settled >= (sure - 3 * slack) * possible


def test_the_turn_lays_the_mirrored_back_on_the_front():
    front = broken_outlines(0, 30)[0]
    front = front - front.mean(axis=0)
    mirrored = front * (-1, 1)
    angle = np.radians(40.0)
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    (pair,) = match_mirrored([front], [mirrored @ spin.T])
    assert pair.distance < 0.05
    # The back was turned by 40 degrees after mirroring; mirrored again, that turn runs the other way.
    assert pair.turn_deg == pytest.approx(40.0, abs=0.5)
    assert (pair.margin, pair.is_sure) == (0.0, True)


def test_an_unmirrored_outline_is_not_its_own_back():
    """A sherd laid down the same way up is no view of its back; the few that are nearly symmetrical cannot be told."""
    fronts = broken_outlines(0, 30)
    wrong = [pair for pair in match_mirrored(fronts, fronts) if pair.is_sure]
    assert len(wrong) <= 0.2 * len(fronts)


def test_two_pieces_alike_are_not_sure():
    piece = broken_outlines(1, 30)[0]
    rng = np.random.default_rng(0)
    backs = [turned_over(piece, rng, **KINDS["clean"]) for _ in range(2)]
    pairs = match_mirrored([piece, piece + 90.0], backs)
    assert len(pairs) == 2
    assert not any(pair.is_sure for pair in pairs)


def test_strangers_stay_alone():
    fronts, strangers = broken_outlines(4, 12), broken_outlines(5, 12)
    pairs = match_mirrored(fronts, strangers)
    assert not any(pair.is_sure for pair in pairs)
    assert len(pairs) <= 0.5 * len(fronts)


def test_nothing_to_match():
    piece = broken_outlines(1, 30)[0]
    assert match_mirrored([], [piece]) == match_mirrored([piece], []) == ()


@pytest.mark.parametrize("bad", [[(0, 0), (1, 1)], [(0, 0), (1, 1), (2, 2)], [(0, 0), (1, np.nan), (2, 0)]])
def test_what_is_no_outline(bad):
    with pytest.raises(ValueError, match="outline"):
        match_mirrored([broken_outlines(1, 30)[0]], [bad])


@settings(max_examples=6, deadline=None)
@given(st.permutations(range(8)))
def test_order_does_not_matter(order):
    pieces, rng = broken_outlines(0, 30)[:8], np.random.default_rng(3)
    backs = [turned_over(piece, rng, **KINDS["usual"]) for piece in pieces]
    assert {pair.front: order[pair.back] for pair in match_mirrored(pieces, [backs[place] for place in order])} == {
        pair.front: pair.back for pair in match_mirrored(pieces, backs)
    }
