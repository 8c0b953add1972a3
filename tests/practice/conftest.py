"""A small pot, its pieces and one photograph of them, made once for all tests of the renderer."""

import pytest

from motifs.practice import break_pot, paint_pot, photograph


@pytest.fixture(scope="session")
def pot():
    return paint_pot(7, px_per_mm=4.0, girth_mm=330.0, height_mm=110.0, technique="painted")


@pytest.fixture(scope="session")
def fragments(pot):
    return break_pot(pot, 3, pieces=26)


@pytest.fixture(scope="session")
def photo(pot, fragments):
    pieces = [(pot, one) for one in fragments if one.area_mm2 > 220.0]
    return photograph(pieces, 5, px_per_mm=5.0, bar_mm=50.0, bar_design="row", backdrop="grey", labels=True)
