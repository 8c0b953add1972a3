import numpy as np
import pytest

from motifs.errors import InputError
from motifs.sites import count_table, network_above, network_tested, similarity_matrix, site_tree
from tests.truth import sites_mississippi as truth


def two_groups():
    rng = np.random.default_rng(2)
    one, two = np.array([0.5, 0.3, 0.1, 0.05, 0.05, 0, 0, 0]), np.array([0, 0, 0, 0.05, 0.05, 0.1, 0.3, 0.5])
    counts = [rng.multinomial(200, p) for p in (one, one, one, two, two, two)]
    return count_table(counts, ["Ask", "Bor", "Cel", "Dun", "Eld", "Fro"], [f"m{i}" for i in range(8)], "sherds")


def test_tree_joins_the_most_alike_first(mississippi):
    tree = site_tree(mississippi)
    a, b = (tree.sites[int(i)] for i in tree.merges[0, :2])
    assert {a, b} == set(truth.BR_HIGHEST[:2])
    assert tree.merges[0, 2] == pytest.approx(200 - truth.BR_HIGHEST[2], abs=5e-7)
    assert set(tree.leaf_order) == set(mississippi.sites)
    assert 0.5 < tree.cophenetic <= 1.0


def test_average_linkage_by_hand():
    """Three sites: the last merge lies at the mean of the two distances to the first pair."""
    table = count_table([[60, 40, 0], [50, 50, 0], [0, 50, 50]], ["a", "b", "c"], ["m", "n", "o"], "sherds")
    merges = site_tree(table).merges
    assert merges[:, 2] == pytest.approx([20.0, (120.0 + 100.0) / 2])


def test_known_groups_come_back():
    tree = site_tree(two_groups())
    expected = {frozenset({"Ask", "Bor", "Cel"}), frozenset({"Dun", "Eld", "Fro"})}
    assert {frozenset(group) for group in tree.groups(2)} == expected
    assert {frozenset(group) for group in tree.groups_above(120)} == expected
    assert len(tree.groups(6)) == 6
    assert len(tree.groups(1)) == 1


def test_network_above_a_level(mississippi):
    network = network_above(mississippi, 180)
    values = similarity_matrix(mississippi).values
    assert len(network.edges) == np.count_nonzero(values[np.triu_indices(20, 1)] >= 180)
    assert network.edges[0].similarity == pytest.approx(truth.BR_HIGHEST[2], abs=5e-7)
    assert "Holden Lake" in network.alone
    assert len(network_above(mississippi, 0).edges) == 190
    assert network_above(mississippi, 200).edges == ()


def test_network_tested_finds_the_two_groups_and_repeats():
    network = network_tested(two_groups(), permutations=999)
    groups = [{"Ask", "Bor", "Cel"}, {"Dun", "Eld", "Fro"}]
    assert len(network.edges) == 6
    assert all({edge.a, edge.b} <= groups[0] or {edge.a, edge.b} <= groups[1] for edge in network.edges)
    assert all(edge.p_value <= 0.05 for edge in network.edges)
    assert network == network_tested(two_groups(), permutations=999)
    assert "999 permutations" in network.how


def test_network_of_samples_of_one_assemblage():
    network = network_tested(two_groups(), "one assemblage", permutations=199)
    tied = {frozenset((edge.a, edge.b)) for edge in network.edges}
    assert frozenset(("Ask", "Dun")) not in tied
    assert len(tied) >= 4
    assert any("not told apart" in note for note in network.warnings)


def test_too_few_permutations_are_said(mississippi):
    assert any("ask for more" in note for note in network_tested(mississippi, permutations=19).warnings)


def test_one_and_two_sites():
    one = count_table([[3, 1]], ["a"], ["m", "n"], "sherds")
    assert network_above(one, 100).alone == ("a",)
    assert network_tested(one, permutations=9).edges == ()
    with pytest.raises(InputError, match="two sites"):
        site_tree(one)
    two = site_tree(count_table([[3, 1], [1, 3]], ["a", "b"], ["m", "n"], "sherds"))
    assert two.cophenetic is None
    assert two.merges[0, 2] == pytest.approx(100.0)


def test_equal_sites():
    tree = site_tree(count_table([[3, 1]] * 4, list("abcd"), ["m", "n"], "sherds"))
    assert tree.cophenetic is None
    assert len(tree.groups_above(200)) == 1


def test_hostile(mississippi):
    for level in (-1, 201, float("nan")):
        with pytest.raises(InputError, match="level"):
            network_above(mississippi, level)
    with pytest.raises(InputError, match="null"):
        network_tested(mississippi, "coin")
    with pytest.raises(InputError, match="alpha"):
        network_tested(mississippi, alpha=0)
    with pytest.raises(InputError, match="more than the 20"):
        site_tree(mississippi).groups(21)
    with pytest.raises(InputError, match="number of groups"):
        site_tree(mississippi).groups(0)
