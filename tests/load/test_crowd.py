"""Ten people at once lose nothing; the figures are printed by `tests.load.measure_crowd`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue
from tests.load.crowd import lost_acts, work_together
from tests.load.make import make_collection

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("crowd") / "collection"
    make_collection(made, 420, seed=2, with_files=False)
    return made


def test_ten_people_at_once_lose_no_edit(folder: Path) -> None:
    with Catalogue.open(folder) as cat:
        lots = [lot.name for lot in cat.lots()[1:]]
        crowd = work_together(cat, lots, people=10, acts=12, seed=1)
        assert sum(len(person.tagged) for person in crowd) > 20
        assert lost_acts(cat, lots, crowd) == []


def test_what_is_lost_would_be_seen(folder: Path) -> None:
    """The judge of the test above: an act that is taken out of the rows is told."""
    with Catalogue.open(folder) as cat:
        lots = [lot.name for lot in cat.lots()[1:]]
        crowd = work_together(cat, lots, people=2, acts=10, seed=5)
        assert lost_acts(cat, lots, crowd) == []
        number, terms = next((number, terms) for number, terms in crowd[0].tagged.items() if terms)
        gone = next(tag for tag in cat.tags(number) if tag.term in terms)
        with cat.transaction(by="somebody else"):
            cat.remove_tag(gone.tag_id)
        assert lost_acts(cat, lots, crowd) == [f"Person 0: tag {gone.term} on {number}"]
