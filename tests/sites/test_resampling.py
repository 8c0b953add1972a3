import numpy as np
import pandas as pd
import pytest

from motifs.errors import InputError, UnknownName
from motifs.sites import brainerd_robinson, motif_table, resample_vessels


def invented_rows(sherds_per_vessel, vessels=30, seed=0):
    rng = np.random.default_rng(seed)
    rows = []
    for site, chances in (("Ask", [0.5, 0.3, 0.2]), ("Bor", [0.3, 0.3, 0.4])):
        for vessel in range(vessels):
            motif = ["wave", "star", "dot"][rng.choice(3, p=chances)]
            rows += [(site, f"{site}-{vessel}-{i}", f"v{vessel}", motif) for i in range(sherds_per_vessel)]
    return pd.DataFrame(rows, columns=["site", "sherd", "vessel", "motif"])


def test_breaking_pots_smaller_does_not_make_the_comparison_surer():
    """Whole pots in ten sherds each give the same interval as in one; shuffling sherds would narrow it."""
    one, ten = (resample_vessels(invented_rows(n), "Ask", "Bor") for n in (1, 10))
    assert (one.low, one.median, one.high) == pytest.approx((ten.low, ten.median, ten.high))
    assert one.vessels == ten.vessels == (30, 30)


def test_similarity_is_that_of_the_sherd_table():
    rows = invented_rows(3)
    table = motif_table(rows, "sherd")
    found = resample_vessels(rows, "Ask", "Bor", replicates=199)
    assert found.similarity == pytest.approx(brainerd_robinson(table.row("Ask"), table.row("Bor")))
    assert 0 <= found.low <= found.median <= found.high <= 200


def test_more_vessels_narrow_the_interval():
    few, many = (resample_vessels(invented_rows(2, vessels=n), "Ask", "Bor") for n in (15, 400))
    assert many.high - many.low < (few.high - few.low) / 2


def test_loose_sherds_are_vessels_of_their_own():
    rows = invented_rows(2, vessels=4)
    loose = rows.assign(vessel=["", None] * (len(rows) // 2))
    found = resample_vessels(loose, "Ask", "Bor", replicates=19)
    assert found.vessels == (8, 8)
    assert "Only 8 vessels" in found.warnings[0]


def test_one_vessel_each():
    rows = pd.DataFrame(
        [("a", "1", "v", "wave"), ("b", "1", "v", "star")], columns=["site", "sherd", "vessel", "motif"]
    )
    assert resample_vessels(rows, "a", "b", replicates=9).high == 0.0


def test_hostile():
    rows = invented_rows(1)
    with pytest.raises(UnknownName, match="Nowhere"):
        resample_vessels(rows, "Ask", "Nowhere")
    with pytest.raises(InputError, match="'vessel' is missing"):
        resample_vessels(rows.drop(columns="vessel"), "Ask", "Bor")
    with pytest.raises(InputError, match="replicates"):
        resample_vessels(rows, "Ask", "Bor", replicates=0)
