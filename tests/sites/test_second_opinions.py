"""The same numbers from other people's programs: scipy, scikit-bio 0.7.4, prince 0.23.0."""

import numpy as np
import pandas as pd
import prince
import pytest
from scipy.spatial.distance import pdist, squareform
from scipy.stats import chi2_contingency
from scipy.stats.contingency import association
from skbio import stats
from skbio.diversity import alpha
from skbio.stats import distance, ordination

from motifs.sites import (
    SimilarityMatrix,
    compare_views,
    correspondence_analysis,
    independence_test,
    measure_diversity,
    rarefied_richness,
    similarity_matrix,
)
from motifs.sites.distributions import energy_matrix


def test_presence_measures_against_scipy(mississippi):
    present = mississippi.counts > 0
    for measure, scipy_name in (("jaccard", "jaccard"), ("sorensen", "dice")):
        expected = 1.0 - squareform(pdist(present, scipy_name))
        assert similarity_matrix(mississippi, measure).frame().to_numpy() == pytest.approx(expected)


def test_brainerd_robinson_is_bray_curtis_of_shares(mississippi):
    shares = mississippi.counts / mississippi.counts.sum(axis=1, keepdims=True)
    expected = 200.0 * (1.0 - squareform(pdist(shares, "braycurtis")))
    assert similarity_matrix(mississippi).frame().to_numpy() == pytest.approx(expected)


def test_chi_square_against_scipy(mississippi):
    found, counts = independence_test(mississippi), mississippi.counts.astype(int)
    other = chi2_contingency(counts, correction=False)
    assert found.statistic == pytest.approx(other.statistic)
    assert found.expected == pytest.approx(other.expected_freq)
    assert found.cramers_v == pytest.approx(association(counts, method="cramer"))


def test_diversity_against_scikit_bio(mississippi):
    for row in mississippi.counts.astype(int):
        found = measure_diversity(row, log_base="2")
        assert found.shannon == pytest.approx(alpha.shannon(row, base=2))
        assert found.simpson == pytest.approx(alpha.simpson(row))
        assert found.evenness == pytest.approx(alpha.pielou_e(row))
        assert found.richness == alpha.sobs(row)


def test_rarefaction_against_drawn_samples(mississippi):
    """Expected richness against the mean of samples that scikit-bio draws without replacement."""
    row = mississippi.row("13-P-10").astype(int)
    drawn = [np.count_nonzero(stats.subsample_counts(row, 50, seed=i)) for i in range(2000)]
    standard_error = np.std(drawn) / np.sqrt(len(drawn))
    assert rarefied_richness(row, [50])[0] == pytest.approx(np.mean(drawn), abs=4 * standard_error)


def test_correspondence_analysis_against_scikit_bio(mississippi):
    other = ordination.ca(mississippi.frame(), scaling=1)
    found = correspondence_analysis(mississippi)
    assert found.inertias == pytest.approx(other.eigvals.to_numpy()[: found.inertias.size])
    theirs = other.samples.to_numpy()[:, : found.inertias.size]
    assert np.abs(found.row_coordinates) == pytest.approx(np.abs(theirs), abs=1e-8)


def test_correspondence_analysis_against_prince(mississippi, smoking):
    for table in (mississippi, smoking):
        found, frame = correspondence_analysis(table), table.frame()
        other = prince.CA(n_components=found.inertias.size, random_state=0).fit(frame)
        assert found.inertias == pytest.approx(other.eigenvalues_, abs=1e-9)
        assert found.total_inertia == pytest.approx(other.total_inertia_)
        rows, columns = other.row_coordinates(frame).to_numpy(), other.column_coordinates(frame).to_numpy()
        assert np.abs(found.row_coordinates) == pytest.approx(np.abs(rows), abs=1e-7)
        assert np.abs(found.column_coordinates) == pytest.approx(np.abs(columns), abs=1e-7)


def test_agreement_of_views_against_scikit_bio():
    rng = np.random.default_rng(0)
    sets = {name: rng.normal(place, 1.0, (12, 3)) for name, place in zip("abcdefg", np.linspace(0, 3, 7), strict=True)}
    names, far = energy_matrix(sets)
    noisy = far + np.abs(rng.normal(0, 0.3, far.shape))
    noisy = np.triu(noisy, 1) + np.triu(noisy, 1).T
    one, two = (SimilarityMatrix(-values, names, "energy", "vectors") for values in (far, noisy))
    found = compare_views(one, two, permutations=999)
    correlation, p_value, _ = distance.mantel(far, noisy, alternative="greater", permutations=999, seed=1)
    assert found.correlation == pytest.approx(correlation)
    assert found.p_value == pytest.approx(p_value, abs=0.02)


def test_frames_are_plain_pandas(mississippi):
    assert isinstance(mississippi.frame(), pd.DataFrame)
    assert mississippi.frame().dtypes.unique().tolist() == [np.dtype("int64")]
