"""Order of assembly: the cases of a narrowing gap, groups closed together, locked pieces; and small breaks checked by trying every order."""

import numpy as np
import pytest
import shapely

from motifs.joins.assembly import _Taker, first_lockout, plan_assembly
from motifs.joins.clearance import blocking_of, contact_lengths
from tests.joins.order_trials import Trial, random_break, trial


def gap(inside_mm, mouth_mm, depth_mm=40.0):
    """A between B and C: the gap for A is mouth_mm wide at y = 0 and inside_mm wide at its bottom."""
    m, i = mouth_mm / 2, inside_mm / 2
    a = np.array([[-m, 0], [m, 0], [i, depth_mm], [-i, depth_mm]])
    b = np.array([[-60, 0], [-m, 0], [-i, depth_mm], [0, depth_mm], [0, depth_mm + 20], [-60, depth_mm + 20]])
    return [a, b, (b * [-1, 1])[::-1]]


# Geometry of a gap that narrows towards its mouth; that such a gap must never be left is Cordell & Bloch 2019, as told in the trade.
@pytest.mark.parametrize(("inside", "mouth", "is_free"), [(40, 30, False), (30, 40, True), (35, 35, True)])
def test_a_gap_that_narrows_locks_out(inside, mouth, is_free):
    blocking = blocking_of(gap(inside, mouth))
    ways = blocking.ways_out([0], [1, 2])
    assert ways.any() == is_free
    if is_free:
        assert 270.0 in blocking.directions_deg[ways]


def test_b_c_a_is_rejected_and_a_b_c_accepted():
    blocking = blocking_of(gap(40, 30))
    assert first_lockout(blocking, [1, 2, 0]) == 2
    assert first_lockout(blocking, [0, 1, 2]) is None
    plan = plan_assembly(blocking)
    order = [piece for step in plan.steps for piece in step.adds]
    assert plan.locked == ()
    assert order.index(0) < 2
    assert first_lockout(blocking, order) is None


def test_parallel_sides_are_free_and_warned_of():
    steps = {}
    for inside, mouth in ((35, 35), (30, 40)):
        blocking = blocking_of(gap(inside, mouth))
        (last,) = [s for s in plan_of_order(blocking, [1, 2, 0]) if s.adds == (0,)]
        steps[inside] = last
    assert steps[35].is_tight
    assert not steps[30].is_tight
    assert steps[30].slide_deg == pytest.approx(90.0)


def plan_of_order(blocking, order):
    """Steps of a given order, as the planner words them."""
    return _Taker(blocking, ())._added(order, 0)


def test_nothing_and_one_and_two():
    assert plan_assembly(blocking_of([])).steps == ()
    square = np.array([[0, 0], [10, 0], [10, 10], [0, 10.0]])
    (step,) = plan_assembly(blocking_of([square])).steps
    assert (step.adds, step.to) == ((0,), ())
    plan = plan_assembly(blocking_of([square, square + np.array([10.2, 0])]))
    assert [step.to for step in plan.steps] == [(), (plan.steps[0].adds[0],)]
    apart = plan_assembly(blocking_of([square, square + np.array([50, 0])]))
    assert {step.block for step in apart.steps} == {0, 1}


def test_it_starts_from_the_rim_where_told():
    tile = np.array([[0, 0], [20, 0], [20, 20], [0, 20.0]])
    tiles = [tile + np.array([21 * (k % 3), 21 * (k // 3)]) for k in range(9)]
    plan = plan_assembly(blocking_of(tiles), starts=[7])
    assert plan.steps[0].adds == (7,)
    assert {k for step in plan.steps for k in step.adds} == set(range(9))


def keyed_pair():
    """Two plates held by a dovetail, as no fracture does but a checker must see."""

    lower = np.array([[0, 20], [30, 20], [22, 4], [68, 4], [60, 20], [90, 20], [90, 50], [0, 50.0]])
    upper = np.array([[0, 20], [0, -20], [90, -20], [90, 20], [60, 20], [68, 4], [22, 4], [30, 20.0]])
    return [lower, upper]


def test_a_piece_that_no_way_leads_to_is_named_with_what_holds_it():
    plates = keyed_pair()
    plan = plan_assembly(blocking_of(plates))
    (locked,) = plan.locked
    assert set(locked.by) | {locked.piece} == {0, 1}
    assert any(step.is_locked for step in plan.steps)


def test_two_groups_are_built_apart_where_no_single_piece_comes_free():
    # Two halves that part along x; in either half a dovetailed piece sits that only the open seam lets in.
    left = [np.array([[0, 0], [40, 0], [40, 15], [20, 10], [20, 40], [40, 35], [40, 50], [0, 50.0]])]
    left.append(np.array([[20, 10], [40, 15], [40, 35], [20, 40.0]]))
    right = [(piece * [-1, 1])[::-1] + np.array([80, 0]) for piece in left]
    blocking = blocking_of([*left, *right], play_mm=0.5)
    plan = plan_assembly(blocking)
    trial_ = Trial([*left, *right], play_mm=0.5)
    assert trial_.wrong_steps(plan) == []


@pytest.mark.parametrize("seed", range(6))
def test_small_breaks_against_every_order(seed):
    has_free_order, locked, wrong, _, is_whole = trial(seed)
    assert not (has_free_order and locked)
    assert wrong == 0
    assert is_whole


def test_the_checker_itself_rejects_a_bad_order():
    outlines = gap(40, 30)
    looked = Trial(outlines)
    assert not looked.slides([0], [1, 2])
    assert looked.slides([1], [0])
    assert looked.has_free_order()


def test_contact_is_as_long_as_the_side():
    boxes = [shapely.box(0, 0, 30, 20), shapely.box(30, 0, 60, 20)]
    assert contact_lengths(boxes)[0, 1] == pytest.approx(20.0, abs=1.5)


def test_the_same_break_gives_the_same_plan():
    outlines = random_break(np.random.default_rng(5), 8)
    assert plan_assembly(blocking_of(outlines)) == plan_assembly(blocking_of(outlines))
