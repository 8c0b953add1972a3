"""Written records of finds: one read whole, and one field changed on many, looked at before it is kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.catalogue import RecordRow
from motifs.catalogue.records import check_field
from motifs.errors import InputError
from motifs.workflows.cell_faults import cell_fault
from motifs.workflows.tables_in import TypedCell

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import Catalogue


@dataclass(frozen=True, slots=True)
class FieldChange:
    """One field of one find, before and after; before is empty where nothing was written."""

    number: str
    lot: str
    field: str
    before: str
    after: str


def finds_of(cat: Catalogue, lot: str | None = None) -> tuple[RecordRow, ...]:
    """Every find of a lot, or of all: catalogued sherds first, also those of which nothing is written; UnknownName for the lot."""
    written = {record.number: record for record in cat.records(lot)}
    numbers = {}
    for name in [lot] if lot is not None else [one.name for one in cat.lots()]:
        site = cat.lot(name).site
        for number in cat.sherd_numbers(name):
            numbers[number] = written.pop(number, RecordRow(number, name, site, {}, "", ""))
    return (*numbers.values(), *written.values())


def save_fields(cat: Catalogue, number: str, lot: str, fields: Mapping[str, str], *, by: str) -> RecordRow:
    """Keep what is written of one find.

    Raises
    ------
    InputError
        A text that its field cannot hold: said field by field, nothing is kept.
    UnknownName, NameRefused
        No such lot; the number cannot be one.
    """
    faults = [f"{name} {why}" for name, text in fields.items() if (why := _fault(name, text))]
    if faults:
        raise InputError(f"'{number}': {'; '.join(faults)}; nothing was kept")
    with cat.transaction(by=by):
        return cat.save_record(number, lot, fields)


def preview_field(cat: Catalogue, numbers: Sequence[str], field: str, text: str) -> tuple[FieldChange, ...]:
    """Say what would change if this text were written in this field of these finds; an empty text takes it out.

    Raises
    ------
    InputError
        No find, no such field, or a text that the field cannot hold.
    UnknownName
        A find that is neither catalogued nor written of.
    """
    check_field(field)
    if not numbers:
        raise InputError("no find is named; choose the finds first")
    fault = _fault(field, text)
    if fault:
        raise InputError(f"{field} {fault}; nothing would be kept")
    known = {find.number: find for find in finds_of(cat)}
    changes = []
    for number in dict.fromkeys(numbers):
        find = known.get(number) or cat.record(number)
        before = find.fields.get(field, "")
        if before != text:
            changes.append(FieldChange(number, find.lot, field, before, text))
    return tuple(changes)


def keep_changes(cat: Catalogue, changes: Sequence[FieldChange], *, by: str) -> int:
    """Write what was looked at, in one step; return how many finds changed.

    Raises
    ------
    InputError
        Somebody has written there since it was looked at: nothing is kept.
    """
    with cat.transaction(by=by):
        now = {record.number: record.fields for record in cat.records()}
        for change in changes:
            if now.get(change.number, {}).get(change.field, "") != change.before:
                raise InputError(
                    f"{change.field} of '{change.number}' was written by somebody else in the meantime; look again first"
                )
        cat.save_records([(change.number, change.lot, {change.field: change.after}) for change in changes])
    return len(changes)


def _fault(field: str, text: str) -> str:
    return cell_fault(check_field(field), TypedCell(text)) if text else ""
