"""A catalogue of every released schema, with finds in it, comes up to the newest with nothing lost."""

from __future__ import annotations

import hashlib
import json

import pytest
from sqlalchemy import create_engine, inspect, text

from motifs.catalogue import Catalogue, tables
from motifs.catalogue.content import content_key
from motifs.catalogue.database import server_engine, sqlite_engine
from motifs.catalogue.migrations import MIGRATIONS, migrate
from tests.catalogue.finds import PERSON, SQUARE

MADE = {"made_by": PERSON, "made_at": "2026-03-05T10:00:00.000000+00:00"}
SHA256 = "ab" * 32
OUTLINE = SQUARE.tolist()

# What a lab could have kept under the first schema, in its columns.
ROWS = {
    "site": {"name": "Kestrel Ford"},
    "lot": {"name": "11-4", "site_id": 1, "last_number": 2},
    "photo": {
        "sha256": SHA256, "stored_as": f"photos/ab/{SHA256}.jpg", "size_bytes": 3, "file_name": "tray.jpg", "lot_id": 1,
        "width_px": 600, "height_px": 400, "scale_px_per_mm": 12.5, "scale_source": "bar", "scale_relative_sd": 0.004,
        "crumbs": 0, "warnings": "[]",
    },
    "sherd": {
        "number": "11-4-001", "lot_id": 1, "photo_id": 1, "outline_px": json.dumps(OUTLINE), "area_mm2": 16.0,
        "max_dimension_mm": 5.6, "state": "kept", "content_key": "k",
    },
    "tag": {"sherd_id": 1, "term": "=scroll", "kind": "motif", "confidence": 0.5, "is_active": True},
    "attribution": {"sherd_id": 1, "vessel": "A", "note": "by hand", "is_active": True},
}  # fmt: skip


def fill(engine) -> None:
    with engine.begin() as connection:
        for table, values in ROWS.items():
            row = {**values, **MADE}
            names = ", ".join(row)
            connection.execute(text(f"INSERT INTO {table} ({names}) VALUES ({', '.join(':' + n for n in row)})"), row)  # noqa: S608


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS) + 1))
@pytest.mark.parametrize("base", ["sqlite", "postgresql"])
def test_finds_of_every_schema_come_up(base, version, tmp_path, request) -> None:
    url = None if base == "sqlite" else request.getfixturevalue("server_url")
    folder = tmp_path / "collection"
    for part in ("photos", "derived", "exports"):
        (folder / part).mkdir(parents=True)
    engine = sqlite_engine(folder / "catalogue.sqlite") if url is None else server_engine(url)
    migrate(engine, "old", MIGRATIONS[:version])
    fill(engine)
    engine.dispose()
    with Catalogue.open(folder, url=url) as cat:
        sherd = cat.sherd("11-4-001")
        assert (sherd.lot, sherd.site, sherd.area_mm2, sherd.outline_px.tolist()) == (
            "11-4",
            "Kestrel Ford",
            16.0,
            OUTLINE,
        )
        assert cat.photo(1).scale.px_per_mm == 12.5
        assert [(tag.term, tag.confidence, tag.by) for tag in cat.tags("11-4-001")] == [("=scroll", 0.5, PERSON)]
        assert cat.attributions("11-4")["11-4-001"].vessel == "A"
        with cat.transaction(by="R. Vance"):  # and it can be worked with as if it were new
            cat.save_record("11-4-001", "11-4", {"form": "jar"})
            cat.restrict("sherd", "11-4-001", "embargo")
            assert cat.lot("11-4").sherds == 0
    engine = create_engine(f"sqlite:///{folder / 'catalogue.sqlite'}") if url is None else server_engine(url)
    with engine.connect() as connection:
        assert set(inspect(connection).get_table_names()) == {*tables.metadata.tables, "migration"}
        assert connection.scalar(text("SELECT max(version) FROM migration")) == len(MIGRATIONS)
    engine.dispose()


def test_a_key_of_the_first_schema_is_still_the_same_key() -> None:
    """What was derived under an older version stays valid: the sha256 of this text, put together by hand."""
    photo = {"sha256": SHA256, "scale_px_per_mm": 12.5, "light": None, "scale_plane": None}
    corners = "[[10.0,10.0],[60.0,10.0],[60.0,60.0],[10.0,60.0]]"
    told = f'{{"light":null,"outline_px":{corners},"photo":"{SHA256}","px_per_mm":12.5}}'
    assert content_key(photo, OUTLINE) == hashlib.sha256(told.encode()).hexdigest()
