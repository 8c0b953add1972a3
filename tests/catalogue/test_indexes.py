"""Lists and counts over all sherds go by an index: not one reads the outlines past, which are nine tenths of a catalogue."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from sqlalchemy import event

from motifs.catalogue import Catalogue
from tests.catalogue.finds import PERSON, add_tray

if TYPE_CHECKING:
    from collections.abc import Callable

READINGS: dict[str, Callable[[Catalogue], object]] = {
    "sherd_heads": Catalogue.sherd_heads,
    "catalogue_list": Catalogue.catalogue_list,
    "lots": Catalogue.lots,
    "lot_tallies": Catalogue.lot_tallies,
    "tag_counts": Catalogue.tag_counts,
    "sherd_numbers": lambda cat: cat.sherd_numbers("B-03"),
    "rims": Catalogue.rims,
}


def plans(cat: Catalogue, read: Callable[[Catalogue], object]) -> list[str]:
    """How the database goes about every question that a reading asks."""
    asked: list[tuple[str, object]] = []

    def note(_connection: object, _cursor: object, statement: str, values: object, *_: object) -> None:
        asked.append((statement, values))

    event.listen(cat._engine, "before_cursor_execute", note)
    read(cat)
    event.remove(cat._engine, "before_cursor_execute", note)
    with cat._engine.connect() as connection:
        found = [
            str(row[3])
            for statement, values in asked
            if statement.startswith("SELECT")
            for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values)
        ]
    assert found
    return found


@pytest.mark.parametrize("name", READINGS)
def test_no_list_reads_every_outline(name: str, lite: Catalogue) -> None:
    add_tray(lite, "B-03", site="Kestrel Ford")
    with lite.transaction(by=PERSON):
        lite.add_tag("B-03-001", "scroll", "motif")
    whole = [plan for plan in plans(lite, READINGS[name]) if plan.split(" USING")[0] in {"SCAN sherd", "SCAN s"}]
    assert all("COVERING INDEX" in plan or "sherds_to_look_at" in plan for plan in whole), whole


def test_a_reading_of_outlines_would_be_seen(lite: Catalogue) -> None:
    """The judge of the test above: whoever asks for the outlines of all is told to read them all."""
    add_tray(lite, "B-03")
    assert any(plan == "SCAN sherd" for plan in plans(lite, Catalogue.sherds))
