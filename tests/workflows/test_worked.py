"""The worked scripts run, and give published or hand-made values."""

import pandas as pd
import pytest

from motifs.workflows.worked import sites_from_a_table, symmetry_of_bands, vessels_from_rims
from tests.truth import sites_mississippi as published


def test_sites_from_the_published_table():
    """Lipo, Madsen & Dunnell 2015, PLOS ONE 10(4) e0124942, Table 2."""
    counts = pd.DataFrame(list(published.COUNTS.values()), index=list(published.COUNTS), columns=published.TYPES)
    pairs = sites_from_a_table.pair_frame(counts.iloc[:5], "sherds", permutations=19).set_index(["a", "b"])
    # 10-P-1 with 11-N-9, Brainerd & Robinson 1951, computed from the table once with numpy.
    assert pairs.loc[("10-P-1", "11-N-9"), "similarity"] == pytest.approx(106.65, abs=0.005)
    spread = sites_from_a_table.spread_frame(counts, "sherds")
    assert spread.loc["10-P-1", "shannon"] == pytest.approx(1.202795, abs=1e-6)
    order = list(sites_from_a_table.order_frame(counts, "sherds")["site"])
    assert {order[0], order[-1]} == {"13-N-5", "Holden Lake"}


def test_vessels_from_rims():
    """Eight rims of two types: EVE 1.55, minimum 4 by type and diameter, 3 by type, at most 8 (arithmetic, methods as cited there)."""
    rims = pd.DataFrame(
        {
            "type": ["A"] * 5 + ["B"] * 3,
            "diameter_mm": [200.0] * 3 + [240.0] * 2 + [180.0] * 3,
            "percent": [40.0, 35.0, 30.0, 10.0, 15.0, 12.0, 8.0, 5.0],
        }
    )
    assert list(vessels_from_rims.number_frame(rims)["vessels"]) == [4, 3, 8]


def test_each_band_is_read_as_it_was_drawn():
    frame = symmetry_of_bands.symmetry_frame(symmetry_of_bands.drawn_bands(3))
    assert len(frame) == 7
    assert (frame["group"] == frame["picture"]).sum() >= 6


@pytest.mark.parametrize("script", [sites_from_a_table, vessels_from_rims])
def test_scripts_print_their_frames_also_of_a_file(script, capsys, tmp_path):
    script.main()
    printed = capsys.readouterr().out
    assert printed.strip()
    script.INVENTED.to_csv(tmp_path / "t.csv", index=script is sites_from_a_table)
    script.main(str(tmp_path / "t.csv"))
    assert capsys.readouterr().out == printed
