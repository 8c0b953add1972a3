"""Long fuzz of everything that reads a file of text: `python -m tests.faults.fuzz 20000 [seed]`.

Whole files of every kind are damaged and read. Nothing but the program's own errors may come out, each in one line. (Photographs
have a fuzz of their own, tests.imaging.fuzz_decode.)
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import io
import json
import sys
import tempfile
import zlib
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import openpyxl

from motifs.catalogue import TAG_KINDS, Catalogue
from motifs.cli.entry import _one_line
from motifs.design.skos import from_turtle, to_turtle
from motifs.embedding.cards import MODELS_FOLDER, read_card
from motifs.errors import MotifsError
from motifs.imaging import drawn_outline
from motifs.practice.lots import open_answer
from motifs.records import Term
from motifs.ui.presenters.people import FILE, read_people
from motifs.ui.session import told
from motifs.workflows.cell_faults import cell_fault
from motifs.workflows.exercise import open_exercise, read_piles
from motifs.workflows.importing import FIELDS, plan_import, propose_columns
from motifs.workflows.outline_files import read_outline_file
from motifs.workflows.package_out import read_tables, write_tables
from motifs.workflows.site_rows import read_periods, read_places
from motifs.workflows.tables_in import TypedCell, read_sheet
from motifs.workflows.treatment import add_entry
from tests.imaging.test_decode import mutated

if TYPE_CHECKING:
    from collections.abc import Callable

TABLE = (
    "number,lot,site,form,weight g,date found,latitude,longitude,note\r\n"
    '11-4,L-1,Marl Hill,jar,12.5,2026-03-01,51.2,-1.0,"a ""b"", c"\r\n0012,L-1,,bowl,,2026-02-29,,,=1+1\r\n1E5,L-2,,,,,,,\r\n'
)
SIGNS = ["\0", "\n", "\r", '"', "'", ",", ";", "\t", "\ud800", "\ufeff", "\u202e", "{", "[", "]", "}", "<", "@prefix", "1e999", "nan", "-", "9" * 40, "null", "\\", "'''", '"""', "#", "=", "\u0660"]  # fmt: skip


def bent(text: str, rng: np.random.Generator) -> str:
    """Damage a text by signs that mean something to readers, or by moving its pieces about."""
    out = list(text)
    for _ in range(int(rng.geometric(0.6))):
        at, kind = int(rng.integers(0, len(out) + 1)), rng.integers(4)
        if kind == 0:
            out[at:at] = SIGNS[int(rng.integers(len(SIGNS)))]
        elif kind == 1:
            del out[at : at + int(rng.integers(1, 30))]
        elif kind == 2 and out:
            begin = int(rng.integers(0, len(out)))
            out[at:at] = out[begin : begin + int(rng.integers(1, 60))]
        else:
            out[at : at + 1] = SIGNS[int(rng.integers(len(SIGNS)))]
    return "".join(out)


def bent_json(value: Any, rng: np.random.Generator) -> Any:
    """Put something else somewhere into a JSON value."""
    odd: list[Any] = [None, True, -1, 0, 1e308, 10**30, "", "x" * 50, [], {}, [[]], [None], {"a": 1}, "\ud800"]
    if rng.random() < 0.15 or not isinstance(value, dict | list) or not value:
        return odd[int(rng.integers(len(odd)))]
    if isinstance(value, dict):
        key = list(value)[int(rng.integers(len(value)))]
        if rng.random() < 0.2:
            return {name: one for name, one in value.items() if name != key}
        return {**value, key: bent_json(value[key], rng)}
    at = int(rng.integers(len(value)))
    return [*value[:at], bent_json(value[at], rng), *value[at + 1 :]]


