"""The dry layout: breaks of known place put together again, on flat walls and on round ones, with wrong joins among the right ones."""

import numpy as np
import pytest
import shapely

from motifs.joins.layout import LayoutJoin, LayoutPiece, lay_out
from motifs.joins.walls import FlatWall, RoundWall, wall_of_profile
from tests.joins.order_trials import random_break


def turn_matrix(degrees):
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[c, -s], [s, c]])


def thrown(rng, outlines):
    """Outlines as if photographed: turned and moved at will; and the 3 by 3 matrix of each."""
    out = []
    for outline in outlines:
        matrix = np.eye(3)
        matrix[:2, :2] = turn_matrix(rng.uniform(0, 360))
        matrix[:2, 2] = rng.uniform(-300, 300, 2)
        out.append((outline @ matrix[:2, :2].T + matrix[:2, 2], matrix))
    return out


def true_joins(outlines, matrices, rng, slip_mm=0.0):
    """Joins of all neighbours, each off by a little: b into a's frame."""
    shapes = [shapely.Polygon(outline).buffer(0) for outline in outlines]
    joins = []
    for a in range(len(shapes)):
        for b in range(a + 1, len(shapes)):
            shared = shapes[a].buffer(0.3).intersection(shapes[b].exterior)
            if shared.length < 12:
                continue
            error = np.eye(3)
            error[:2, :2] = turn_matrix(rng.normal(0, slip_mm))
            error[:2, 2] = rng.normal(0, slip_mm, 2)
            middle = np.eye(3)
            middle[:2, 2] = [shared.centroid.x, shared.centroid.y]
            # The error turns about the contact, as a misfit of edges does.
            transform = matrices[a] @ middle @ error @ np.linalg.inv(middle) @ np.linalg.inv(matrices[b])
            joins.append(LayoutJoin(a, b, 0.95, shared.length, transform, stretch(outlines[a], shared)))
    return joins


