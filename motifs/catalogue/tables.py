"""The tables as this version of the program reads and writes them.

Version 1 is frozen in `first_tables.py`. A later migration adds its columns and tables here as well
(`append_column`); a test compares this schema with what the migrations really make.
"""

from __future__ import annotations

from sqlalchemy import Column, Integer, MetaData, Table, Text

from motifs.catalogue import (
    comparanda_tables,
    first_tables,
    index_tables,
    join_tables,
    learner_tables,
    mending_tables,
    outline_tables,
    plane_tables,
    record_tables,
    sorting_tables,
    view_tables,
    vocabulary_tables,
)

metadata = MetaData()
first_tables.build(metadata)
plane_tables.build(metadata)
outline_tables.append(metadata)
view_tables.build(metadata)
comparanda_tables.build(metadata)
join_tables.build(metadata)
vocabulary_tables.build(metadata)
sorting_tables.build(metadata)
record_tables.build(metadata)
mending_tables.build(metadata)
learner_tables.build(metadata)
index_tables.append(metadata)

site = metadata.tables["site"]
lot = metadata.tables["lot"]
photo = metadata.tables["photo"]
sherd = metadata.tables["sherd"]
measurement = metadata.tables["measurement"]
link = metadata.tables["link"]
attribution = metadata.tables["attribution"]
tag = metadata.tables["tag"]
proposal = metadata.tables["proposal"]
event = metadata.tables["event"]
view = metadata.tables["view"]
rim = metadata.tables["rim"]
label = metadata.tables["label"]
comparanda_list = metadata.tables["comparanda_list"]
comparanda_entry = metadata.tables["comparanda_entry"]
tag_refusal = metadata.tables["tag_refusal"]
join_word = metadata.tables["join_word"]
term = metadata.tables["term"]
second_look = metadata.tables["second_look"]
second_answer = metadata.tables["second_answer"]
open_pair = metadata.tables["open_pair"]
vessel_lock = metadata.tables["vessel_lock"]
find_record = metadata.tables["find_record"]
restriction = metadata.tables["restriction"]
placement = metadata.tables["placement"]
treatment = metadata.tables["treatment"]
vessel_form = metadata.tables["vessel_form"]
exercise_turn = metadata.tables["exercise_turn"]
quiz_card = metadata.tables["quiz_card"]
quiz_answer = metadata.tables["quiz_answer"]

# Which migrations have run; made before the first of them, and never changed.
migration = Table(
    "migration",
    MetaData(),
    Column("version", Integer, primary_key=True, autoincrement=False),
    Column("name", Text, nullable=False),
    Column("made_at", Text, nullable=False),
    Column("program", Text, nullable=False),
)

ABSENT: dict[str, dict[str, object]] = {
    "sherd": {"state": "dropped"},
    "link": {"is_active": False},
    "attribution": {"is_active": False},
    "tag": {"is_active": False},
    "view": {"standing": "dropped"},
    "rim": {"is_active": False},
    "label": {"state": "dropped"},
    "comparanda_entry": {"is_active": False},
    "tag_refusal": {"is_active": False},
    "join_word": {"is_active": False},
    "term": {"is_active": False},
    "second_answer": {"is_active": False},
    "open_pair": {"is_active": False},
    "vessel_lock": {"is_active": False},
    "find_record": {"is_active": False},
    "restriction": {"is_active": False},
    "placement": {"is_active": False},
    "treatment": {"is_active": False},
    "vessel_form": {"is_active": False},
}
"""What makes a row of a table count as not there: undoing an addition sets this, so nothing is ever deleted."""

BULKY = frozenset({"outline_px", "light"})
"""Columns that the history of an addition leaves out (the row has them; a replacement records them)."""
