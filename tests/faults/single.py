"""Faults that strike once: locks, lost and altered files, two at once, clocks, names, Windows' ways, copies, newer catalogues."""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import sqlite3
import threading
import time
import unicodedata
from contextlib import closing
from typing import TYPE_CHECKING, Any

from motifs.catalogue import Catalogue, database, store
from motifs.cli import main
from motifs.workflows.check import check_collection
from motifs.workflows.exercise import read_piles
from motifs.workflows.exporting import export_collection, take_in_bag
from motifs.workflows.importing import carry_out, plan_import, propose_columns
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.sort import sort_lot
from motifs.workflows.tables_in import read_sheet
from tests.faults.jobs import AT_WORK, LOT, Outcome, at_work

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

LONG = "\U0001f3fa\u0e01" * 100
"""200 characters, 700 bytes in UTF-8: as long as a name may be, and longer than a file's name can be."""
NFD = unicodedata.normalize("NFD", "Čáslav-Ü 7é 한")
ODD_NAMES = (NFD, "Ж\u2019 лот №5", "層位 3", "خزف 12", LONG, "CON", 'a:b?c*|<>"', "trailing.dot.")


def _copy(ground: Path, folder: Path, name: str = "work") -> Path:
    return shutil.copytree(ground, folder / name, ignore=shutil.ignore_patterns("early", "bag"))


