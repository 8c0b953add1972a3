"""Every fault of the list, each at one point of the work; `python -m tests.faults` tries more points."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.faults.jobs import JOBS, make_ground
from tests.faults.listed import FAULTS, CannotBeTried

if TYPE_CHECKING:
    from pathlib import Path

    from tests.faults.listed import Fault


@pytest.fixture(scope="session")
def ground(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("faults") / "ground"
    folder.mkdir()
    make_ground(folder)
    for job in JOBS:
        if job.is_long:  # not run once more only to count its writes: that it makes so many is enough
            (folder.parent / f"{folder.name}.{job.name.replace(' ', '_')}.writes").write_text("6 30", encoding="utf-8")
    return folder


def test_the_list_names_every_fault_once() -> None:
    titles = [fault.title for fault in FAULTS]
    assert len(set(titles)) == len(titles) > 50


@pytest.mark.slow
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.title)
def test_it_is_told_in_one_line_and_nothing_is_lost(fault: Fault, ground: Path, tmp_path: Path) -> None:
    try:
        fault.attempt(ground, tmp_path, 0.6)
    except CannotBeTried as why:
        pytest.skip(str(why))
