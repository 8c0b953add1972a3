"""What must hold for every table."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from motifs.sites import (
    brainerd_robinson,
    correspondence_analysis,
    count_table,
    independence_test,
    jaccard,
    morisita_horn,
    permute_pair,
    rarefied_richness,
    reciprocal_averaging,
    share_interval,
    similarity_matrix,
    sorensen,
    unimodality,
    without_empty,
)

quick = settings(max_examples=60, deadline=None)

vectors = arrays(np.int64, 6, elements=st.integers(0, 500)).filter(lambda v: v.sum() > 0)
tables = arrays(np.int64, st.tuples(st.integers(2, 7), st.integers(2, 6)), elements=st.integers(0, 60)).filter(
    lambda t: (t.sum(axis=1) > 0).sum() > 1 and (t.sum(axis=0) > 0).sum() > 1
)


def named(counts):
    return count_table(
        counts, [f"s{i}" for i in range(len(counts))], [f"m{i}" for i in range(len(counts[0]))], "sherds"
    )


@quick
@given(vectors, vectors, st.integers(1, 50))
def test_similarities(a, b, factor):
    value = brainerd_robinson(a, b)
    assert value == brainerd_robinson(b, a)
    assert 0.0 <= value <= 200.0
    assert brainerd_robinson(a * factor, b) == pytest.approx(value, abs=1e-9)
    assert brainerd_robinson(a, a) == 200.0
    assert (value > 1e-9) == bool(((a > 0) & (b > 0)).any())
    assert 0.0 <= morisita_horn(a, b) <= 1.0
    shared = jaccard(a, b)
    assert sorensen(a, b) == pytest.approx(2 * shared / (1 + shared))


@quick
@given(vectors, vectors, st.integers(0, 5))
def test_permutation_p_is_a_share(a, b, seed):
    one, two = permute_pair(a, b, permutations=19, seed=seed), permute_pair(a, b, permutations=19, seed=seed)
    assert one == two
    assert 0.05 <= one.p_value <= 1.0


@quick
@given(tables)
def test_total_inertia_is_chi_square_over_n(counts):
    table = named(counts)
    analysis, test = correspondence_analysis(table), independence_test(table)
    assert analysis.total_inertia == pytest.approx(test.statistic / counts.sum(), abs=1e-9)
    assert (np.diff(analysis.inertias) <= 1e-12).all()
    centre = analysis.row_masses @ analysis.row_coordinates
    assert centre == pytest.approx(np.zeros(analysis.inertias.size), abs=1e-7)


@quick
@given(tables, st.randoms(use_true_random=False))
def test_order_of_sites_does_not_matter(counts, random):
    rows = list(range(len(counts)))
    random.shuffle(rows)
    table = named(counts)
    turned = count_table(counts[rows], [f"s{i}" for i in rows], table.motifs, "sherds")
    one, two = similarity_matrix(table).frame(), similarity_matrix(turned).frame()
    assert np.allclose(one, two.loc[one.index, one.columns])


@quick
@given(vectors)
def test_rarefaction(counts):
    total, richness = int(counts.sum()), int((counts > 0).sum())
    sizes = np.unique(np.linspace(0, total, 7).astype(int))
    expected = rarefied_richness(counts, sizes)
    assert expected[-1] == pytest.approx(richness)
    assert expected[0] == 0.0
    assert (np.diff(expected) >= -1e-9).all()
    assert rarefied_richness(counts, [1])[0] == pytest.approx(1.0)


@quick
@given(st.integers(0, 300), st.integers(1, 300))
def test_intervals_hold_the_share(count, total):
    count = min(count, total)
    wilson, exact = (share_interval(count, total, method=m) for m in ("wilson", "clopper-pearson"))
    for found in (wilson, exact):
        assert 0.0 <= found.low <= found.share <= found.high <= 1.0


@quick
@given(tables)
def test_unimodality_range(counts):
    kept, _, _ = without_empty(named(counts))
    whole, by_motif = unimodality(kept.counts)
    assert 0.0 < whole <= 1.0 + 1e-12
    assert ((by_motif > 0) & (by_motif <= 1.0 + 1e-12)).all()


@quick
@given(tables)
def test_reciprocal_averaging_maximises_the_first_axis(counts):
    """The spread of site places it can explain is the first inertia (Hill 1973)."""
    table = named(counts)
    analysis = correspondence_analysis(table)
    has_clear_first_axis = analysis.inertias.size > 0 and (
        analysis.inertias.size == 1 or analysis.inertias[1] < 0.9 * analysis.inertias[0]
    )
    if has_clear_first_axis and analysis.inertias[0] > 1e-6:
        averaged = reciprocal_averaging(table)
        places = dict(zip(averaged.sites, averaged.positions, strict=True))
        matched = np.array([places[name] for name in analysis.sites])
        first = analysis.row_coordinates[:, 0] / np.sqrt(analysis.inertias[0])
        assert min(np.abs(matched - first).max(), np.abs(matched + first).max()) < 1e-5
