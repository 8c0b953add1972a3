import numpy as np
import pytest

from motifs.errors import InputError
from motifs.sites import count_table, independence_test
from tests.truth import sites_mississippi, sites_smoking, sites_worked


def test_two_published_sites(mississippi):
    truth = sites_mississippi.CHI_2_BY_3
    columns = [mississippi.motifs.index(name) for name in truth["types"]]
    rows = [mississippi.row(site)[columns] for site in truth["sites"]]
    found = independence_test(count_table(rows, truth["sites"], truth["types"], "sherds"))
    assert found.statistic == pytest.approx(truth["statistic"], abs=5e-7)
    assert found.degrees == truth["degrees"]
    assert found.p_value == pytest.approx(truth["p_value"], abs=5e-7)
    assert found.cramers_v == pytest.approx(truth["cramers_v"], abs=5e-7)
    assert found.expected[0] == pytest.approx(truth["expected_row_1"], abs=5e-4)
    assert found.two_by_two is None


def test_two_by_two():
    truth = sites_worked.TWO_BY_TWO
    found = independence_test(count_table(truth["counts"], ["a", "b"], ["m", "n"], "vessels (as sorted)"))
    assert found.statistic == pytest.approx(truth["statistic"])
    assert found.p_value == pytest.approx(truth["p_value"], abs=5e-7)
    assert found.two_by_two.yates_statistic == pytest.approx(truth["yates"])
    assert found.two_by_two.yates_p_value == pytest.approx(truth["yates_p"], abs=5e-7)
    assert found.two_by_two.fisher_p_value == pytest.approx(truth["fisher_p"], abs=5e-7)
    assert found.two_by_two.odds_ratio == pytest.approx(truth["odds_ratio"], abs=5e-7)


def test_smoking_table(smoking):
    found = independence_test(smoking, permutations=1999)
    assert found.statistic == pytest.approx(sites_smoking.CHI_SQUARE, abs=5e-5)
    assert found.p_value == pytest.approx(sites_smoking.P_VALUE, abs=5e-5)
    assert found.permutation_p_value == pytest.approx(found.p_value, abs=0.03)


def test_whole_published_table(mississippi):
    found = independence_test(mississippi)
    assert found.statistic == pytest.approx(sites_mississippi.CHI_SQUARE, abs=1e-4)
    assert found.degrees == sites_mississippi.DEGREES
    assert (found.residuals**2).sum() == pytest.approx(found.statistic)


def test_permutation_agrees_with_fisher_on_small_tables():
    """Fisher's exact p orders tables by probability; on this symmetric table both orders are the same."""
    table = count_table([[3, 9], [9, 3]], ["a", "b"], ["m", "n"], "vessels (as sorted)")
    found = independence_test(table, permutations=4999)
    assert found.permutation_p_value == pytest.approx(found.two_by_two.fisher_p_value, abs=0.01)


def test_caveats_are_said():
    small = count_table([[3, 1, 0], [1, 4, 0]], ["a", "b"], ["m", "n", "o"], "sherds")
    notes = " ".join(independence_test(small).warnings)
    assert "one pot are not independent" in notes
    assert "100% of the expected counts are below 5: ask for permutations" in notes
    assert "never seen" in notes
    assert "read the permutation" in " ".join(independence_test(small, permutations=9).warnings)
    vessels = count_table([[300, 100], [100, 400]], ["a", "b"], ["m", "n"], "vessels (as sorted)")
    assert independence_test(vessels).warnings == ()


def test_cramers_v_is_one_when_sites_share_nothing():
    assert independence_test(count_table(np.eye(3) * 9, list("abc"), list("mno"), "sherds")).cramers_v == 1.0


@pytest.mark.parametrize("counts", [[[1, 2]], [[1, 0], [3, 0]], [[0, 0], [0, 0]], [[1.5, 2], [2, 2]]])
def test_hostile(counts):
    with pytest.raises(InputError):
        independence_test(count_table(counts, [f"s{i}" for i in range(len(counts))], ["m", "n"], "sherds"))
