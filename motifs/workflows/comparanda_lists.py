"""Lists of comparanda: kept with a reason, told, and written out as a table with the fields of a citation."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict
from typing import TYPE_CHECKING

from motifs.catalogue import Citation
from motifs.errors import CollectionNotWritable, InputError

if TYPE_CHECKING:
    from pathlib import Path

    from motifs.catalogue import Catalogue, ComparandumRow
    from motifs.workflows.comparanda import Comparanda

COLUMNS = (
    "list", "sherd", "comparandum", "comparandum_site", "comparandum_lot", "comparandum_photograph", "reason",
    "similarity", "probability_same_motif", "encoder", "author", "year", "title", "pages", "figure", "piece", "holder",
    "inventory_number", "rights", "judged_by", "judged_at",
)  # fmt: skip
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""A cell that begins so is taken for a formula by spreadsheets; it is written with an apostrophe in front."""


def keep_comparandum(
    cat: Catalogue,
    list_name: str,
    query: str,
    sherd: str | None,
    reason: str,
    *,
    citation: Citation | None = None,
    found: Comparanda | None = None,
    by: str,
) -> ComparandumRow:
    """Keep a comparandum in a list, with what the search said of it where it came from one.

    Parameters
    ----------
    sherd : of the collection, or None for a piece that its citation tells of.
    found : the answer it was chosen from.

    Raises
    ------
    UnknownName, NameRefused, InputError
        As the catalogue's method of that name.
    """
    near = next((one for one in found.neighbours if one.sherd == sherd), None) if found is not None else None
    with cat.transaction(by=by):
        return cat.keep_comparandum(
            list_name,
            query,
            sherd,
            reason,
            citation=citation,
            similarity=None if near is None else near.similarity,
            probability=None if near is None else near.probability,
            encoder=None if near is None or found is None else found.encoder,
        )


def drop_comparandum(cat: Catalogue, entry_id: int, *, by: str) -> None:
    """Take a comparandum out of its list; UnknownName for one that is not there."""
    with cat.transaction(by=by):
        cat.drop_comparandum(entry_id)


def citation_of(texts: dict[str, str]) -> Citation:
    """A citation from texts by field; InputError for a field that there is not."""
    known = asdict(Citation())
    for name in texts:
        if name not in known:
            raise InputError(f"'{name}' is no field of a citation; the fields are {', '.join(known)}")
    return Citation(**{name: text.strip() for name, text in texts.items()})


def list_csv(cat: Catalogue, list_name: str) -> str:
    """A list as CSV (RFC 4180) with a header; UnknownName for a list that holds nothing."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for entry in cat.comparanda_in(list_name):
        writer.writerow([_cell(value) for value in _row(entry)])
    return stream.getvalue()


def write_list(cat: Catalogue, list_name: str, file: Path) -> int:
    """Write a list as a CSV file that spreadsheets read as UTF-8; returns the number of comparanda.

    Raises
    ------
    UnknownName
        A list that holds nothing.
    InputError
        The file is there already.
    CollectionNotWritable
        No permission or no space there.
    """
    text = list_csv(cat, list_name)
    try:
        with file.open("x", encoding="utf-8-sig", newline="") as stream:
            stream.write(text)
    except FileExistsError:
        raise InputError(f"'{file}' is there already and is not overwritten; give the table another name") from None
    except OSError as problem:
        raise CollectionNotWritable(f"'{file}' cannot be written ({problem.strerror}); name another place") from problem
    return len(cat.comparanda_in(list_name))


def _row(entry: ComparandumRow) -> list[object]:
    cited = asdict(entry.citation)
    return [
        entry.list_name, entry.query, entry.sherd, entry.site, entry.lot, entry.photo_name, entry.reason,
        entry.similarity, entry.probability, entry.encoder, *(cited[name] for name in COLUMNS[10:19]), entry.by, entry.at,
    ]  # fmt: skip


def _cell(value: object) -> object:
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        return f"'{value}"
    return "" if value is None else value