def _call(collection: Path, *line: str) -> Outcome:
    """A command in this process: exit code and its last line on stderr."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(["--collection", str(collection), *line])
    lines = err.getvalue().splitlines()
    assert code in {0, 2}, lines
    return Outcome(code, lines[-1] if lines else out.getvalue().strip().splitlines()[-1], 0)


def _refused(collection: Path, *line: str) -> str:
    outcome = _call(collection, *line)
    assert outcome.code == 2, f"not refused: {outcome}"
    return outcome.told


def _short(text: str) -> str:
    return text if len(text) <= 110 else text[:107] + "..."


def locked(ground: Path, folder: Path, share: float) -> str:
    """Somebody else holds the catalogue: a short hold is waited for, a long one is one line."""
    work = _copy(ground, folder)
    line = ("tag", f"{LOT}-001", "--put", "motif", "locked", "--new", "--by", "M. Oduya")
    with closing(
        sqlite3.connect(work / "collection" / "catalogue.sqlite", isolation_level=None, check_same_thread=False)
    ) as other:
        other.execute("BEGIN IMMEDIATE")
        usual, database.BUSY_TIMEOUT_S = database.BUSY_TIMEOUT_S, 0.3
        try:
            told = _refused(work / "collection", *line)
        finally:
            database.BUSY_TIMEOUT_S = usual
        timer = threading.Timer(0.5, lambda: other.execute("ROLLBACK"))
        timer.start()
        assert _call(work / "collection", *line).code == 0, "did not wait for a short hold"
        timer.join()
    return f"'{_short(told)}'; a short hold is waited for"


def photograph_deleted(ground: Path, folder: Path, share: float) -> str:
    """An original is gone: check names it, what needs it is one line, what does not goes on."""
    work = _copy(ground, folder)
    with Catalogue.open(work / "collection") as cat:
        cat.photo_file(cat.photos(LOT)[0]).unlink()
        kinds = {found.kind for found in check_collection(cat, repair=True, by="check").findings}
        assert kinds == {"missing original"}, kinds
        assert len(cat.sherds(LOT)) == 8, "sherds went with it"
    told = _refused(work / "collection", "backup", str(work / "b.zip"))
    assert not (work / "b.zip").exists()
    assert "missing" in _refused(work / "collection", "export", str(work / "bag"))
    assert not (work / "bag").exists()
    assert _call(work / "collection", "sort", LOT).code == 0, "sorting needs no original where crops are there"
    return f"'{_short(told)}'; sorting goes on"


def photograph_altered(ground: Path, folder: Path, share: float) -> str:
    """An original was changed by another program: check names it, and it goes out nowhere."""
    work = _copy(ground, folder)
    with Catalogue.open(work / "collection") as cat:
        file = cat.photo_file(cat.photos(LOT)[0])
        content = bytearray(file.read_bytes())
        content[len(content) // 2] ^= 0xFF
        file.write_bytes(content)
        kinds = {found.kind for found in check_collection(cat, repair=True, by="check").findings}
        assert kinds == {"altered original"}, kinds
    told = _refused(work / "collection", "backup", str(work / "b.zip"))
    for more in ((), ("--exact-places",)):
        assert "altered" in _refused(work / "collection", "export", str(work / "bag"), *more)
        assert not (work / "bag").exists()
    return f"'{_short(told)}'; no export of it either"


def _at_once(work: Path, lines: list[tuple[str, ...]]) -> list[Outcome]:
    found: list[Outcome | None] = [None] * len(lines)

    def one(place: int) -> None:
        found[place] = at_work(work, lines[place])

    people = [threading.Thread(target=one, args=(place,)) for place in range(len(lines))]
    for person in people:
        person.start()
    for person in people:
        person.join()
    return [one for one in found if one is not None]


def two_intakes(ground: Path, folder: Path, share: float) -> str:
    """Two people bring photographs into one lot at the same time, one photograph in both hands."""
    work = _copy(ground, folder)
    line = ("intake", "--lot", "N-1", "--px-per-mm", "6")
    both = _at_once(
        work, [(*line, "{work}/new_1.jpg", "--by", "A"), (*line, "{work}/new_1.jpg", "{work}/new_2.jpg", "--by", "B")]
    )
    assert [one.code for one in both] == [0, 0], both
    with Catalogue.open(work / "collection") as cat:
        numbers = [sherd.number for sherd in cat.sherds("N-1")]
        assert len(cat.photos("N-1")) == 2, "a photograph is lost or doubled"
        assert sorted(numbers) == [f"N-1-{n:03d}" for n in range(1, 9)], numbers
        assert check_collection(cat, by="check").is_sound
    return "both done; 2 photographs, 8 sherds, numbers 1 to 8 once each"


def two_sorts(ground: Path, folder: Path, share: float) -> str:
    """Two people sort one lot at the same time."""
    work = _copy(ground, folder)
    both = _at_once(work, [("sort", LOT, "--by", "A"), ("sort", LOT, "--by", "B")])
    assert [one.code for one in both] == [0, 0], both
    with Catalogue.open(work / "collection") as cat:
        kept = cat.latest_proposal(LOT, "vessels")
        assert kept is not None
        assert check_collection(cat, by="check").is_sound
        assert f"{LOT}-002" in cat.attributions(LOT), "a person's word is lost"
    return "both done; the later one stands, whole"


def clock_set_back(ground: Path, folder: Path, share: float) -> str:
    """The clock goes back ten years between two changes: the order of the history is that of the work, and undo takes the last."""
    work = _copy(ground, folder)
    usual = store.now
    with Catalogue.open(work / "collection") as cat:
        with cat.transaction(by="before"):
            cat.add_tag(f"{LOT}-003", "first", "motif")
        store.now = lambda: "2016" + usual()[4:]
        try:
            with cat.transaction(by="after"):
                cat.add_tag(f"{LOT}-003", "second", "motif")
            assert cat.history(LOT)[0].by == "after", "the history goes by the clock"
            sort_lot(cat, LOT, by="after")
            kept = cat.latest_proposal(LOT, "vessels")
            assert kept is not None
            assert kept.at.startswith("2016"), "an older sort is taken for the latest"
            with cat.transaction(by="after"):
                cat.undo(LOT)
        finally:
            store.now = usual
        assert [tag.term for tag in cat.tags(f"{LOT}-003")] == ["first"], "undo took the wrong change"
    return "history, latest sort and undo go by the order of the work"


def odd_names(ground: Path, folder: Path, share: float) -> str:
    """Names that are not ASCII, as long as may be, composed and decomposed: in, sorted, reported, out and back."""
    work = _copy(ground, folder)
    source = (work / "new_1.jpg").read_bytes()
    with Catalogue.open(work / "collection") as cat:
        reading = read_photos([work / "new_1.jpg"], px_per_mm=6.0)[0]
        for place, name in enumerate(ODD_NAMES):
            path = work / f"{unicodedata.normalize('NFD', 'é')}{place}.jpg"
            path.write_bytes(source + bytes([place]))
            import hashlib
            from dataclasses import replace

            sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
            catalogue_photos(
                cat, [replace(reading, path=path, sha256=sha256)], lot=name, site=f"site {place}", by="M. Oduya"
            )
        for name in ODD_NAMES:
            assert len(cat.sherds(unicodedata.normalize("NFC", name))) == 4, name[:20]
            assert len(cat.sherds(unicodedata.normalize("NFD", name))) == 4, f"{name[:20]} typed on another system"
        export_collection(cat, work / "bag", with_plates=False)
        with Catalogue.open(work / "back", create=True) as back:
            take_in_bag(back, work / "bag", by="test")
            assert {lot.name for lot in back.lots()} == {lot.name for lot in cat.lots()}
    for name in (LONG, NFD, ODD_NAMES[6]):
        for line in (
            ("sort", name),
            ("joins", name),
            ("report", name, "--out", str(work / "out")),
            ("layout", name, "--vessel", "1"),
            ("counts", name),
            ("sherds", "--lot", name),
        ):
            outcome = _call(work / "collection", *line)
            assert outcome.code == 0, f"{line[0]} of '{name[:12]}...': {outcome.told}"
    return f"{len(ODD_NAMES)} names of lots, up to 200 characters; composed and decomposed are one"


def windows_ways(ground: Path, folder: Path, share: float) -> str:
    """Line ends, byte order marks and separators of other systems in tables; no path of any system in the catalogue."""
    work = _copy(ground, folder)
    plain = "number,lot,form\nW-1,T-9,jar\nW-2,T-9,bowl\n"
    ways = {
        "crlf": plain.replace("\n", "\r\n").encode(),
        "cr": plain.replace("\n", "\r").encode(),
        "bom": b"\xef\xbb\xbf" + plain.encode(),
        "semicolon": plain.replace(",", ";").replace("\n", "\r\n").encode(),
        "utf16": plain.replace("\n", "\r\n").encode("utf-16"),
    }
    with Catalogue.open(work / "collection") as cat:
        for name, content in ways.items():
            file = work / f"{name}.csv"
            file.write_bytes(content.replace(b"W-", f"{name}-".encode()) if name != "utf16" else content)
            sheet = read_sheet(file)
            assert len(sheet.rows) == 2, f"{name}: {len(sheet.rows)} rows"
            assert carry_out(cat, plan_import(cat, sheet, propose_columns(sheet.head)), by="test") == 2, name
        assert {record.fields["form"] for record in cat.records("T-9")} == {"jar", "bowl"}
    for end in ("\r\n", "\r", "\n"):
        (work / "piles.csv").write_bytes(f"sherd,pile{end}1-001,A{end}1-002,B{end}".encode("utf-8-sig"))
        assert read_piles(work / "piles.csv") == {"1-001": "A", "1-002": "B"}, repr(end)
    with closing(sqlite3.connect(work / "collection" / "catalogue.sqlite")) as plain_sql:
        stored = [row[0] for row in plain_sql.execute("SELECT stored_as FROM photo")]
        assert stored
        assert all("\\" not in one and not one.startswith("/") and ":" not in one for one in stored)
    return f"{len(ways)} kinds of table and 3 line ends read alike; stored places are relative, with '/'"


def copied_elsewhere(ground: Path, folder: Path, share: float) -> str:
    """The folder is copied to another place and opened there: the same answers, and nothing points back."""
    work = _copy(ground, folder)
    before = _json(work / "collection", "sherds")
    moved = folder / "äußere Platte" / "moved"
    shutil.copytree(work / "collection", moved)
    shutil.rmtree(work)
    for file in moved.rglob("*"):
        assert not file.is_file() or str(work).encode() not in file.read_bytes(), f"{file.name} holds the old place"
    assert _json(moved, "sherds") == before
    with Catalogue.open(moved) as cat:
        assert check_collection(cat, by="check").is_sound
    assert _call(moved, "sort", LOT).code == 0
    return "same list, sound, sorted; no file holds the old place"


def _json(collection: Path, *line: str) -> Any:
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        assert main(["--collection", str(collection), *line, "--json"]) == 0
    return json.loads(out.getvalue())


def half_written(ground: Path, folder: Path, share: float) -> str:
    """Every derived file is cut off half-way, or holds nothing: the same answers, made again."""
    work = _copy(ground, folder)
    collection = work / "collection"
    before = {
        name: _json(collection, *line)
        for name, line in (("sort", ("sort", LOT)), ("near", ("comparanda", f"{LOT}-001")))
    }
    for keep in (0.5, 0.0):
        files = [path for path in (collection / "derived").rglob("*") if path.is_file()]
        assert len(files) > 20
        for file in files:
            content = file.read_bytes()
            file.write_bytes(content[: int(len(content) * keep)])
        after = _json(collection, "sort", LOT)
        assert after["assignments"] == before["sort"]["assignments"], "another sorting"
        near = _json(collection, "comparanda", f"{LOT}-001")
        same = [
            (a["sherd"], b["sherd"], abs(a["similarity"] - b["similarity"]) < 1e-5)
            for a, b in zip(near["neighbours"], before["near"]["neighbours"], strict=True)
        ]
        assert all(a == b and is_near for a, b, is_near in same), "other neighbours"
        with Catalogue.open(collection) as cat:
            check_collection(cat, repair=True, by="check")
            assert check_collection(cat, by="check").is_sound
    return f"{len(files)} files cut off and emptied: the same sorting and neighbours, all made again"


def derived_gone(ground: Path, folder: Path, share: float) -> str:
    """The whole of derived/ is deleted while the collection is open."""
    work = _copy(ground, folder)
    before = _json(work / "collection", "sort", LOT)["assignments"]
    with Catalogue.open(work / "collection") as cat:
        shutil.rmtree(work / "collection" / "derived")
        sort_lot(cat, LOT, by="test")
        check_collection(cat, repair=True, by="check")
        assert check_collection(cat, by="check").is_sound
    assert _json(work / "collection", "sort", LOT)["assignments"] == before
    return "made again; the same sorting"


def newer_catalogue(ground: Path, folder: Path, share: float) -> str:
    """Written by a newer version: one line, not a byte changed."""
    work = _copy(ground, folder)
    file = work / "collection" / "catalogue.sqlite"
    with closing(sqlite3.connect(file)) as plain:
        plain.execute("INSERT INTO migration (version, name, made_at, program) VALUES (999, 'later', '2031', '9.9')")
        plain.commit()
        plain.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    before = file.read_bytes()
    told = {
        _refused(work / "collection", *line)
        for line in (("sherds",), ("sort", LOT), ("check",), ("export", str(work / "x")))
    }
    assert len(told) == 1, told
    assert file.read_bytes() == before, "changed"
    return f"'{_short(told.pop())}'"


def damaged_catalogue(ground: Path, folder: Path, share: float) -> str:
    """The catalogue is overwritten in the middle, cut off, or no database at all: one line that says to restore a backup."""
    told = ""
    for place, damage in enumerate(
        (lambda c: b"x" * len(c), lambda c: c[: len(c) // 3], lambda c: c[:4096] + bytes(len(c) - 4096))
    ):
        work = _copy(ground, folder, f"work{place}")
        file = work / "collection" / "catalogue.sqlite"
        with closing(sqlite3.connect(file)) as plain:
            plain.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        file.write_bytes(damage(file.read_bytes()))
        told = _refused(work / "collection", "sherds")
        assert "backup" in told, told
    return f"'{_short(told)}'"


def restored_backup(ground: Path, folder: Path, share: float) -> str:
    """A backup unpacked by any program is the collection; made while somebody writes, it is one state."""
    import zipfile

    work = _copy(ground, folder)
    writer = AT_WORK.Process(target=_write_on, args=(work / "collection", 15))
    writer.start()
    time.sleep(0.5)
    assert _call(work / "collection", "backup", str(work / "b.zip")).code == 0
    writer.join()
    assert writer.exitcode == 0
    with zipfile.ZipFile(work / "b.zip") as archive:
        assert all(not name.startswith("/") and ".." not in name for name in archive.namelist())
        archive.extractall(work / "restored")
    with Catalogue.open(work / "restored") as cat:
        cat.check(repair=True)
        health = check_collection(cat, repair=True, by="check")
        assert {one.kind for one in health.findings} <= {"missing derived"}, health.findings
        pairs = [len(cat.tags(f"{LOT}-00{n}")) for n in (4, 5)]
        assert pairs[0] == pairs[1], "half a change is in the backup"
    return "one state, sound after what is derived was made again"


def _write_on(collection: Path, times: int) -> None:
    with Catalogue.open(collection) as cat:
        for turn in range(times):
            with cat.transaction(by="writer"):
                cat.add_tag(f"{LOT}-004", f"turn {turn}", "motif")
                cat.add_tag(f"{LOT}-005", f"turn {turn}", "motif")


SINGLE: dict[str, Callable[[Path, Path, float], str]] = {
    "catalogue locked by another": locked,
    "photograph deleted behind its back": photograph_deleted,
    "photograph altered": photograph_altered,
    "two intakes of one lot at once": two_intakes,
    "two sorts at once": two_sorts,
    "clock set back ten years": clock_set_back,
    "names not ASCII and very long": odd_names,
    "Windows line ends and paths": windows_ways,
    "collection copied to another place": copied_elsewhere,
    "derived files half written": half_written,
    "derived files gone while open": derived_gone,
    "newer catalogue than the program": newer_catalogue,
    "catalogue damaged": damaged_catalogue,
    "backup made while somebody writes": restored_backup,
}
