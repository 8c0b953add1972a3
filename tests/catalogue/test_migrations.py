import sqlite3
from contextlib import closing

import pytest
from sqlalchemy import Column, Integer, MetaData, Table, Text, inspect, select, text

from motifs.catalogue import Catalogue, tables
from motifs.catalogue.database import reading, server_engine, sqlite_engine
from motifs.catalogue.migrations import MIGRATIONS, migrate, schema_version
from motifs.errors import CollectionTooNew
from tests.catalogue.finds import add_tray


@pytest.fixture(params=["sqlite", "postgresql"])
def engine(request, tmp_path):
    if request.param == "sqlite":
        made = sqlite_engine(tmp_path / "catalogue.sqlite")
    else:
        made = server_engine(request.getfixturevalue("server_url"))
    yield made
    made.dispose()


def add_shelf(connection):
    """A migration a later version might have."""
    connection.execute(text("ALTER TABLE sherd ADD COLUMN shelf TEXT"))


def make_boxes(connection):
    Table("box", MetaData(), Column("id", Integer, primary_key=True), Column("label", Text)).create(connection)


def fail_late(connection):
    connection.execute(text("ALTER TABLE sherd ADD COLUMN half TEXT"))
    raise ZeroDivisionError


def columns(engine, table):
    with engine.connect() as connection:
        return {column["name"] for column in inspect(connection).get_columns(table)}


def ran(engine):
    with reading(engine) as connection:
        return connection.execute(select(tables.migration).order_by(tables.migration.c.version)).all()


def test_the_migrations_make_the_schema_the_program_uses(engine):
    migrate(engine, "x")
    with engine.connect() as connection:
        found = inspect(connection)
        assert set(found.get_table_names()) == {*tables.metadata.tables, "migration"}
        for table in tables.metadata.sorted_tables:
            real = {column["name"]: column["nullable"] for column in found.get_columns(table.name)}
            assert real == {column.name: column.nullable for column in table.columns}
            keys = {
                (key["constrained_columns"][0], key["referred_table"]) for key in found.get_foreign_keys(table.name)
            }
            assert keys == {(key.parent.name, key.column.table.name) for key in table.foreign_keys}
            assert {index["name"] for index in found.get_indexes(table.name)} >= {str(i.name) for i in table.indexes}


def test_each_migration_is_recorded_once(engine):
    migrate(engine, "x")
    migrate(engine, "x")
    assert [(row.version, row.name) for row in ran(engine)] == [
        (number, step.__name__) for number, step in enumerate(MIGRATIONS, 1)
    ]
    with reading(engine) as connection:
        assert schema_version(connection) == len(MIGRATIONS)


def test_an_older_catalogue_is_brought_up(engine):
    migrate(engine, "x")
    migrate(engine, "x", (*MIGRATIONS, add_shelf, make_boxes))
    assert [row.name for row in ran(engine)][-2:] == ["add_shelf", "make_boxes"]
    assert "shelf" in columns(engine, "sherd")
    assert "label" in columns(engine, "box")


def test_a_migration_that_fails_leaves_nothing(engine):
    migrate(engine, "x")
    with pytest.raises(ZeroDivisionError):
        migrate(engine, "x", (*MIGRATIONS, add_shelf, fail_late, make_boxes))
    assert "shelf" in columns(engine, "sherd")  # the one before it holds
    assert "half" not in columns(engine, "sherd")
    assert ran(engine)[-1].name == "add_shelf"
    migrate(engine, "x", (*MIGRATIONS, add_shelf, make_boxes))
    assert ran(engine)[-1].name == "make_boxes"


def test_a_newer_one_is_refused(engine):
    migrate(engine, "x", (*MIGRATIONS, add_shelf))
    before = columns(engine, "sherd")
    with pytest.raises(CollectionTooNew, match="update the program"):
        migrate(engine, "collection 'x'")
    assert columns(engine, "sherd") == before


def test_finds_survive_an_upgrade(tmp_path):
    with Catalogue.open(tmp_path, create=True) as cat:
        add_tray(cat, "B-03", site="Kestrel Ford")
        before = (cat.sherds(), cat.photos(), cat.history())
    engine = sqlite_engine(tmp_path / "catalogue.sqlite")
    migrate(engine, "x", (*MIGRATIONS, add_shelf))
    engine.dispose()
    with closing(sqlite3.connect(tmp_path / "catalogue.sqlite")) as plain, plain:
        assert plain.execute("SELECT DISTINCT shelf FROM sherd").fetchall() == [(None,)]
        plain.execute("DELETE FROM migration WHERE version > ?", (len(MIGRATIONS),))
    with Catalogue.open(tmp_path) as cat:
        assert (cat.sherds(), cat.photos(), cat.history()) == before


def test_the_schema_is_plain_sql_for_whoever_comes_later(tmp_path):
    with Catalogue.open(tmp_path, create=True) as cat:
        add_tray(cat, "0012", sherds=2, site="Kestrel Ford")
    with closing(sqlite3.connect(tmp_path / "catalogue.sqlite")) as plain:
        rows = plain.execute(
            "SELECT sherd.number, lot.name, site.name, photo.file_name FROM sherd JOIN lot ON lot.id = sherd.lot_id "
            "JOIN site ON site.id = lot.site_id JOIN photo ON photo.id = sherd.photo_id ORDER BY sherd.id"
        ).fetchall()
        assert plain.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert rows == [(f"0012-00{n}", "0012", "Kestrel Ford", "0012 tray.JPG") for n in (1, 2)]
