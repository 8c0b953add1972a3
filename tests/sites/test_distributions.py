import numpy as np
import pytest
from scipy.stats import energy_distance

from motifs.errors import InputError
from motifs.sites import SimilarityMatrix, compare_views, energy_matrix, energy_test, mean_by_vessel, soft_similarity


def around(centre, number, seed, spread=0.2):
    return np.asarray(centre) + np.random.default_rng(seed).normal(0, spread, (number, len(centre)))


def invented_sites():
    left, right = np.zeros(6), np.r_[1.0, np.zeros(5)]
    mixes = {"Ask": 40, "Bor": 36, "Cel": 20, "Dun": 8, "Eld": 0}
    sets = {}
    for seed, (name, lefts) in enumerate(mixes.items()):
        sets[name] = np.vstack([around(left, lefts, seed), around(right, 40 - lefts, seed + 50)])
    return sets


def test_energy_distance_against_scipy_in_one_dimension():
    rng = np.random.default_rng(1)
    a, b = rng.normal(0, 1, 40), rng.normal(0.5, 2, 55)
    assert energy_test(a[:, None], b[:, None], permutations=9).distance == pytest.approx(energy_distance(a, b))
    _, matrix = energy_matrix({"a": a[:, None], "b": b[:, None]})
    assert matrix[0, 1] == pytest.approx(energy_distance(a, b))


def test_energy_test_tells_and_does_not_tell_apart():
    base = around(np.zeros(5), 60, 1)
    far = energy_test(base, around([0.5, 0, 0, 0, 0], 60, 2), permutations=199)
    same = energy_test(base, around(np.zeros(5), 60, 3), permutations=199)
    assert far.p_value == pytest.approx(0.005)
    assert same.p_value > 0.01
    assert far.distance > same.distance
    assert far == energy_test(base, around([0.5, 0, 0, 0, 0], 60, 2), permutations=199)


def test_energy_test_keeps_its_level():
    """100 pairs of samples of one distribution: at most 12 below 0.05 (chance of more is under 0.2 %)."""
    below = sum(
        energy_test(around([0, 0], 12, 2 * i), around([0, 0], 15, 2 * i + 1), permutations=99).p_value <= 0.05
        for i in range(100)
    )
    assert below <= 12


def test_energy_of_a_set_with_itself_is_zero():
    base = around(np.zeros(3), 10, 0)
    found = energy_test(base, base, permutations=19)
    assert found.distance == pytest.approx(0.0, abs=1e-7)
    assert found.p_value == 1.0
    assert "Only 10" in found.warnings[0]


def test_energy_matrix_is_a_distance_table():
    names, matrix = energy_matrix(invented_sites())
    assert names == ("Ask", "Bor", "Cel", "Dun", "Eld")
    assert np.allclose(matrix, matrix.T)
    assert (np.diag(matrix) == 0).all()
    assert matrix[0, 4] == matrix.max()


def test_soft_similarity_follows_the_mixture():
    found = soft_similarity(invented_sites(), groups=6)
    assert (np.diff(found.values[0]) < 0).all()
    assert found.values[0, 1] > 150
    assert found.values[0, 4] < 60
    assert found.unit == "vectors"
    again = soft_similarity(invented_sites(), groups=6)
    assert np.array_equal(found.values, again.values)


def test_soft_similarity_of_one_vector_everywhere():
    same = {"a": np.ones((3, 4)), "b": np.ones((5, 4))}
    found = soft_similarity(same, groups=4)
    assert found.values.tolist() == [[200.0, 200.0], [200.0, 200.0]]
    assert any("1 groups instead of 4" in note for note in found.warnings)


def test_mean_by_vessel():
    rows = np.array([[0.0, 0], [2, 2], [5, 5], [7, 1]])
    assert mean_by_vessel(rows, ["v1", "v1", None, ""]).tolist() == [[1, 1], [5, 5], [7, 1]]


def test_views_agree_and_part():
    rng = np.random.default_rng(4)
    base = rng.uniform(0, 200, (8, 8))
    base = (base + base.T) / 2
    names = tuple("abcdefgh")
    tagged = SimilarityMatrix(base, names, "brainerd-robinson", "sherds")
    turned = np.random.default_rng(1).permutation(8)
    same = SimilarityMatrix(base[np.ix_(turned, turned)], tuple(names[i] for i in turned), "soft", "vectors")
    found = compare_views(tagged, same, permutations=199)
    assert found.correlation == pytest.approx(1.0)
    assert found.p_value == pytest.approx(0.005)
    assert found.pairs == ()
    bent = base.copy()
    i, j = np.unravel_index(np.argmin(base + 1e3 * np.eye(8)), (8, 8))
    bent[i, j] = bent[j, i] = 500.0
    pair = compare_views(tagged, SimilarityMatrix(bent, names, "soft", "vectors"), permutations=19).pairs[0]
    assert {pair.a, pair.b} == {names[i], names[j]}
    assert (pair.tagged_rank, pair.untagged_rank) == (28, 1)
    assert "tagged apart" in pair.why


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: energy_test([], [[1.0]]), "no vectors"),
        (lambda: energy_test([[1.0]], [[1.0, 2.0]]), "one encoder"),
        (lambda: energy_test([[np.nan]], [[1.0]]), "not finite"),
        (lambda: energy_test([["x"]], [[1.0]]), "not numbers"),
        (lambda: energy_matrix({}), "No sites"),
        (lambda: energy_matrix({"a": np.ones((2, 2)), "b": np.ones((2, 3))}), "different lengths"),
        (lambda: soft_similarity({"a": np.ones((0, 2))}), "site a"),
        (lambda: soft_similarity({"a": np.ones((2, 2))}, groups=0), "groups"),
        (lambda: mean_by_vessel(np.ones((2, 2)), ["v"]), "1 names for 2 vectors"),
    ],
)
def test_hostile(call, words):
    with pytest.raises(InputError, match=words):
        call()


def test_views_need_enough_that_differs():
    names = ("a", "b", "c", "d")
    flat = SimilarityMatrix(np.full((4, 4), 200.0), names, "brainerd-robinson", "sherds")
    with pytest.raises(InputError, match="equally alike"):
        compare_views(flat, flat)
    with pytest.raises(InputError, match="share 0 sites"):
        compare_views(flat, SimilarityMatrix(np.eye(2), ("x", "y"), "soft", "vectors"))


def test_weights_count_a_vessel_once():
    """A pot broken into many sherds weighs as one: repeating its vector with weights changes nothing."""
    sets = invented_sites()
    many = {name: np.vstack([rows, rows[:1], rows[:1]]) for name, rows in sets.items()}
    weights = {name: np.r_[1 / 3, np.ones(len(rows) - 1), 1 / 3, 1 / 3] for name, rows in sets.items()}
    once = soft_similarity(many, 1, weights=weights)
    assert np.allclose(once.values, 200.0)
    loud = soft_similarity(many, 2, weights={name: np.ones(len(rows)) for name, rows in many.items()})
    assert np.allclose(loud.values, soft_similarity(many, 2).values)
    with pytest.raises(InputError, match="one number above 0"):
        soft_similarity(many, 2, weights={"Ask": [1.0]})
