import pytest

from motifs.sites import CountTable, count_table
from tests.truth import sites_mississippi, sites_san_cristobal, sites_smoking


@pytest.fixture(scope="session")
def mississippi() -> CountTable:
    truth = sites_mississippi
    return count_table(list(truth.COUNTS.values()), list(truth.COUNTS), truth.TYPES, "sherds")


@pytest.fixture(scope="session")
def san_cristobal() -> CountTable:
    truth = sites_san_cristobal
    levels = [f"level {i}" for i in range(1, 11)]
    return count_table(truth.COUNTS_BY_LEVEL, levels, truth.TYPES, "sherds")


@pytest.fixture(scope="session")
def smoking() -> CountTable:
    truth = sites_smoking
    return count_table(truth.COUNTS, truth.ROWS, truth.COLUMNS, "persons")