class Readers:
    """Everything that reads, with a whole file of its kind. A reader gets a path and reads it to the end."""

    def __init__(self, folder: Path, cat: Catalogue) -> None:
        self.folder, self.cat = folder, cat
        book, stream = openpyxl.Workbook(), io.BytesIO()
        for row in ("number", "lot", "note"), ("11-4", "L-1", "x"), (12, "L-1", "y"):
            book.active.append(row)
        book.save(stream)
        terms = [Term("motif", "scroll", "a line", synonyms=("volute",)), Term("motif", "spiral", broader=("scroll",))]
        outline = {"outline_px": [[10, 10], [90, 12], [80, 70], [20, 60]]}
        people = '[[person]]\naddress = "a@b.example"\nname = "A. B"\nrole = "tag"\n'
        piles = "sherd,pile\r\n1-001,A\r\n1-002,'=B\r\n"
        self.answer = {"photos": [{"mm_per_px": 0.1, "sherds": [{"number": 1, "pot": 0, "outline_px": [[1, 1], [9, 1], [5, 9]]}]}], "name": "ex", "pots": []}  # fmt: skip
        card = next(MODELS_FOLDER.glob("motif*.card.json")).read_text(encoding="utf-8")
        write_tables(folder / "package", cat.all_rows(), schema=cat.schema, title="t", renamed={}, exact_places=False)
        self.kinds: dict[str, tuple[str, bytes, Callable[[Path], object]]] = {
            "table.csv": ("table.csv", TABLE.encode(), self._table),
            "table.xlsx": ("table.xlsx", stream.getvalue(), self._table),
            "skos": ("terms.ttl", to_turtle(terms).encode(), lambda path: from_turtle(_text(path), kinds=TAG_KINDS, source="x")),
            "outline": ("outline.json", json.dumps(outline).encode(), self._outline),
            "piles": ("piles.csv", piles.encode(), read_piles),
            "places": ("places.csv", b"site,east_km,north_km\r\nMarl Hill,1.5,2\r\nAsh,3,4\r\n", read_places),
            "periods": ("periods.csv", b"lot,period,mean_year\r\nL-1,early,100\r\nL-2,late,200\r\n", read_periods),
            "people": (FILE, people.encode(), lambda path: read_people(path.parent)),
            "card": ("x.card.json", card.encode(), read_card),
            "answer": ("answer.sealed.json", sealed(self.answer), open_answer),
            "package": ("package/datapackage.json", (folder / "package" / "datapackage.json").read_bytes(), lambda path: read_tables(path.parent, newest=cat.schema)),
            "package table": ("package/tables/sherd.csv", (folder / "package" / "tables" / "sherd.csv").read_bytes(), lambda path: read_tables(path.parents[1], newest=cat.schema)),
        }  # fmt: skip

    def _table(self, path: Path) -> None:
        sheet = read_sheet(path)
        plan_import(self.cat, sheet, propose_columns(sheet.head), lot="L-1")

    def _outline(self, path: Path) -> None:
        drawn_outline(read_outline_file(path), (100, 80), "a new sherd")

    def read(self, kind: str, content: bytes) -> str:
        """Read such a file; "read" or "refused". Anything but the program's own one-line errors passes through."""
        name, whole, reader = self.kinds[kind]
        path = self.folder / name
        path.write_bytes(content)
        try:
            reader(path)
        except MotifsError as wrong:
            one_line(wrong)
            return "refused"
        finally:
            if kind.startswith("package"):
                path.write_bytes(whole)
        return "read"

    def read_exercise(self, answer: Any) -> str:
        """An answer that is sealed rightly and says something strange: forged, not damaged."""
        folder = self.folder / "ex"
        folder.mkdir(exist_ok=True)
        (folder / "tray_1.jpg").write_bytes(b"x")
        (folder / "answer.sealed.json").write_bytes(sealed(answer))
        try:
            open_exercise(folder)
        except MotifsError as wrong:
            one_line(wrong)
            return "refused"
        return "read"

    def write_entry(self, texts: list[str]) -> str:
        """A treatment whose date and texts are what they are."""
        date, person, word = texts
        try:
            with contextlib.suppress(_Undo), self.cat.transaction(by="fuzz"):
                add_entry(
                    self.cat,
                    "L-1",
                    "A",
                    "cleaning",
                    {"method": word},
                    done_on=date,
                    person=person,
                    note=word,
                    by="fuzz",
                )
                raise _Undo
        except MotifsError as wrong:
            one_line(wrong)
            return "refused"
        return "read"


class _Undo(Exception):
    pass


def sealed(answer: Any) -> bytes:
    """An answer as `practice` seals it."""
    plain = json.dumps(answer, sort_keys=True).encode("utf-8", "surrogatepass")
    packed = base64.b64encode(zlib.compress(plain, 9)).decode()
    return json.dumps({"note": "", "sha256": hashlib.sha256(plain).hexdigest(), "packed": packed}).encode()


def one_line(wrong: MotifsError) -> None:
    """A message is there and not endless; what a person typed may bring line ends in, which both boundaries take out."""
    assert told(wrong).strip()
    assert "\n" not in told(wrong)
    assert _one_line(str(wrong)).isprintable()
    assert len(str(wrong)) < 3000, str(wrong)[:200]


def _text(path: Path) -> str:
    return path.read_bytes().decode("utf-8", "replace")


@contextlib.contextmanager
def readers(folder: Path) -> Any:
    """All readers, with a small collection behind those that need one."""
    with Catalogue.open(folder / "collection", create=True) as cat:
        with cat.transaction(by="fuzz"):
            cat.ensure_lot("L-1", site="Marl Hill")
            cat.save_record("11-4", "L-1", {"form": "jar"})
        yield Readers(folder, cat)


def fuzz(folder: Path, count: int, seed: int) -> Counter[str]:
    """Damage and read so many files; count what became of them."""
    rng = np.random.default_rng(seed)
    became: Counter[str] = Counter()
    with readers(folder) as all_of_them:
        kinds = list(all_of_them.kinds)
        for turn in range(count):
            kind = kinds[turn % len(kinds)]
            whole = all_of_them.kinds[kind][1]
            content = (
                mutated(whole, rng)
                if kind == "table.xlsx" or rng.random() < 0.4
                else bent(whole.decode(), rng).encode("utf-8", "surrogatepass")
            )
            became[f"{kind}: {all_of_them.read(kind, content)}"] += 1
            became[f"forged answer: {all_of_them.read_exercise(bent_json(all_of_them.answer, rng))}"] += 1
            words = [bent(text, rng) for text in ("2026-03-01", "M. Oduya", "brush")]
            became[f"entry: {all_of_them.write_entry(words)}"] += 1
            for word in words:
                field = FIELDS[int(rng.integers(len(FIELDS)))]
                assert isinstance(cell_fault(field, TypedCell(word)), str)
            if turn % 2000 == 1999:
                print(turn + 1, flush=True)
    return became


def main() -> None:
    """Run it as long as asked."""
    count, seed = (
        (int(word) for word in [*sys.argv[1:], "5000", "1"][:2])
        if len(sys.argv) > 2
        else (int([*sys.argv[1:], "5000"][0]), 1)
    )
    with tempfile.TemporaryDirectory() as folder:
        became = fuzz(Path(folder), count, seed)
    for what in sorted(became):
        print(f"{became[what]:>8}  {what}")
    print(f"{count} damaged files; nothing came out but one-line refusals")


if __name__ == "__main__":
    main()
