import pytest
from scipy.stats import binomtest

from motifs.errors import InputError
from motifs.sites import absence_bound, count_table, motif_standings, pieces_needed, shared_motifs
from motifs.sites.unique import SHARED, UNIQUE, UNIQUE_UNSURE
from tests.truth import sites_worked


@pytest.mark.parametrize(("share", "pieces"), sites_worked.PIECES_NEEDED)
def test_pieces_needed(share, pieces):
    assert pieces_needed(share) == pieces
    assert absence_bound(pieces) <= share < absence_bound(pieces - 1)


@pytest.mark.parametrize("total", [1, 10, 59, 299, 5000])
def test_absence_bound_is_the_one_sided_exact_limit(total):
    exact = binomtest(0, total, alternative="less").proportion_ci(0.95, method="exact").high
    assert absence_bound(total) == pytest.approx(exact, rel=1e-9)


def standings(counts, unit="vessels (as sorted)"):
    table = count_table(counts, ["Ask", "Bor", "Cel"], ["wave", "star", "dot"], unit)
    found = motif_standings(table)
    return {standing.motif: standing for standing in found.motifs}, found


def test_unique_unsure_and_shared():
    by_motif, found = standings([[100, 40, 0], [300, 0, 1], [250, 0, 0]])
    assert by_motif["wave"].verdict == SHARED
    assert by_motif["wave"].sites == ("Bor", "Cel", "Ask")
    star = by_motif["star"]
    assert (star.verdict, star.only_at, star.elsewhere_total) == (UNIQUE, "Ask", 551)
    assert star.elsewhere_high == pytest.approx(absence_bound(551))
    assert star.elsewhere_high < star.home.low
    assert star.smallest_elsewhere == ("Cel", pytest.approx(absence_bound(250)))
    assert star.p_value < 1e-9
    assert by_motif["dot"].verdict == UNIQUE_UNSURE
    assert by_motif["dot"].p_value > 0.05
    assert found.unit == "vessels (as sorted)"


def test_small_samples_elsewhere_make_nothing_unique():
    by_motif, found = standings([[10, 4, 1], [5, 0, 0], [3, 0, 0]])
    assert by_motif["star"].verdict == UNIQUE_UNSURE
    assert any("Fewer than 30" in note for note in found.warnings)


def test_sherd_counts_carry_their_caveat():
    _, found = standings([[10, 4, 1], [5, 0, 0], [3, 0, 0]], "sherds")
    assert any("one pot are not independent" in note for note in found.warnings)


def test_shared_motifs(mississippi):
    assert shared_motifs(mississippi, "13-N-5", "10-P-1") == ("Parkin Punctate", "Barton/Kent/MPI", "Painted")
    assert shared_motifs(mississippi, "10-P-1", "10-P-1")[-1] == "Hull Engraved"


def test_hostile(mississippi):
    with pytest.raises(InputError, match="two sites"):
        motif_standings(count_table([[1, 2]], ["a"], ["m", "n"], "sherds"))
    with pytest.raises(InputError, match="whole"):
        motif_standings(count_table([[1.5, 2], [1, 1]], ["a", "b"], ["m", "n"], "EVE"))
    with pytest.raises(InputError, match="confidence"):
        motif_standings(mississippi, confidence=2)
    for call in (lambda: absence_bound(0), lambda: pieces_needed(0), lambda: pieces_needed(0.1, chance=1)):
        with pytest.raises(InputError):
            call()
