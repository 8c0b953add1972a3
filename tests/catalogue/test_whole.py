"""Every row out and in again, from one database to the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue, Measurement
from motifs.errors import CollectionError, InputError
from tests.catalogue.finds import PERSON, add_tray

if TYPE_CHECKING:
    from pathlib import Path


def fill(cat: Catalogue) -> None:
    add_tray(cat, "11-4", site="Kestrel Ford")
    add_tray(cat, "0012", content=b"other tray")
    with cat.transaction(by=PERSON):
        cat.merge_sherds(["11-4-001", "11-4-002"], cat.sherd("11-4-001").outline_px)
        cat.add_tag("11-4-003", "'=scroll", "motif", box_px=(1, 2, 3, 4), confidence=0.1)
        cat.save_measurements({"11-4-003": {"x": Measurement(1e-7, None), "y": Measurement({"b": 1, "a": 2.0}, [0.5])}})
        cat.save_record("1E5", "0012", {"note": ""})
    with cat.transaction(by=PERSON):
        cat.undo("11-4")


def restored(source: Catalogue, target: Catalogue) -> None:
    rows = {table.name: table.dicts() for table in source.all_rows()}
    with target.transaction(by="R. Vance"):
        target.restore_rows(rows, lambda stored_as: (source.folder / stored_as).read_bytes())


def test_all_rows_go_from_one_database_to_another_and_back(cat: Catalogue, tmp_path: Path) -> None:
    assert cat.is_empty()
    fill(cat)
    assert not cat.is_empty()
    with Catalogue.open(tmp_path / "file", create=True) as file:
        restored(cat, file)
        assert file.all_rows() == cat.all_rows()
        assert file.sherds() == cat.sherds()
        assert file.history() == cat.history()


def test_a_restored_collection_goes_on_with_new_ids(lite: Catalogue, tmp_path: Path, server_url: str) -> None:
    fill(lite)
    with Catalogue.open(tmp_path / "server", create=True, url=server_url) as server:
        restored(lite, server)
        assert server.all_rows() == lite.all_rows()
        assert [finding.kind for finding in server.check()] == ["missing derived"] * 8
        with server.transaction(by=PERSON):
            server.add_tag("11-4-003", "spiral", "motif")
            server.ensure_lot("new", site="Ashby Weir")
        (tag,) = server.tags("11-4-003")  # the first one was undone before
        assert tag.tag_id == 2
        with server.transaction(by=PERSON), pytest.raises(CollectionError, match="not empty"):
            server.restore_rows({}, lambda _: b"")


def test_what_this_program_does_not_know_is_refused(lite: Catalogue) -> None:
    for rows, why in [
        ({"spaceship": []}, "table 'spaceship'"),
        ({"site": [{"colour": "x"}]}, "column 'colour'"),
        ({"site": [{"id": 1}]}, "belong together"),
        (
            {"lot": [{"id": 1, "name": "x", "site_id": 9, "last_number": 0, "made_by": "x", "made_at": "x"}]},
            "belong together",
        ),
    ]:
        with pytest.raises(InputError, match=why), lite.transaction(by=PERSON):
            lite.restore_rows(rows, lambda _: b"")
        assert lite.is_empty()
