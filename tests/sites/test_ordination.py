import numpy as np
import pytest

from motifs.errors import InputError
from motifs.sites import correspondence_analysis, count_table
from tests.truth import sites_mississippi, sites_san_cristobal, sites_smoking


def up_to_sign(found, expected, within):
    return min(np.abs(found - expected).max(), np.abs(found + expected).max()) <= within


def test_smoking_table(smoking):
    truth = sites_smoking
    analysis = correspondence_analysis(smoking)
    assert analysis.inertias == pytest.approx(truth.INERTIAS, abs=5e-7)
    assert analysis.total_inertia == pytest.approx(truth.TOTAL_INERTIA, abs=5e-7)
    assert 100 * analysis.axis_shares == pytest.approx(truth.AXIS_PERCENT, abs=0.005)
    assert analysis.chi_square == pytest.approx(truth.CHI_SQUARE, abs=5e-5)
    assert analysis.degrees == truth.DEGREES
    rows, columns = np.array(truth.ROW_COORDINATES), np.array(truth.COLUMN_COORDINATES)
    both = np.vstack([analysis.row_coordinates[:, :2], analysis.column_coordinates[:, :2]])
    for axis in range(2):
        # Rows and columns together: a wrong relative sign between them would show.
        assert up_to_sign(both[:, axis], np.vstack([rows, columns])[:, axis], 5e-5)


def test_mississippi_table(mississippi):
    truth = sites_mississippi
    analysis = correspondence_analysis(mississippi)
    assert analysis.inertias == pytest.approx(truth.INERTIAS, abs=5e-7)
    assert analysis.total_inertia == pytest.approx(truth.TOTAL_INERTIA, abs=5e-7)
    assert 100 * analysis.axis_shares[:3] == pytest.approx(truth.AXIS_PERCENT, abs=0.005)
    assert analysis.chi_square == pytest.approx(truth.CHI_SQUARE, abs=1e-4)
    assert analysis.degrees == truth.DEGREES


def test_san_cristobal_table(san_cristobal):
    truth = sites_san_cristobal
    analysis = correspondence_analysis(san_cristobal)
    assert san_cristobal.counts.sum() == truth.TOTAL
    assert analysis.inertias == pytest.approx(truth.INERTIAS, abs=5e-6)
    assert analysis.total_inertia == pytest.approx(truth.TOTAL_INERTIA, abs=5e-6)
    assert up_to_sign(analysis.row_coordinates[:, 0], np.array(truth.AXIS_1_BY_LEVEL), 5e-4)


def test_contributions_and_cosines_add_up(mississippi):
    analysis = correspondence_analysis(mississippi)
    assert analysis.row_contributions.sum(axis=0) == pytest.approx(np.ones(9))
    assert analysis.column_contributions.sum(axis=0) == pytest.approx(np.ones(9))
    assert analysis.row_cosines.sum(axis=1) == pytest.approx(np.ones(20))
    assert analysis.column_cosines.sum(axis=1) == pytest.approx(np.ones(10))
    weighted = analysis.row_masses[:, None] * analysis.row_coordinates**2 / analysis.inertias
    assert analysis.row_contributions == pytest.approx(weighted)


def test_distances_in_the_full_space_are_chi_square_distances(smoking):
    analysis = correspondence_analysis(smoking)
    profiles = smoking.counts / smoking.counts.sum(axis=1, keepdims=True)
    mass = smoking.counts.sum(axis=0) / smoking.counts.sum()
    expected = np.sqrt(((profiles[0] - profiles[3]) ** 2 / mass).sum())
    assert np.linalg.norm(analysis.row_coordinates[0] - analysis.row_coordinates[3]) == pytest.approx(expected)


def test_signs_do_not_depend_on_the_order_of_rows_or_columns(mississippi):
    analysis = correspondence_analysis(mississippi)
    rng = np.random.default_rng(7)
    rows, columns = rng.permutation(20), rng.permutation(10)
    turned = count_table(
        mississippi.counts[np.ix_(rows, columns)],
        [mississippi.sites[i] for i in rows],
        [mississippi.motifs[i] for i in columns],
        "sherds",
    )
    again = correspondence_analysis(turned)
    assert again.row_coordinates == pytest.approx(analysis.row_coordinates[rows], abs=1e-9)
    assert again.column_coordinates == pytest.approx(analysis.column_coordinates[columns], abs=1e-9)
    assert (analysis.column_coordinates.max(axis=0) >= -analysis.column_coordinates.min(axis=0)).all()


def test_empty_rows_and_columns_are_dropped_and_named(smoking):
    padded = np.zeros((6, 5))
    padded[:5, :4] = smoking.counts
    table = count_table(padded, [*smoking.sites, "void"], [*smoking.motifs, "never"], "persons")
    analysis = correspondence_analysis(table)
    assert (analysis.dropped_sites, analysis.dropped_motifs) == (("void",), ("never",))
    assert analysis.inertias == pytest.approx(sites_smoking.INERTIAS, abs=5e-7)
    assert any("void" in note for note in analysis.warnings)
    assert any("never" in note for note in analysis.warnings)


def test_equal_sites_have_no_axes():
    analysis = correspondence_analysis(count_table([[1, 2], [10, 20]], ["a", "b"], ["m", "n"], "sherds"))
    assert analysis.inertias.size == 0
    assert analysis.row_coordinates.shape == (2, 0)
    assert any("nothing to order" in note for note in analysis.warnings)
    assert list(analysis.site_frame().columns) == ["mass"]


def test_frames_carry_what_a_plot_needs(smoking):
    frame = correspondence_analysis(smoking).motif_frame()
    assert list(frame.index) == list(sites_smoking.COLUMNS)
    assert {"mass", "axis_1", "axis_2", "contribution_1", "squared_cosine_2"} <= set(frame.columns)


def test_rare_motifs_are_warned_about():
    table = count_table([[50, 3], [60, 1]], ["a", "b"], ["m", "star"], "sherds")
    assert any("star" in note for note in correspondence_analysis(table).warnings)


@pytest.mark.parametrize("counts", [[[1, 2]], [[1, 0], [2, 0]], [[0, 0], [1, 2]], [[0, 0], [0, 0]]])
def test_too_little_to_analyse(counts):
    sites = [f"s{i}" for i in range(len(counts))]
    with pytest.raises(InputError):
        correspondence_analysis(count_table(counts, sites, ["m", "n"], "sherds"))
