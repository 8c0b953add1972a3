import contextlib
import os
import shutil
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

import pytest

from motifs.catalogue import Catalogue
from motifs.errors import CollectionDamaged, CollectionError, CollectionNotWritable, CollectionTooNew, NameRefused
from tests.catalogue.finds import PERSON, add_tray, files_of


def test_a_new_collection_has_its_parts_and_nothing_in_them(cat):
    for part in (cat.photos_folder, cat.derived_folder, cat.exports_folder):
        assert part.is_dir()
        assert part.parent == cat.folder
    assert (cat.sites(), cat.lots(), cat.photos(), cat.sherds(), cat.history()) == ((), (), (), (), ())
    assert cat.version() == 0
    assert cat.check() == ()


def test_what_was_written_is_there_when_opened_again(tmp_path):
    with Catalogue.open(tmp_path / "c", create=True) as cat:
        numbers = add_tray(cat, "B-03", site="Kestrel Ford")
        before = (cat.sherds(), cat.history(), cat.photos())
    with Catalogue.open(str(tmp_path / "c")) as again:
        assert (again.sherds(), again.history(), again.photos()) == before
        assert [row.number for row in again.sherds()] == numbers


def test_no_collection_there(tmp_path):
    with pytest.raises(CollectionError, match="no collection in"):
        Catalogue.open(tmp_path / "none")
    assert list(tmp_path.iterdir()) == []


def test_a_file_is_no_folder(tmp_path):
    (tmp_path / "c").write_text("notes")
    with pytest.raises(CollectionError, match="is a file"):
        Catalogue.open(tmp_path / "c", create=True)


def test_photographs_without_their_catalogue_are_not_taken_over(tmp_path):
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "mine.jpg").write_bytes(b"holiday")
    with pytest.raises(CollectionDamaged, match=r"photos but no catalogue\.sqlite"):
        Catalogue.open(tmp_path, create=True)
    assert files_of(tmp_path) == {"photos/mine.jpg": b"holiday"}


def test_a_file_that_is_no_database(tmp_path):
    (tmp_path / "catalogue.sqlite").write_bytes(b"these are not the pages of a database " * 40)
    with pytest.raises(CollectionDamaged, match="restore"):
        Catalogue.open(tmp_path)


def test_a_database_of_something_else(tmp_path):
    with closing(sqlite3.connect(tmp_path / "catalogue.sqlite")) as other, other:
        other.execute("CREATE TABLE recipes (name TEXT)")
    before = (tmp_path / "catalogue.sqlite").read_bytes()
    with pytest.raises(CollectionDamaged, match="recipes"):
        Catalogue.open(tmp_path)
    assert (tmp_path / "catalogue.sqlite").read_bytes() == before


def test_a_newer_catalogue_is_left_as_it_is(tmp_path):
    with Catalogue.open(tmp_path / "c", create=True) as cat:
        add_tray(cat, "B-03")
    file = tmp_path / "c" / "catalogue.sqlite"
    with closing(sqlite3.connect(file)) as newer, newer:
        newer.execute("INSERT INTO migration VALUES (99, 'later', '2031-01-01', '9.0')")
    before = file.read_bytes()
    with pytest.raises(CollectionTooNew, match="schema 99"):
        Catalogue.open(tmp_path / "c", create=True)
    assert file.read_bytes() == before


@pytest.mark.parametrize("url", ["not a url", "mysql://lab@host/x", "sqlite:///elsewhere.db"])
def test_other_databases_are_refused(tmp_path, url):
    with pytest.raises(CollectionError, match="postgresql://"):
        Catalogue.open(tmp_path / "c", create=True, url=url)


def test_a_server_that_does_not_answer(tmp_path):
    url = f"postgresql://lab:secret@/x?host={tmp_path}"
    with pytest.raises(CollectionNotWritable, match="cannot be reached") as refused:
        Catalogue.open(tmp_path / "c", create=True, url=url)
    assert "secret" not in str(refused.value)


def _as_nobody(action) -> str:
    """Run in a child without root's rights; return the name of what it raised."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        name = b"nothing"
        try:
            if os.geteuid() == 0:
                os.setgroups([])
                os.setgid(65534)
                os.setuid(65534)
            action()
        except BaseException as error:  # the child reports whatever comes
            name = type(error).__name__.encode()
        os.write(writer, name)
        os._exit(0)
    os.close(writer)
    os.waitpid(child, 0)
    with os.fdopen(reader) as stream:
        return stream.read()


@pytest.fixture
def open_folder():
    """A temporary folder that everybody may look into."""
    folder = Path(tempfile.mkdtemp(prefix="catalogue-"))
    folder.chmod(0o755)
    yield folder
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o755 if path.is_dir() else 0o644)
    shutil.rmtree(folder)


@pytest.mark.filterwarnings("ignore:.*multi-threaded.*fork:DeprecationWarning")
def test_a_folder_without_permission(open_folder):
    with Catalogue.open(open_folder / "c", create=True) as cat:
        add_tray(cat, "B-03")
    before = files_of(open_folder / "c")
    for path in (open_folder, *open_folder.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    assert _as_nobody(lambda: Catalogue.open(open_folder / "c")) == "CollectionNotWritable"
    assert _as_nobody(lambda: Catalogue.open(open_folder / "new", create=True)) == "CollectionNotWritable"
    assert not (open_folder / "new").exists()
    assert files_of(open_folder / "c") == before


def test_writing_outside_a_transaction_is_a_defect(cat):
    with pytest.raises(RuntimeError, match="transaction"):
        cat.ensure_lot("B-03")
    assert cat.lots() == ()


@pytest.mark.parametrize("by", ["", "  "])
def test_a_change_has_a_person(cat, by):
    with pytest.raises(NameRefused, match="name or initials"), cat.transaction(by=by):
        cat.ensure_lot("B-03")
    assert cat.lots() == ()


def test_a_failed_transaction_leaves_rows_and_files_as_they_were(cat):
    add_tray(cat, "B-03")
    before, version = files_of(cat.folder), cat.version()

    def fail() -> None:
        with cat.transaction(by=PERSON):
            add_tray(cat, "C-1", content=b"another tray", site="Ashby Weir")
            assert len(cat.lots()) == 2
            assert files_of(cat.folder) != before
            raise KeyError("the workflow fails")

    with pytest.raises(KeyError, match="the workflow fails"):
        fail()
    assert files_of(cat.folder) == before
    assert cat.version() == version
    assert [lot.name for lot in cat.lots()] == ["B-03"]
    assert cat.check() == ()


def test_an_inner_failure_that_is_swallowed_does_not_pass_for_a_whole(cat):
    def half() -> None:
        with cat.transaction(by=PERSON):
            cat.ensure_lot("B-03")
            with contextlib.suppress(NameRefused), cat.transaction(by=PERSON):
                cat.ensure_lot("B-04")
                cat.ensure_lot("a/b")

    with pytest.raises(RuntimeError, match="inside this one failed"):
        half()
    assert cat.lots() == ()


def test_one_transaction_is_one_change(cat):
    add_tray(cat, "B-03")
    assert {event.change for event in cat.history()} == {1}
    with cat.transaction(by="R. Vance"):
        cat.drop_sherd("B-03-001")
    assert cat.history()[0].change == 2
    assert cat.history()[0].by == "R. Vance"
    assert cat.version("B-03") == cat.version() == cat.history()[0].event_id
