"""A short run of the fuzz; `python -m tests.imaging.fuzz_decode` runs as long as asked."""

from tests.imaging.fuzz_decode import fuzz_trays


def test_damaged_files_of_every_kind_raise_nothing_but_one_line(tmp_path):
    became = fuzz_trays(tmp_path, 45, seed=4)
    assert sum(became.values()) == 45
    assert became["read"] > 3
    assert became["refused"] > 3
