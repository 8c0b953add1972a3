"""Records of finds in words and tables; every text that somebody wrote is escaped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.ui.presenters.sifting import Grid, grid
from motifs.ui.presenters.text import counted, facts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import RecordRow, RestrictionRow, SherdRow, TagRow
    from motifs.workflows.importing import ImportPlan
    from motifs.workflows.record_edits import FieldChange

GROUPS: dict[str, tuple[str, ...]] = {
    "Numbers and place": (
        "accession number",
        "find number",
        "context",
        "date found",
        "storage place",
        "latitude",
        "longitude",
    ),
    "What it is": ("position", "form", "ware", "fabric", "surface treatment", "period"),
    "Measured by hand": ("weight g", "thickness mm", "length mm", "rim diameter mm", "measurements"),
    "State and treatment": ("condition", "treatment"),
    "Pictures, parallels, rights": ("photographs", "drawings", "comparanda", "bibliography", "rights", "note"),
}
"""The fields of a record as the page groups them."""

LONG_FIELDS = frozenset({"measurements", "condition", "treatment", "comparanda", "bibliography", "note"})
LISTED = ("form", "ware", "position", "period", "context")
"""Fields that the list of finds shows."""


def finds_grid(finds: Sequence[RecordRow]) -> Grid:
    """What is written of finds, the first fields of each."""
    rows = [(find.number, *(find.fields.get(name, "") for name in LISTED), len(find.fields)) for find in finds]
    head = ("Find", *(name.capitalize() for name in LISTED), "Fields written")
    return grid(head, rows, "Finds and what is written of them")


def seen_html(sherd: SherdRow, tags: Sequence[TagRow]) -> str:
    """What the photograph tells of a catalogued sherd: read, not typed."""
    area = None if sherd.area_mm2 is None else f"{sherd.area_mm2:.0f} mm\u00b2"
    across = None if sherd.max_dimension_mm is None else f"{sherd.max_dimension_mm:.1f} mm"
    return facts(
        [
            ("Lot", sherd.lot),
            ("Site", sherd.site),
            ("Photograph", sherd.photo_name),
            ("Area", area),
            ("Longest side", across),
            ("Tags", ", ".join(f"{tag.term} ({tag.kind})" for tag in tags)),
        ]
    )


def changes_grid(changes: Sequence[FieldChange]) -> Grid:
    """What would change, find by find."""
    rows = [(one.number, one.before or "\u2013", one.after or "taken out") for one in changes]
    return grid(("Find", "Before", "After"), rows, "What would change")


def plan_words(plan: ImportPlan) -> str:
    """What taking in a table would do, in one line."""
    faulty = f"{counted(len(plan.faults), 'fault')} to mend first" if plan.faults else "no fault"
    return f"{plan.name}: {plan.count('add')} to add, {plan.count('change')} to change, {plan.count('same')} the same; {faulty}."


def faults_grid(plan: ImportPlan) -> Grid:
    """Every fault with its row and column."""
    rows = [(fault.row, fault.column or "whole row", fault.message) for fault in plan.faults]
    return grid(("Row", "Column", "What is wrong"), rows, "Faults of the table")


def restrictions_grid(restrictions: Sequence[RestrictionRow]) -> Grid:
    """What is restricted now, numbered as it is freed by."""
    rows = [(one.restriction_id, one.kind, one.name, one.ground, one.note, one.by, one.at[:10]) for one in restrictions]
    return grid(("Number", "Kind", "Name", "Ground", "Note", "By", "Since"), rows, "What is not shown")
