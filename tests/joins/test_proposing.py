"""Joins of plates broken on purpose: found, laid where they were, and nothing claimed where nothing can be known."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from motifs.joins import SherdEdge, propose_joins
from motifs.joins.paths import edge_path
from tests.joins.breaks import broken_plate, placed

TRIANGLES = [np.array([[0, 0], [40, 0], [10, 30.0]]), np.array([[0, 0], [60, 0], [10, 20.0]])]


@pytest.fixture(scope="module")
def lot():
    """Six plates in two halves, each half turned and moved; halves 2k and 2k + 1 belong together."""
    rng = np.random.default_rng(3)
    outlines, matrices = [], []
    for _ in range(6):
        for half in broken_plate(rng, gap_mm=0.4):
            moved, matrix = placed(half, rng.uniform(0, 360), rng.uniform(-200, 200, 2))
            outlines.append(moved)
            matrices.append(matrix)
    return outlines, matrices, propose_joins([SherdEdge(outline) for outline in outlines])


def test_nothing_and_one_sherd_have_no_joins():
    assert propose_joins([]) == []
    assert propose_joins([SherdEdge(TRIANGLES[0])]) == []


def test_every_half_finds_its_other_half_first(lot):
    outlines, _, joins = lot
    for sherd in range(len(outlines)):
        first = next(join for join in joins if sherd in (join.a, join.b))
        assert {first.a, first.b} == {sherd, sherd ^ 1}
        assert first.length_mm > 45


def test_the_halves_come_to_lie_as_they_lay(lot):
    _, matrices, joins = lot
    for a in range(0, 12, 2):
        join = next(join for join in joins if (join.a, join.b) == (a, a + 1))
        # where the other half's frame really is, seen from this one's
        true = matrices[a] @ np.linalg.inv(matrices[a + 1])
        centre = np.append(matrices[a + 1][:2, :2] @ [30, 15] + matrices[a + 1][:2, 2], 1.0)
        assert np.linalg.norm((join.transform @ centre - true @ centre)[:2]) < 0.8
        turn = np.degrees(np.arctan2(*(join.transform @ np.linalg.inv(true))[1::-1, 0]))
        assert abs(turn) < 1.0


def test_a_transform_turns_and_moves_but_never_stretches_or_mirrors(lot):
    for join in lot[2]:
        turn = join.transform[:2, :2]
        np.testing.assert_allclose(turn @ turn.T, np.eye(2), atol=1e-9)
        assert np.linalg.det(turn) > 0


def test_the_contact_is_named_along_the_outline_as_given(lot):
    outlines, _, joins = lot
    join = joins[0]
    for number, (start, end) in ((join.a, join.stretch_a), (join.b, join.stretch_b)):
        closed = np.concatenate([outlines[number], outlines[number][:1]])
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
        # the crack comes first in every outline of these plates
        assert start % along[-1] < 12 or start % along[-1] > along[-1] - 12
        assert end - start == pytest.approx(join.length_mm, abs=6)


def test_a_straight_edge_fits_anything_and_is_trusted_for_nothing():
    (join,) = propose_joins([SherdEdge(one) for one in TRIANGLES])
    assert join.fit < 0.8


def test_the_wrong_way_round_does_not_fit():
    rng = np.random.default_rng(5)
    upper, lower = broken_plate(rng)
    mirrored = lower * [1, -1]
    right = propose_joins([SherdEdge(upper), SherdEdge(lower)])[0].fit
    wrong = propose_joins([SherdEdge(upper), SherdEdge(mirrored)])
    assert right > 0.5
    assert max((join.fit for join in wrong), default=0.0) < right


def test_a_sherd_without_scale_takes_no_part():
    upper, lower = broken_plate(np.random.default_rng(7))
    other = broken_plate(np.random.default_rng(8))[0]
    joins = propose_joins([SherdEdge(other, is_scaled=False), SherdEdge(upper), SherdEdge(lower)])
    assert {(join.a, join.b) for join in joins} == {(1, 2)}


@pytest.mark.parametrize("bad", [np.zeros((2, 2)), np.full((5, 2), np.nan), np.zeros((5, 3)), np.zeros((5, 2))])
def test_what_is_no_outline_is_refused(bad):
    with pytest.raises(ValueError, match="outline"):
        propose_joins([SherdEdge(bad), SherdEdge(TRIANGLES[0])])


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 10_000), st.floats(0, 360), st.floats(-300, 300))
def test_where_and_how_a_sherd_lay_on_the_tray_changes_nothing(seed, turn_deg, x_mm):
    upper, lower = broken_plate(np.random.default_rng(seed))
    moved, _ = placed(lower, turn_deg, (x_mm, -20.0))
    (plain,) = propose_joins([SherdEdge(upper), SherdEdge(lower)])
    (again,) = propose_joins([SherdEdge(upper), SherdEdge(moved)])
    assert again.length_mm == pytest.approx(plain.length_mm, abs=1.5)
    assert again.fit == pytest.approx(plain.fit, abs=0.05)


def test_an_outline_may_run_either_way_round():
    upper, lower = broken_plate(np.random.default_rng(11))
    (plain,) = propose_joins([SherdEdge(upper), SherdEdge(lower)])
    (again,) = propose_joins([SherdEdge(upper), SherdEdge(lower[::-1])])
    assert again.length_mm == pytest.approx(plain.length_mm, abs=3)
    np.testing.assert_allclose(again.transform, plain.transform, atol=0.2)


def test_the_order_of_sherds_does_not_matter_to_who_fits(lot):
    outlines, _, joins = lot
    turned = propose_joins([SherdEdge(outline) for outline in outlines[::-1]])
    pairs = {frozenset((join.a, join.b)) for join in joins[:6]}
    assert {frozenset((11 - join.a, 11 - join.b)) for join in turned[:6]} == pairs


def test_the_same_sherds_give_the_same_joins(lot):
    outlines, _, joins = lot
    again = propose_joins([SherdEdge(outline) for outline in outlines])
    assert [(join.a, join.b, join.fit) for join in again] == [(join.a, join.b, join.fit) for join in joins]


def test_the_path_of_a_circle_has_its_perimeter_and_turns_once():
    # Elementary geometry: perimeter 2 pi r, and the tangent turns by 2 pi in all.
    t = np.linspace(0, 2 * np.pi, 2001)[:-1]
    path = edge_path(np.stack([20 * np.cos(t), 20 * np.sin(t)], axis=1))
    assert path.perimeter_mm == pytest.approx(2 * np.pi * 20, rel=1e-5)
    steps = np.diff(path.direction)
    assert steps.mean() * len(path.points) == pytest.approx(2 * np.pi, rel=1e-3)
    np.testing.assert_allclose(np.abs(path.points), 20, atol=0.02)
