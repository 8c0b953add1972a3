"""The records page under AppTest: what is written, tables taken in, what is restricted and unlocked."""

from __future__ import annotations

import io
import tempfile
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING

import bagit
import pytest

from motifs.catalogue import Catalogue
from motifs.errors import Restricted
from tests.ui.conftest import LOT, OTHER, press, shown

if TYPE_CHECKING:
    from collections.abc import Callable

    from streamlit.testing.v1 import AppTest

    Opener = Callable[..., AppTest]

FIRST = f"{LOT}-001"
HOSTILE = "=1+1 <b>slip:red</b> *x*"


def test_it_opens_without_a_collection(page: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MOTIFS_COLLECTION", str(tmp_path / "none"))
    at = page("records")
    assert not at.exception
    assert "m-empty" in shown(at)


def test_what_is_typed_is_kept_to_the_letter(page: Opener, cat: Catalogue) -> None:
    at = page("records", lot=LOT, sherd=FIRST)
    at.text_input(key=f"record_field_{FIRST}_form").set_value(HOSTILE)
    at.text_input(key=f"record_field_{FIRST}_find number").set_value("11-4")
    press(at, "Keep the record")
    assert not at.exception
    assert cat.record(FIRST).fields == {"form": HOSTILE, "find number": "11-4"}
    assert "&lt;b&gt;" in shown(at)
    assert "<b>slip" not in shown(at)
    at.text_input(key=f"record_field_{FIRST}_weight g").set_value("3 g")
    press(at, "Keep the record")
    assert "holds a unit" in shown(at)
    assert "weight g" not in cat.record(FIRST).fields


def test_one_field_on_many_is_shown_before_it_is_kept(page: Opener, cat: Catalogue) -> None:
    at = page("records", lot=OTHER)
    at.session_state["records_task"] = "Many finds"
    at.run()
    at.selectbox(key="many_field").set_value("ware").run()
    at.text_input(key="many_text").set_value("grey").run()
    assert "4 finds would change" in shown(at)
    assert cat.records() == ()
    press(at, "Keep these changes")
    assert {record.fields["ware"] for record in cat.records(OTHER)} == {"grey"}
    press(at, "Undo the lot's latest change")
    assert cat.records() == ()


def test_restricting_and_unlocking(page: Opener, cat: Catalogue) -> None:
    at = page("records", lot=LOT)
    at.session_state["records_task"] = "Restricted"
    at.run()
    assert "descendant communities" in shown(at)
    at.selectbox(key="restrict_kind").set_value("sherd")
    at.text_input(key="restrict_name").set_value(FIRST)
    press(at, "Do not show it")
    with pytest.raises(Restricted):
        cat.sherd(FIRST)
    assert "1 sherd not shown" in shown(at)
    press(at, "Unlock for me")
    assert "reason" in shown(at)
    assert not any("unlocked" in event.verb for event in cat.history())
    at.text_input(key="restrict_reason").set_value("asked by the council")
    press(at, "Unlock for me")
    assert FIRST in shown(at)
    assert any("unlocked" in event.verb and event.by == "M. Oduya" for event in cat.history())
    press(at, "Lock again")
    assert "1 sherd not shown" in shown(at)
    other = page("records", lot=LOT)
    assert FIRST not in shown(other)


def test_two_windows_on_one_find_lose_nothing(page: Opener, cat: Catalogue) -> None:
    at = page("records", lot=LOT, sherd=FIRST)
    with cat.transaction(by="T. Hale"):
        cat.save_record(FIRST, LOT, {"ware": "grey"})
    at.text_input(key=f"record_field_{FIRST}_form").set_value("bowl")
    press(at, "Keep the record")
    assert cat.record(FIRST).fields == {"form": "bowl", "ware": "grey"}
    press(at, "Undo the lot's latest change")
    assert cat.record(FIRST).fields == {"ware": "grey"}
    assert at.text_input(key=f"record_field_{FIRST}_form").value == ""


def test_a_table_is_taken_in_and_its_list_is_searched(page: Opener, cat: Catalogue) -> None:
    at = page("records", lot=LOT, records_task="Take in a table")
    rows = "".join(f"X-{k},bowl {k},{LOT}\n" for k in range(12))
    at.file_uploader[0].set_value([("finds.csv", f"number,form,lot\n{rows}".encode(), "text/csv")])
    at.run()
    assert "12 to add" in shown(at)
    press(at, "Take it in")
    assert "12 records written from finds.csv" in shown(at)
    assert {record.number for record in cat.records(LOT)} == {f"X-{k}" for k in range(12)}
    at.session_state["records_task"] = "One find"
    at.run()
    at.text_input(key="finds_text").set_value("bowl 11").run()
    assert "1 of 1 row found, among 20" in shown(at)


def test_the_collection_is_packed_whole_and_without_what_is_restricted(page: Opener, cat: Catalogue) -> None:
    """The ZIP is opened by the standard library, its bag checked by the Library of Congress's tool for RFC 8493."""
    at = page("records", lot=LOT, records_task="Write out")
    with cat.transaction(by="T. Hale"):
        cat.restrict("sherd", FIRST, "sacred")
    press(at, "Pack the collection")
    assert "11 sherds and 3 photographs are packed; 1 restricted sherd left out" in shown(at)
    made = at.session_state["written_out"][1]
    with zipfile.ZipFile(io.BytesIO(made.content)) as archive, tempfile.TemporaryDirectory() as folder:
        assert archive.testzip() is None
        assert not any(FIRST.encode() in archive.read(name) for name in archive.namelist() if name.endswith(".csv"))
        archive.extractall(folder)
        (top,) = Path(folder).iterdir()
        assert bagit.Bag(str(top)).is_valid()
    assert not list(cat.exports_folder.rglob("*.zip"))


def test_nothing_is_packed_of_an_empty_collection(
    page: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MOTIFS_COLLECTION", str(tmp_path / "new"))
    Catalogue.open(tmp_path / "new", create=True).close()
    at = page("records", records_task="Write out")
    press(at, "Pack the collection")
    assert "nothing to write out yet" in shown(at)
