"""Decoys, weights moved to a lot, rivals and loops: what tells joins from chance."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import expit

from motifs.joins import SherdEdge, SherdFields
from motifs.joins.adapting import adapted_weights
from motifs.joins.alignment import Contacts
from motifs.joins.fits import load_model
from motifs.joins.judging import judge
from motifs.joins.loops import loop_odds
from motifs.joins.mirrors import mirrored
from motifs.joins.paths import edge_path
from motifs.joins.proposing import meet
from motifs.joins.rivals import rivals_of
from tests.joins.breaks import broken_plate, placed

SQUARE = np.array([[0.0, 0], [30, 0], [30, 20], [0, 20]])


def meetings_at(pairs, shifts):
    """Meetings without a turn that touch along the first ten points."""
    a, b = (np.array(side, np.intp) for side in zip(*pairs, strict=True)) if pairs else (np.zeros(0, np.intp),) * 2
    at = np.tile(np.arange(10), (len(pairs), 1))
    flat = np.zeros(at.shape)
    turns = np.ones(len(pairs), np.complex128)
    return Contacts(a, b, turns, np.array(shifts, np.complex128), at, at, flat == 0, flat, flat)


NONE = meetings_at([], [])
NO_ODDS = np.zeros(0)


def test_a_mirror_image_twice_is_the_sherd_and_its_path_runs_backwards():
    rng = np.random.default_rng(1)
    outline = broken_plate(rng)[0]
    grid = rng.random((40, 60)).astype(np.float32)
    fields = SherdFields(grid, np.stack([grid] * 3, axis=2), grid > 0.3, 2.0, (-3.0, 4.0), has_ink=True)
    image = mirrored(SherdEdge(outline, fields))
    assert image.fields.corner_mm == (-(-3.0 + 59 / 2), 4.0)
    back = mirrored(image)
    np.testing.assert_allclose(back.outline_mm, outline)
    np.testing.assert_array_equal(back.fields.ink, grid)
    own, turned = edge_path(outline).points, edge_path(image.outline_mm).points
    np.testing.assert_allclose(turned[-np.arange(len(own)) % len(own)], -own.conj(), atol=1e-9)


def test_weights_move_to_what_a_lot_shows_and_stay_where_it_shows_little():
    # One feature; joins are two units up, so Bayes' rule gives log odds 2 x - 2 + log(share / (1 - share)) exactly.
    rng = np.random.default_rng(2)
    count, share = 40_000, 0.1
    is_join = rng.random(count) < share
    meetings = rng.normal(size=(count, 1)) + 2.0 * is_join[:, None]
    decoys = rng.normal(size=(count, 1))
    start = np.array([0.7])
    weights, intercept = adapted_weights(meetings, decoys, start, -4.0, stiffness=1.0, share=0.1)
    assert weights[0] == pytest.approx(2.0, abs=0.3)
    assert intercept == pytest.approx(-2.0 + np.log(share / (1 - share)), abs=0.6)
    sure = expit(meetings[:, 0] * weights[0] + intercept) > 0.8
    assert sure.sum() > 500
    assert is_join[sure].mean() > 0.8
    few, _ = adapted_weights(meetings[:20], decoys[:20], start, -1.0, stiffness=60.0, share=0.1)
    assert few[0] == pytest.approx(0.7, abs=0.1)
    assert adapted_weights(np.zeros((0, 1)), decoys, start, -1.0, 1.0, 0.1) == (start, -1.0)


def test_three_sherds_vouch_for_each_other_only_where_the_loop_closes():
    paths = tuple(edge_path(SQUARE) for _ in range(3))
    pairs = [(0, 1), (0, 2), (1, 2)]
    odds = np.full(3, -1.0)
    closed, _ = loop_odds(paths, meetings_at(pairs, [30, 30 + 20j, 20j]), odds, NONE, NO_ODDS)
    np.testing.assert_allclose(closed, np.log1p(np.exp(6.0)))
    open_by_3_mm, _ = loop_odds(paths, meetings_at(pairs, [30, 30 + 20j, 23j]), odds, NONE, NO_ODDS)
    np.testing.assert_array_equal(open_by_3_mm, 0.0)
    doubtful, _ = loop_odds(paths, meetings_at(pairs, [30, 30 + 20j, 20j]), np.array([-1.0, -1, -9]), NONE, NO_ODDS)
    np.testing.assert_array_equal(doubtful, 0.0)


def test_meetings_that_claim_one_stretch_are_rivals():
    paths = tuple(edge_path(SQUARE) for _ in range(3))
    two = meetings_at([(0, 1), (0, 2)], [30, 30])
    rivals = rivals_of(paths, two, two, np.array([2.0, -1.0]))
    np.testing.assert_allclose(rivals, np.log1p([[0, np.exp(-1)], [0, np.exp(2)]]))
    elsewhere = replace(two, at_a=two.at_a + np.array([[0], [40]]))
    np.testing.assert_array_equal(rivals_of(paths, elsewhere, elsewhere, np.array([2.0, -1.0])), 0.0)
    assert rivals_of(paths, NONE, two, np.array([2.0, -1.0])).shape == (0, 2)


def test_mirror_images_never_look_surer_than_the_joins_they_stand_for():
    rng = np.random.default_rng(4)
    pieces = [
        SherdEdge(placed(half, rng.uniform(0, 360), rng.uniform(-99, 99, 2))[0])
        for _ in range(6)
        for half in broken_plate(rng, gap_mm=0.4)
    ]
    meetings = meet(pieces)
    assert set(meetings.decoys.b.tolist()) <= set(range(12, 24))
    judged = judge(meetings, load_model().fit)
    contacts = meetings.contacts.taken(judged.rows)
    is_true = contacts.a // 2 == contacts.b // 2
    assert is_true.sum() == 6
    assert np.median(judged.odds[is_true]) > judged.odds[~is_true].max()
