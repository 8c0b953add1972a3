import numpy as np
import pytest

from motifs.errors import InputError
from motifs.sites import (
    brainerd_robinson,
    count_table,
    jaccard,
    morisita,
    morisita_horn,
    permute_pair,
    similarity_matrix,
    sorensen,
)
from tests.truth import sites_mississippi as truth
from tests.truth import sites_worked


@pytest.mark.parametrize(("a", "b", "expected"), sites_worked.BR)
def test_brainerd_robinson_worked(a, b, expected):
    assert brainerd_robinson(a, b) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("a", "b", "expected"), [*truth.BR_PAIRS])
def test_brainerd_robinson_published_table(a, b, expected):
    assert brainerd_robinson(truth.COUNTS[a], truth.COUNTS[b]) == pytest.approx(expected, abs=0.005)


def test_brainerd_robinson_extremes_of_the_published_table(mississippi):
    matrix = similarity_matrix(mississippi)
    upper = np.triu_indices(20, 1)
    values = matrix.values[upper]
    pairs = [{matrix.sites[i], matrix.sites[j]} for i, j in zip(*upper, strict=True)]
    for (a, b, expected), place in ((truth.BR_HIGHEST, values.argmax()), (truth.BR_LOWEST, values.argmin())):
        assert pairs[place] == {a, b}
        assert values[place] == pytest.approx(expected, abs=5e-7)
    assert values.mean() == pytest.approx(truth.BR_MEAN, abs=1e-6)
    assert np.array_equal(matrix.values, matrix.values.T)
    assert (np.diag(matrix.values) == 200).all()
    assert (matrix.measure, matrix.unit) == ("brainerd-robinson", "sherds")


WORKED = [
    *sites_worked.OTHER_MEASURES,
    *((truth.COUNTS[a], truth.COUNTS[b], *values) for a, b, *values in truth.OTHER_MEASURES),
]


@pytest.mark.parametrize(("a", "b", "one", "two", "three", "four"), WORKED)
def test_other_measures(a, b, one, two, three, four):
    assert jaccard(a, b) == pytest.approx(one, abs=5e-7)
    assert sorensen(a, b) == pytest.approx(two, abs=5e-7)
    assert morisita_horn(a, b) == pytest.approx(three, abs=5e-7)
    assert morisita(a, b) == pytest.approx(four, abs=5e-7)


@pytest.mark.parametrize("measure", ["brainerd-robinson", "jaccard", "sorensen", "morisita", "morisita-horn"])
def test_matrix_form_is_the_pair_form(mississippi, measure):
    pair = {"brainerd-robinson": brainerd_robinson, "jaccard": jaccard, "sorensen": sorensen, "morisita": morisita}
    values = similarity_matrix(mississippi, measure).values
    for i, j in ((0, 1), (3, 17), (10, 17), (5, 19)):
        one = pair.get(measure, morisita_horn)(mississippi.counts[i], mississippi.counts[j])
        assert values[i, j] == pytest.approx(one, abs=1e-12)


@pytest.mark.parametrize(("a", "b", "similarity", "p_value", "null_mean"), truth.PERMUTED)
def test_permutation_p_values(a, b, similarity, p_value, null_mean):
    result = permute_pair(truth.COUNTS[a], truth.COUNTS[b], permutations=9999, seed=12345)
    assert result.similarity == pytest.approx(similarity, abs=0.005)
    assert result.p_value == pytest.approx(p_value, abs=0.02)
    assert p_value > 0.001 or result.p_value < 0.001
    if null_mean is not None:
        assert result.null_mean == pytest.approx(null_mean, abs=1.0)


def test_null_fifth_percentile_of_a_close_pair():
    result = permute_pair(truth.COUNTS["10-P-1"], truth.COUNTS["13-O-11"], permutations=9999, seed=1)
    assert result.null_low == pytest.approx(171, abs=0.7)


def test_dealing_matches_shuffling_single_sherds():
    """Exact dealing against a plain loop of shuffled sherds, on the mean and the 5th percentile."""
    a, b = np.array(truth.COUNTS["10-P-1"]), np.array(truth.COUNTS["13-O-11"])
    pieces, rng = np.repeat(np.arange(10), a + b), np.random.default_rng(5)
    looped = []
    for _ in range(2000):
        dealt = rng.permutation(pieces)
        first = np.bincount(dealt[: a.sum()], minlength=10)
        looped.append(brainerd_robinson(first, a + b - first))
    result = permute_pair(a, b, permutations=4999, seed=2)
    assert result.null_mean == pytest.approx(np.mean(looped), abs=0.5)
    assert result.null_low == pytest.approx(np.quantile(looped, 0.05), abs=1.5)


def test_permutation_repeats_and_counts_itself():
    one = permute_pair([50, 0], [0, 50], permutations=99, seed=4)
    assert one == permute_pair([50, 0], [0, 50], permutations=99, seed=4)
    assert one.p_value == pytest.approx(0.01)
    assert permute_pair([5], [7], permutations=9).p_value == 1.0


def test_small_samples_are_warned_about():
    assert "fewer than 30" in permute_pair([3, 1], [40, 2], permutations=9).warnings[0]
    assert permute_pair([30, 1], [40, 2], permutations=9).warnings == ()


def test_empty_sites_are_left_out_and_named():
    table = count_table([[1, 2], [0, 0], [2, 2]], ["a", "b", "c"], ["m", "n"], "sherds")
    matrix = similarity_matrix(table)
    assert (matrix.sites, matrix.dropped_sites) == (("a", "c"), ("b",))
    assert any("counted at b" in note for note in matrix.warnings)
    assert matrix.frame().shape == (2, 2)


def test_one_site_alone():
    matrix = similarity_matrix(count_table([[3, 1]], ["a"], ["m", "n"], "sherds"))
    assert matrix.values.tolist() == [[200.0]]


def test_undefined_morisita_is_said():
    table = count_table([[1, 1, 0], [0, 1, 1]], ["a", "b"], ["m", "n", "o"], "sherds")
    matrix = similarity_matrix(table, "morisita")
    assert np.isnan(matrix.values[0, 1])
    assert any("undefined" in note for note in matrix.warnings)
    with pytest.raises(InputError, match="undefined"):
        morisita([1, 1, 0], [0, 1, 1])


@pytest.mark.parametrize(
    ("a", "b", "words"),
    [
        ([], [], "nothing was counted"),
        ([0, 0], [1, 2], "nothing was counted"),
        ([1, 2], [1, 2, 3], "2 and 3 motifs"),
        ([1, -2], [1, 2], "-2 is not a count"),
        ([1, np.nan], [1, 2], "not a count"),
        (["x"], ["y"], "not a number"),
        ([[1]], [1], "one list"),
        (5, 6, "one list"),
    ],
)
def test_hostile_pairs(a, b, words):
    with pytest.raises(InputError, match=words):
        brainerd_robinson(a, b)


@pytest.mark.parametrize(
    ("a", "b", "keys", "words"),
    [
        ([1.5, 2], [1, 2], {}, "1.5 is not a whole number"),
        ([1, 2], [1, 2], {"permutations": 0}, "permutations"),
        ([1, 2], [1, 2], {"permutations": 2.5}, "permutations"),
        ([10**9, 2], [1, 2], {}, "at most"),
    ],
)
def test_hostile_permutations(a, b, keys, words):
    with pytest.raises(InputError, match=words):
        permute_pair(a, b, **keys)


def test_unknown_measure(mississippi):
    with pytest.raises(InputError, match="choose one of"):
        similarity_matrix(mississippi, "cosine")
