"""The plane of a photograph: it comes back exactly, is part of what a crop rests on, and older collections gain it."""

import sqlite3
from contextlib import closing

import numpy as np
import pytest
from sqlalchemy import text

from motifs.catalogue import Catalogue
from motifs.catalogue.content import light_field, light_json
from motifs.catalogue.database import sqlite_engine
from motifs.catalogue.migrations import MIGRATIONS, migrate
from motifs.records import ColourFit, LightField, Plane, Scale
from tests.catalogue.finds import add_tray

PLANE = Plane((0.1, 0.002, -3.0, 0.001, 0.11, 4.0, 1e-6, -2e-6, 1.0), (1500.5, 1000.25), 1800.0, 0.012, -0.001)
SCALE = Scale(9.5, "mat", 0.002, plane=PLANE)


def test_a_plane_comes_back_as_it_was(tmp_path):
    with Catalogue.open(tmp_path, create=True) as cat:
        add_tray(cat, "0012", sherds=1)
        (photo,), (sherd,) = cat.photos(), cat.sherds()
        assert photo.scale.plane is None
        with cat.transaction(by="mo"):
            cat.set_scale(photo.photo_id, SCALE, {sherd.number: (1.0, 2.0)})
        with_plane = cat.sherds()[0].content_key
        flat = Scale(9.5, "mat", 0.002)
        with cat.transaction(by="mo"):
            cat.set_scale(photo.photo_id, flat, {sherd.number: (1.0, 2.0)})
        assert cat.sherds()[0].content_key != with_plane
        with cat.transaction(by="mo"):
            cat.undo("0012")
        assert cat.photos()[0].scale == SCALE
        assert cat.sherds()[0].content_key == with_plane


def test_a_collection_of_before_gains_the_column_and_keeps_its_keys(tmp_path):
    before_this = MIGRATIONS[: [step.__name__ for step in MIGRATIONS].index("plane_of_the_photograph")]
    engine = sqlite_engine(tmp_path / "catalogue.sqlite")
    migrate(engine, "x", before_this)
    with engine.begin() as connection:
        assert "scale_plane" not in {row[1] for row in connection.execute(text("PRAGMA table_info(photo)"))}
    engine.dispose()
    with Catalogue.open(tmp_path, create=True) as cat:
        add_tray(cat, "0012", sherds=1)
        assert cat.photos()[0].scale.plane is None
    with closing(sqlite3.connect(tmp_path / "catalogue.sqlite")) as plain:
        assert plain.execute("SELECT scale_plane FROM photo").fetchall() == [(None,)]


@pytest.mark.parametrize(
    "colour", [None, ColourFit((1.1, 1.0, 0.9), tuple(np.eye(3).ravel().tolist()), (0.0, 0.01, 0.0))]
)
def test_light_comes_back_and_says_nothing_it_did_not_know(colour):
    reference_de = None if colour is None else 0.8
    light = LightField(np.ones((2, 3, 3), np.float32), "card", (90.0, 0.0, 1.0), 0.4, colour, reference_de)
    stored = light_json(light)
    again = light_field(stored)
    assert (again.colour, again.reference_de) == (colour, reference_de)
    assert ("colour" in stored) == (colour is not None)
