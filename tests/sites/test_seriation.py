import numpy as np
import pytest

from motifs.errors import InputError
from motifs.sites import (
    count_table,
    order_p_value,
    rank_agreement,
    reciprocal_averaging,
    seriate,
    seriation_p_value,
    unimodality,
)
from tests.truth import sites_mississippi


def gradient(sites=15, motifs=9, seed=3):
    rng = np.random.default_rng(seed)
    place, peak = np.linspace(0, 1, sites)[:, None], np.linspace(-0.1, 1.1, motifs)
    counts = rng.poisson(40 * np.exp(-((place - peak) ** 2) / 0.05)) + (place < 2)
    return count_table(counts, [f"S{i:02d}" for i in range(sites)], [f"m{i}" for i in range(motifs)], "sherds")


def test_order_of_the_published_table(mississippi):
    order, expected = seriate(mississippi).sites, sites_mississippi.AXIS_1_ORDER
    assert order in (expected, expected[::-1])


def test_published_table_has_no_single_order(mississippi):
    """The paper that printed the table finds eight groups, not one order (Lipo et al. 2015)."""
    found = seriate(mississippi)
    assert found.axis_share == pytest.approx(0.4265, abs=5e-5)
    assert any("no single order" in note for note in found.warnings)


def test_reciprocal_averaging_reaches_axis_1(mississippi, san_cristobal):
    for table in (mississippi, san_cristobal):
        averaged, axis = reciprocal_averaging(table), seriate(table)
        assert averaged.sites in (axis.sites, axis.sites[::-1])
        places = dict(zip(averaged.sites, averaged.positions, strict=True))
        matched = [places[name] for name in axis.sites]
        assert abs(np.corrcoef(matched, axis.positions)[0, 1]) == pytest.approx(1.0, abs=1e-9)


def test_reciprocal_averaging_says_when_it_did_not_settle(mississippi):
    assert any("not settled" in note for note in reciprocal_averaging(mississippi, rounds=2).warnings)


def test_midden_follows_depth(san_cristobal):
    """Nelson 1916: the order of levels by sherds against their depth in the ground."""
    depth = {f"level {i}": float(i) for i in range(1, 11)}
    agreement = rank_agreement(seriate(san_cristobal).sites, depth)
    assert abs(agreement.tau) > 0.7
    assert agreement.p_value < 0.01
    assert agreement.pairs == 10
    assert order_p_value(san_cristobal.counts, permutations=999) < 0.01
    shuffled = san_cristobal.counts[np.random.default_rng(0).permutation(10)]
    assert order_p_value(shuffled, permutations=999) > 0.05


def test_recovers_a_sampled_gradient_from_shuffled_rows():
    table = gradient()
    rows = np.random.default_rng(1).permutation(15)
    mixed = count_table(table.counts[rows], [table.sites[i] for i in rows], table.motifs, "sherds")
    found = seriate(mixed, permutations=99)
    tau = rank_agreement(found.sites, {name: float(i) for i, name in enumerate(table.sites)}).tau
    assert abs(tau) > 0.97
    assert found.p_value == pytest.approx(0.01)
    assert any("one gradient" in note for note in found.warnings)


def test_noise_is_not_called_an_order():
    """Under the null the p-value is about uniform: 40 noise tables, at most 6 below 0.05 (chance of more < 1 %)."""
    rng = np.random.default_rng(11)
    names, motifs = [f"S{i}" for i in range(8)], [f"m{i}" for i in range(6)]
    p_values = [
        seriation_p_value(count_table(rng.poisson(20, (8, 6)) + 1, names, motifs, "sherds"), permutations=39)
        for _ in range(40)
    ]
    assert sum(p <= 0.05 for p in p_values) <= 6
    assert np.mean(p_values) > 0.3


def test_unimodality_by_hand():
    whole, by_motif = unimodality([[50, 0, 10], [50, 0, 10], [50, 0, 10]])
    assert whole == 1.0
    assert by_motif[[0, 2]].tolist() == [1.0, 1.0]
    assert np.isnan(by_motif[1])
    # shares .5 .1 .5: twice the peak is 1.0, the steps .5 + .4 + .4 + .5 = 1.8
    assert unimodality([[5, 5], [1, 9], [5, 5]])[1][0] == pytest.approx(1.0 / 1.8)


def test_unimodality_does_not_mind_which_end_comes_first(mississippi):
    assert unimodality(mississippi.counts)[0] == pytest.approx(unimodality(mississippi.counts[::-1])[0])


def test_two_sites():
    found = seriate(count_table([[40, 5], [5, 40]], ["a", "b"], ["m", "n"], "sherds"))
    assert set(found.sites) == {"a", "b"}
    assert found.unimodality == 1.0
    assert any("Too few" in note for note in found.warnings)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: seriate(count_table([[1, 2], [2, 4]], ["a", "b"], ["m", "n"], "s")), "no order to find"),
        (lambda: reciprocal_averaging(count_table([[1, 2], [2, 4]], ["a", "b"], ["m", "n"], "s")), "no order"),
        (lambda: reciprocal_averaging(count_table([[1, 2]], ["a"], ["m", "n"], "s")), "two sites"),
        (lambda: unimodality([[1, 2], [0, 0]]), "nothing counted"),
        (lambda: order_p_value([[1, 2], [3, 1]], permutations=0), "permutations"),
        (lambda: rank_agreement(["a", "b"], {"a": 1.0, "b": 2.0}), "three sites"),
        (lambda: rank_agreement(["a", "b", "c"], {"a": 1.0, "b": 1.0, "c": 1.0}), "not all equal"),
    ],
)
def test_hostile(call, words):
    with pytest.raises(InputError, match=words):
        call()
