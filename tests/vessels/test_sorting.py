"""Sorting of made-up calibrated cues: known answers, exact links, order, number, emptiness."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal
from sklearn.metrics import adjusted_rand_score

from motifs.errors import InputError, LinksContradict
from motifs.records import CueBlock, Links
from motifs.vessels import SupportCurve, hold_sherds, sort_sherds
from motifs.vessels.constraints import make_units, settle_labels, vouched_joins, widen_spreads
from motifs.vessels.mixture import cue_evidence, fit_mixture, make_problem
from motifs.vessels.sorting import WeighedNumber, possible_numbers
from tests.vessels.measure_sorting import correlation_clusters


def lot(vessels, count, apart, seed, present=1.0):
    """`count` sherds of `vessels` pots whose means lie about `apart` deviations from each other on two cues."""
    rng = np.random.default_rng(seed)
    truth = rng.integers(vessels, size=count)
    blocks = []
    for name, axes in (("paste", 2), ("line", 1)):
        angle = 2 * np.pi * np.arange(vessels) / vessels
        means = apart / 2 * np.stack([np.cos(angle), np.sin(angle)], axis=1)[:, :axes]
        here = rng.random(count) < present
        x = np.where(here[:, None], means[truth] + rng.normal(size=(count, axes)), 0.0)
        blocks.append(CueBlock(name, x, here, np.ones(count), np.full(axes, 9.0), np.full(axes, 0.2), 8.0))
    return blocks, truth


def labels(sorting):
    return [1000 + i if a.vessel is None else a.vessel for i, a in enumerate(sorting.assignments)]


@pytest.mark.parametrize(("vessels", "least"), [(1, 1.0), (2, 0.97), (3, 0.95)])
def test_clear_vessels_are_found_without_their_number(vessels, least):
    blocks, truth = lot(vessels, 60, 12.0, 4)
    sorting = sort_sherds(blocks, [0] * 60, Links())
    assert adjusted_rand_score(truth, labels(sorting)) >= least
    low, high = sorting.vessels_range
    assert low <= vessels <= high


def test_nothing_and_one():
    assert sort_sherds([], [], Links()).assignments == ()
    blocks, _ = lot(1, 1, 1.0, 0)
    assert sort_sherds(blocks, [0], Links()).vessels in (0, 1)


def test_no_evidence_is_unassigned():
    blocks, _ = lot(2, 20, 12.0, 1)
    block = blocks[0]
    absent = block.present.copy()
    absent[:3] = False
    only = CueBlock(
        "paste", np.where(absent[:, None], block.x, 0), absent, block.spread, block.between, block.photo_sd, 8.0
    )
    sorting = sort_sherds([only], [0] * 20, Links())
    assert all(one.vessel is None and one.support == 0 for one in sorting.assignments[:3])


def test_same_seed_same_answer_and_given_number():
    blocks, _ = lot(2, 40, 5.0, 2)
    first = sort_sherds(blocks, [0] * 40, Links(), seed=3)
    assert first == sort_sherds(blocks, [0] * 40, Links(), seed=3)
    assert sort_sherds(blocks, [0] * 40, Links(), vessels=3).vessels_range[0] <= 3
    with pytest.raises(InputError, match="41"):
        sort_sherds(blocks, [0] * 40, Links(), vessels=41)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 14), st.integers(0, 14), st.booleans()), max_size=8))
def test_links_always_hold_or_are_refused(pairs):
    blocks, _ = lot(2, 15, 6.0, 5)
    same = tuple((a, b) for a, b, kind in pairs if kind and a != b)
    different = tuple((a, b) for a, b, kind in pairs if not kind and a != b)
    try:
        sorting = sort_sherds(blocks, [0] * 15, Links(same, different))
    except LinksContradict:
        with pytest.raises(LinksContradict):
            make_units(15, Links(same, different))
        return
    vessel = [one.vessel for one in sorting.assignments]
    assert all(vessel[a] is not None and vessel[a] == vessel[b] for a, b in same)
    assert all(vessel[a] is None or vessel[a] != vessel[b] for a, b in different)


def test_contradiction_is_refused():
    with pytest.raises(LinksContradict):
        make_units(3, Links(same=((0, 1), (1, 2)), different=((0, 2),)))


def test_labels_under_three_mutual_refusals():
    share = np.array([[0.9, 0.05, 0.05]] * 3)
    settled = settle_labels(share, ~np.eye(3, dtype=bool))
    assert settled is not None
    assert sorted(settled.tolist()) == [0, 1, 2]
    assert settle_labels(share[:, :2], ~np.eye(3, dtype=bool)) is None


def test_support_grows_with_margin_separation_and_lead():
    curve, many = SupportCurve(), np.linspace(0.0, 60.0, 9)
    for support in (
        curve(many, many * 0 + 20, 20.0),
        curve(many * 0 + 10, many, 20.0),
        curve(many * 0 + 10, many, many),
    ):
        assert (np.diff(support) > 0).all()
        assert ((support > 0) & (support < 1)).all()


def test_vessels_far_apart_support_more_than_vessels_close_by():
    far, truth = lot(2, 60, 14.0, 4)
    near, _ = lot(2, 60, 4.0, 4)
    support = [np.mean([one.support for one in sort_sherds(b, [0] * 60, Links()).assignments]) for b in (far, near)]
    assert support[0] > 0.9 > support[1]
    assert len(truth) == 60


def test_joins_settle_what_the_cues_cannot():
    blocks, truth = lot(2, 40, 1.0, 7)
    chains = [np.flatnonzero(truth == pot) for pot in (0, 1)]
    joins = [(int(a), int(b), 6.0) for chain in chains for a, b in pairwise(chain)]
    unaided = sort_sherds(blocks, [0] * 40, Links(), vessels=2)
    joined = sort_sherds(blocks, [0] * 40, Links(), vessels=2, joins=joins)
    assert adjusted_rand_score(truth, labels(unaided)) < 0.6
    assert adjusted_rand_score(truth, labels(joined)) > 0.95
    told = [vote for one in joined.assignments for vote in one.votes if vote.cue == "joins"]
    assert len(told) == 40
    assert "edges fit 2 sherds of this vessel" in {vote.why[:33] for vote in told}


def test_a_weak_false_join_does_not_merge_clear_vessels():
    blocks, truth = lot(2, 40, 12.0, 8)
    a, b = int(np.flatnonzero(truth == 0)[0]), int(np.flatnonzero(truth == 1)[0])
    sorting = sort_sherds(blocks, [0] * 40, Links(), joins=[(a, b, 3.0)])
    assert adjusted_rand_score(truth, labels(sorting)) > 0.95


def test_calibration_sees_what_sorting_sees():
    blocks, _ = lot(2, 40, 8.0, 9)
    held = hold_sherds(blocks, [0] * 40, SupportCurve().vessel_nats)
    sorting = sort_sherds(blocks, [0] * 40, Links())
    expected = SupportCurve()(held.margin, held.separation, held.gap_nats)
    assert np.allclose([one.support for one in sorting.assignments], expected)


def test_questions_name_unlinked_pairs():
    blocks, _ = lot(2, 40, 3.0, 6)
    first = sort_sherds(blocks, [0] * 40, Links(), vessels=2)
    assert first.questions
    asked = first.questions[0]
    again = sort_sherds(blocks, [0] * 40, Links(same=((asked.a, asked.b),)), vessels=2)
    assert (asked.a, asked.b) not in {(q.a, q.b) for q in again.questions}


def test_joins_show_that_a_cue_says_little_in_this_lot():
    """Light and dark zones within each vessel, as on cloth: the paste would divide the lot by zone, the joins know better."""
    rng = np.random.default_rng(3)
    truth, zone = np.repeat([0, 1], 20), np.tile(np.repeat([0, 1], 2), 10)
    here, one = np.ones(40, bool), np.ones(40)
    shade = (12.0 * zone + rng.normal(size=40))[:, None]
    width = (3.0 * truth + rng.normal(size=40))[:, None]
    blocks = [
        CueBlock("paste", shade, here, one, np.full(1, 30.0), np.full(1, 0.2), 8.0),
        CueBlock("line", width, here, one, np.full(1, 9.0), np.full(1, 0.2), 8.0),
    ]
    joins = [(a, a + 1, 4.0) for a in range(39) if truth[a] == truth[a + 1]]
    joined = sort_sherds(blocks, [0] * 40, Links(), vessels=2, joins=joins)
    assert adjusted_rand_score(zone, labels(sort_sherds(blocks, [0] * 40, Links(), vessels=2))) > 0.9
    assert adjusted_rand_score(truth, labels(joined)) > 0.9


def test_questions_never_name_what_is_not_fit_to_be_shown():
    blocks, _ = lot(2, 40, 3.0, 6)
    asked = {i for q in sort_sherds(blocks, [0] * 40, Links(), vessels=2).questions for i in (q.a, q.b)}
    fitness = [0.0 if i in asked else 1.0 for i in range(40)]
    again = sort_sherds(blocks, [0] * 40, Links(), vessels=2, fitness=fitness).questions
    assert again
    assert not asked & {i for q in again for i in (q.a, q.b)}


def test_possible_numbers_reach_farther_down_than_up():
    numbers = [WeighedNumber(1, -60.0, 0.0), WeighedNumber(2, 0.0, 10.0), WeighedNumber(3, -44.0, 55.0)]
    assert possible_numbers(numbers, (65.0, 0.8)) == (1, 2)
    assert possible_numbers(numbers, (50.0, 1.0)) == (2, 3)
    assert possible_numbers(numbers[::-1], (65.0, 0.8)) == (1, 2)
    assert possible_numbers([WeighedNumber(4, 0.0, 100.0)], (65.0, 0.8)) == (4, 4)


def test_a_vessel_that_earns_nothing_ends_the_range():
    """Three vessels are half earned, a fourth earns nothing, and a fifth that earns something does not bring it back."""
    numbers = [WeighedNumber(2, 0.0, 10.0), WeighedNumber(3, -20.0, 50.0), WeighedNumber(4, -60.0, 90.0)]
    assert possible_numbers([*numbers, WeighedNumber(5, -62.0, 130.0)], (65.0, 0.8)) == (2, 3)


def plain_problem(blocks, count):
    units, repelled = make_units(count, Links())
    return make_problem(blocks, np.zeros(count, np.intp), units, repelled, Links())


def test_one_vessel_of_gauss_readings_has_the_evidence_of_the_normal_model():
    # Murphy (2007), "Conjugate Bayesian analysis of the Gaussian distribution", section 2: marginal likelihood, variance known.
    rng = np.random.default_rng(1)
    x = rng.normal(size=(40, 1)) + 1.3
    block = CueBlock("line", x, np.ones(40, bool), np.ones(40), np.full(1, 9.0), np.full(1, 1e-6), 1e6)
    found = cue_evidence(plain_problem([block], 40), np.ones((1, 40, 1)), rounds=40)[0, 0]
    centred = x[:, 0] - np.median(x)
    expected = multivariate_normal(np.zeros(40), np.eye(40) + 9.0).logpdf(centred)
    # scale and breadth are fitted as well, so that the bound may lie a little above what fixed ones give
    assert -1.0 < found - expected < 2.5


def test_the_bound_never_falls_from_round_to_round():
    blocks, _ = lot(2, 30, 5.0, 11)
    problem = plain_problem(blocks, 30)
    rng = np.random.default_rng(0)
    start = rng.dirichlet(np.ones(2), size=(1, 30))
    bounds = [fit_mixture(problem, start, rounds).bound[0] for rounds in range(1, 5)]
    assert (np.diff(bounds) > -1.0).all()


def test_joins_that_vouch_for_each_other_say_more_and_a_bridge_does_not():
    ring = [(0, 1, 2.0), (1, 2, 2.0), (0, 2, 2.0), (2, 3, 2.0), (3, 4, -1.0)]
    said = {(a, b): llr for a, b, llr in vouched_joins(ring)}
    assert said[0, 1] == said[1, 2] == said[0, 2] > 2.0
    assert said[2, 3] == 2.0
    assert said[3, 4] == -1.0
    assert vouched_joins([]) == []


def test_a_group_that_hangs_together_shows_how_far_a_cue_varies_within_a_vessel():
    x = np.array([0.0, 0.1, -0.1, 40.0, 39.0, 41.0, 0.0, 40.0])[:, None]
    block = CueBlock("paste", x, np.ones(8, bool), np.ones(8), np.full(1, 60.0), np.full(1, 0.2), 4.0)
    ring = [(i, (i + 1) % 8, 3.0) for i in range(8)]
    wide = widen_spreads([block], ring, Links())[0]
    assert wide.spread[0] > 50
    assert wide.seen_here > 0
    apart = widen_spreads([block], [(0, 1, 3.0), (1, 2, 3.0), (0, 2, 3.0)], Links())[0]
    assert apart.spread[0] == 1.0
    assert widen_spreads([], ring, Links()) == []


def test_patchwork_of_two_cloths_is_sorted_by_rings_of_joins():
    """Two vessels of two colours each, alike in all: only rings of joins tell, and they are not overruled by the patches."""
    rng = np.random.default_rng(3)
    truth, patch = np.repeat([0, 1], 16), np.tile([0, 1], 16)
    x = np.stack([30.0 * patch + rng.normal(size=32), rng.normal(size=32)], axis=1)
    block = CueBlock("paste", x, np.ones(32, bool), np.ones(32), np.full(2, 60.0), np.full(2, 0.2), 4.0)
    joins = [(16 * v + i, 16 * v + (i + step) % 16, 3.0) for v in (0, 1) for i in range(16) for step in (1, 2)]
    sorting = sort_sherds([block], [0] * 32, Links(), vessels=2, joins=joins)
    assert adjusted_rand_score(truth, labels(sorting)) == 1.0


def test_correlation_clustering_of_the_table_finds_the_best_of_all_partitions() -> None:
    """Beside every partition of seven sherds (877 of them, the Bell number)."""
    rng = np.random.default_rng(4)
    odds = rng.normal(size=(7, 7))
    odds = odds + odds.T
    np.fill_diagonal(odds, 0.0)

    def partitions(count: int) -> list[list[int]]:
        found = [[0]]
        for _ in range(count - 1):
            found = [[*one, label] for one in found for label in range(max(one) + 2)]
        return found

    def inside(labels: np.ndarray) -> float:
        return float(odds[labels[:, None] == labels[None, :]].sum())

    every = partitions(7)
    assert len(every) == 877
    best = max(inside(np.array(one)) for one in every)
    assert inside(correlation_clusters(odds)) == pytest.approx(best)