def stretch(outline, shared):
    """Contact along an outline, from the nearest vertices on."""
    near = np.array([shapely.Point(p).distance(shared) < 0.6 for p in outline])
    closed = np.concatenate([outline, outline[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    start = int(np.argmax(near & ~np.roll(near, 1)))
    count = 0
    while count < len(near) and near[(start + count) % len(near)]:
        count += 1
    end = (
        along[start + count - 1]
        if start + count - 1 < len(along)
        else along[(start + count - 1) % len(near)] + along[-1]
    )
    return (float(along[start]), float(max(end, along[start] + 1)))


def place_errors(laid, truth):
    """Distances of middles from where they were, after the best rigid placing of the whole (Kabsch 1976)."""
    p, q = laid - laid.mean(axis=0), truth - truth.mean(axis=0)
    angle = np.arctan2((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum(), (p * q).sum())
    return np.hypot(*(p @ turn_matrix(np.degrees(angle)).T - q).T)


def middles(outlines):
    return np.array([[c.x, c.y] for c in (shapely.Polygon(o).centroid for o in outlines)])


@pytest.fixture
def plate():
    rng = np.random.default_rng(11)
    outlines = random_break(rng, 14, wave_mm=4.0, side_mm=150.0, rough_mm=0.8)
    pieces = thrown(rng, outlines)
    joins = true_joins(outlines, [matrix for _, matrix in pieces], rng, slip_mm=0.4)
    return outlines, [LayoutPiece(outline) for outline, _ in pieces], joins


def test_nothing_one_and_two_without_a_join():
    assert len(lay_out([], []).poses) == 0
    square = LayoutPiece(np.array([[0, 0], [10, 0], [10, 10], [0, 10.0]]))
    one = lay_out([square], [])
    assert one.poses.shape == (1, 3)
    assert np.isnan(one.residual_mm[0])
    two = lay_out([square, square], [])
    assert sorted(two.group.tolist()) == [0, 1]


def test_a_flat_break_lies_as_it_was(plate):
    outlines, pieces, joins = plate
    laid = lay_out(pieces, joins)
    assert (laid.group == 0).all()
    assert np.median(place_errors(laid.poses[:, :2], middles(outlines))) < 0.5
    assert np.nanmax(laid.residual_mm) < 2.0


def test_85_percent_of_the_pieces_lie_within_2_mm(plate):
    outlines, pieces, joins = plate
    lost = {2, 9}
    keep = [k for k in range(len(pieces)) if k not in lost]
    new = {k: place for place, k in enumerate(keep)}
    left = [
        LayoutJoin(new[j.a], new[j.b], j.fit, j.length_mm, j.transform, j.stretch_a_mm)
        for j in joins
        if {j.a, j.b} <= new.keys()
    ]
    laid = lay_out([pieces[k] for k in keep], left)
    main = np.flatnonzero(laid.group == 0)
    truth = middles([outlines[keep[k]] for k in main])
    assert len(main) >= 10
    assert np.median(place_errors(laid.poses[main, :2], truth)) < 2.0


def test_a_wrong_join_is_put_aside_by_its_loop_or_its_overlap(plate):
    outlines, pieces, joins = plate
    pairs = {(j.a, j.b) for j in joins}
    a, b = next((a, b) for a in range(14) for b in range(a + 1, 14) if (a, b) not in pairs)
    wrong = LayoutJoin(a, b, 0.6, 20.0, np.eye(3), (0.0, 20.0))
    laid = lay_out(pieces, [*joins, wrong])
    (told,) = [used for used in laid.joins if (used.join.a, used.join.b) == (a, b)]
    assert told.refused is not None
    assert "mm from where other joins put it" in told.refused or "on top" in told.refused
    assert np.median(place_errors(laid.poses[:, :2], middles(outlines))) < 0.5


def test_the_order_of_joins_does_not_matter(plate):
    _, pieces, joins = plate
    one, other = lay_out(pieces, joins), lay_out(pieces, joins[::-1])
    np.testing.assert_allclose(one.poses, other.poses, atol=1e-6)


def test_the_rim_points_up_where_it_is_known(plate):
    outlines, _, joins = plate
    rng = np.random.default_rng(11)
    again = thrown(rng_after_break(rng), outlines)
    turns = [-np.degrees(np.arctan2(m[1, 0], m[0, 0])) % 360 for _, m in again]
    told = [LayoutPiece(o, up_deg=t) for (o, _), t in zip(again, turns, strict=True)]
    laid = lay_out(told, joins)
    assert laid.is_upright
    top = int(np.argmin(middles(outlines)[:, 1]))
    assert laid.poses[top, 1] <= np.sort(laid.poses[:, 1])[2]


def rng_after_break(rng):
    """The generator as the fixture had it once the plate was broken."""
    random_break(rng, 14, wave_mm=4.0, side_mm=150.0, rough_mm=0.8)
    return rng


def test_a_locked_sherd_stays_where_it_was_put(plate):
    _, pieces, joins = plate
    locked = [LayoutPiece(p.outline_mm, locked=(500.0, -80.0, 33.0)) if k == 3 else p for k, p in enumerate(pieces)]
    laid = lay_out(locked, joins)
    np.testing.assert_allclose(laid.poses[3], [500.0, -80.0, 33.0], atol=0.5)


def test_a_cylinder_unrolls_to_its_girth():
    # Chord and arc on a diameter of 200 mm: an arc of 62.83 mm is seen as a chord of 61.80 mm (plane geometry).
    wall = wall_of_profile([(0.0, 100.0), (200.0, 100.0)])
    assert wall.girth_mm == pytest.approx(628.32, abs=0.01)
    ends = np.array([[-30.902, 0.0], [30.902, 0.0]])
    laid = wall.develop(ends, np.tile([300.0, 50.0, 0.0], (2, 1)))
    assert laid[1, 0] - laid[0, 0] == pytest.approx(62.832, abs=0.01)
    np.testing.assert_allclose(laid[:, 1], 50.0, atol=1e-6)


@pytest.mark.parametrize(
    "profile", [[(0.0, 100.0), (120.0, 60.0)], [(0.0, 60.0), (40.0, 80.0), (90.0, 85.0), (140.0, 50.0)]]
)
def test_unrolling_and_seeing_undo_each_other(profile):
    wall = wall_of_profile(profile)
    rng = np.random.default_rng(3)
    local = rng.uniform(-14, 14, (40, 2))
    pose = np.array([120.0, 0.45 * wall.height_mm, 0.7])
    laid = wall.develop(local, np.repeat(pose[None], 40, axis=0))
    np.testing.assert_allclose(wall.seen(laid, pose), local, atol=0.05)


def test_area_of_a_cone_is_that_of_the_handbook():
    # Lateral area of a frustum: pi (r1 + r2) times the slant height.
    wall = wall_of_profile([(0.0, 100.0), (80.0, 40.0)])
    assert wall.area_mm2 == pytest.approx(np.pi * 140.0 * 100.0, rel=1e-3)


def test_sherds_around_a_pot_close_their_loop_on_a_round_wall():
    """A cylinder cut into twelve staves, seen flat one by one: on the wall the last joins the first."""
    wall = wall_of_profile([(0.0, 80.0), (90.0, 80.0)])
    step = wall.girth_mm / 12
    half = 80.0 * np.sin(step / 2 / 80.0)
    wave = 1.5 * np.sin(np.linspace(0, 9, 91)) + 0.8 * np.sin(np.linspace(1, 31, 91))
    down = np.linspace(0, 90, 91)
    right = np.stack([half + wave * 0.95, down], axis=1)
    left = np.stack([-half + wave * 0.95, down], axis=1)
    outline = np.concatenate([left, right[::-1]]) - [0.0, 45.0]
    pieces = [LayoutPiece(outline + np.array([0, 45]), up_deg=0.0, is_rim=True) for _ in range(12)]
    side = float(np.hypot(*np.diff(left, axis=0).T).sum())
    shift = np.eye(3)
    shift[0, 2] = 2 * half
    joins = [
        LayoutJoin(k, (k + 1) % 12, 0.95, 90.0, shift, (side + 2 * half + 3, 2 * side + 2 * half - 3))
        for k in range(12)
    ]
    joins = [
        j if j.a < j.b else LayoutJoin(j.b, j.a, j.fit, j.length_mm, np.linalg.inv(shift), (3.0, side - 3))
        for j in joins
    ]
    laid = lay_out(pieces, joins, wall=wall)
    assert isinstance(laid.wall, RoundWall)
    assert all(used.refused is None for used in laid.joins)
    around = np.sort(laid.poses[:, 0] % wall.girth_mm)
    np.testing.assert_allclose(np.diff(around), step, atol=0.6)
    flat = lay_out(pieces, joins)
    assert isinstance(flat.wall, FlatWall)
    assert sum(used.refused is not None for used in flat.joins) == 1


@pytest.mark.parametrize(
    "profile",
    [[], [(0.0, 50.0)], [(0.0, 50.0), (0.0, 50.0)], [(0.0, 50.0), (30.0, -1.0)], [(0.0, float("nan")), (1.0, 2.0)]],
)
def test_what_is_no_profile_is_refused(profile):
    with pytest.raises(ValueError, match="profile"):
        wall_of_profile(profile)
