"""Jobs that a visitor stops at a step of their progress leave everything as it was."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from motifs.workflows import importing
from motifs.workflows.importing import carry_out, plan_import, propose_columns
from motifs.workflows.practice import ExerciseSettings, prepare_exercise
from motifs.workflows.quiz import write_bank
from motifs.workflows.sites import ComparingSettings, compare_sites
from motifs.workflows.tables_in import read_sheet
from motifs.workflows.tagging import tag_sherds
from tests.workflows.conftest import LOT, OTHER

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from motifs.catalogue import Catalogue


class StoppedByVisitorError(BaseException):
    """Streamlit ends a run by an exception that no `except Exception` catches."""


def stopping_at(step: int) -> tuple[Callable[[str, int, int], None], list[str]]:
    """A progress that ends the work at its step, from 1, and what it was told."""
    told: list[str] = []

    def progress(stage: str, done: int, total: int) -> None:
        told.append(f"{stage} {done} of {total}")
        if len(told) == step:
            raise StoppedByVisitorError

    return progress, told


@pytest.fixture
def tagged(cat: Catalogue) -> Catalogue:
    """Two terms on two sherds of each lot."""
    for lot in (LOT, OTHER):
        for number, term in zip(cat.sherd_numbers(lot), ("meander", "stepped fret"), strict=False):
            tag_sherds(cat, [number], "motif", term, by="test")
    return cat


@pytest.mark.parametrize("step", [1, 3])
def test_an_exercise_is_whole_or_not_there(tmp_path: Path, step: int) -> None:
    progress, told = stopping_at(step)
    with pytest.raises(StoppedByVisitorError):
        prepare_exercise(
            tmp_path / "practice", "one", settings=ExerciseSettings(2, 0.3, 4, sherds=8), progress=progress
        )
    assert len(told) == step
    assert list(tmp_path.iterdir()) == []


def test_a_question_bank_is_whole_or_not_there(tagged: Catalogue) -> None:
    progress, told = stopping_at(2)
    before = sorted(tagged.exports_folder.rglob("*"))
    with pytest.raises(StoppedByVisitorError):
        write_bank(tagged, tagged.exports_folder / "questions", progress=progress)
    assert told == ["drawing the questions 1 of 4", "drawing the questions 2 of 4"]
    assert sorted(tagged.exports_folder.rglob("*")) == before
    assert write_bank(tagged, tagged.exports_folder / "questions") == 4


def test_a_table_goes_in_whole_or_not_at_all(cat: Catalogue, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importing, "AT_ONCE", 2)
    file = tmp_path / "finds.csv"
    file.write_text("number,form,lot\n" + "".join(f"X-{k},bowl,{LOT}\n" for k in range(5)), encoding="utf-8")
    sheet = read_sheet(file)
    plan = plan_import(cat, sheet, propose_columns(sheet.head, {}))
    before = cat.version()
    progress, told = stopping_at(2)
    with pytest.raises(StoppedByVisitorError):
        carry_out(cat, plan, by="test", progress=progress)
    assert told == ["writing records 2 of 5", "writing records 4 of 5"]
    assert (cat.version(), cat.records()) == (before, ())
    assert carry_out(cat, plan, by="test") == 5
    assert len(cat.records()) == 5


def test_comparing_sites_is_stopped_between_pairs(tagged: Catalogue) -> None:
    progress, told = stopping_at(1)
    before = tagged.version()
    settings = ComparingSettings(unit="sherd", permutations=19, with_vectors=False)
    with pytest.raises(StoppedByVisitorError):
        compare_sites(tagged, settings, by="test", progress=progress)
    assert told == ["testing pairs of sites 1 of 1"]
    assert tagged.version() == before
