"""The long jobs as commands, and what must be so whether they were finished, killed or met a full disk.

A job runs the program's own command line in a process of its own (forked from a server that has everything imported), which dies, or
meets a full disk, at a chosen write: Python tells an audit hook of every file that is opened for writing, made, moved or removed
(PEP 578). Writes that SQLite makes are met by a limit on the size of files (RLIMIT_FSIZE), and by a small disk in memory.
"""

from __future__ import annotations

import contextlib
import errno
import io
import multiprocessing
import os
import resource
import shutil
import signal
import sys
import tempfile
import threading
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import bagit
import pypdfium2 as pdfium

from motifs.catalogue import Catalogue
from motifs.cli import main
from motifs.workflows.check import check_collection
from motifs.workflows.exercise import open_exercise
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.joins import KIND as JOINS
from motifs.workflows.joins import find_joins
from motifs.workflows.sort import KIND as SORT
from motifs.workflows.sort import sort_lot
from tests.workflows.tray import save_tray

if TYPE_CHECKING:
    from collections.abc import Callable

LOT, NEW_LOT = "B-03", "N-1"
BY = ("--by", "M. Oduya")
AT_WORK = multiprocessing.get_context("forkserver")
AT_WORK.set_forkserver_preload(["tests.faults.jobs", "motifs.workflows.report", "motifs.workflows.practice", "torch"])
LONGEST_S = 180.0
WRITES = {"os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.truncate", "os.link"}
MENDED = {"missing derived", "unfinished file", "orphan derived", "damaged derived"}


@dataclass(frozen=True)
class Job:
    """One long job. line: its command, with {work}; made: what it leaves outside the catalogue, whole or not at all."""

    name: str
    line: tuple[str, ...]
    made: Callable[[Path], list[str]] = lambda _: []
    is_told: Callable[[Catalogue], bool] = lambda _: True
    """Whether the catalogue says that it was done."""
    is_early: bool = False
    """Begins before anything was encoded or sorted."""
    is_long: bool = False


def _bag(work: Path) -> list[str]:
    folder = work / "out" / "bag"
    if not folder.exists():
        return ["absent"]
    bagit.Bag(str(folder)).validate()
    return []


def _backup(work: Path) -> list[str]:
    file = work / "out" / "backup.zip"
    if not file.exists():
        return ["absent"]
    with zipfile.ZipFile(file) as archive:
        return [] if archive.testzip() is None else ["the backup is damaged"]


def _report(work: Path) -> list[str]:
    pdf, page = (work / "out" / f"report {LOT}.{end}" for end in ("pdf", "html"))
    if not pdf.exists() or not page.exists():
        return ["absent"]
    with pdfium.PdfDocument(pdf) as document:
        assert len(document) > 1
    return [] if page.read_text(encoding="utf-8").rstrip().endswith("</html>") else ["the report's page is cut off"]


def _exercise(work: Path) -> list[str]:
    folder = work / "out" / "ex"
    if not folder.exists():
        return ["absent"]
    opened = open_exercise(folder)
    parts = {path.name for path in folder.iterdir()}
    return [] if opened.pieces and {"cut_out.pdf", "piles.csv"} <= parts else [f"the exercise has only {sorted(parts)}"]


def _taken_in(work: Path) -> list[str]:
    if not (work / "back" / "catalogue.sqlite").exists():
        return ["absent"]
    with Catalogue.open(work / "back") as back:
        wrong = [found.message for found in back.check() if found.kind not in MENDED]
        return wrong or (["absent"] if back.is_empty() else [] if len(back.sherds()) == 12 else ["half a bag"])


def _whole_lot(cat: Catalogue) -> bool:
    if NEW_LOT not in {lot.name for lot in cat.lots()}:
        return False
    assert len(cat.sherds(NEW_LOT)) == 8, "half an intake"
    return True


def _table(cat: Catalogue) -> bool:
    found = sum(record.lot == "T-9" for record in cat.records())
    assert found in {0, 60}, f"{found} of 60 rows"
    return found == 60


def _tagged(cat: Catalogue) -> bool:
    found = sum("zigzag" in {tag.term for tag in tags} for tags in cat.tags_of(list(cat.sherd_numbers(LOT))).values())
    assert found in {0, 8}, f"{found} of 8 sherds tagged"
    return found == 8


def _kept(kind: str) -> Callable[[Catalogue], bool]:
    return lambda cat: cat.latest_proposal(LOT, kind) is not None


JOBS = (
    Job(
        "intake",
        ("intake", "{work}/new_1.jpg", "{work}/new_2.jpg", "--lot", NEW_LOT, "--px-per-mm", "6", *BY),
        is_told=_whole_lot,
        is_long=True,
    ),
    Job("sort", ("sort", LOT, *BY), is_told=_kept(SORT), is_early=True),
    Job("encode", ("comparanda", f"{LOT}-001", *BY), is_early=True, is_long=True),
    Job("joins", ("joins", LOT, *BY), is_told=_kept(JOINS), is_early=True),
    Job("layout", ("layout", LOT, "--vessel", "1", *BY)),
    Job("report", ("report", LOT, "--out", "{work}/out", *BY), _report),
    Job("export", ("export", "{work}/out/bag", *BY), _bag),
    Job("import of a bag", ("--collection", "{work}/back", "import", "{work}/bag", *BY), _taken_in),
    Job("import of a table", ("import", "{work}/finds.csv", *BY), is_told=_table),
    Job("backup", ("backup", "{work}/out/backup.zip"), _backup),
    Job("practice", ("practice", "ex", "--into", "{work}/out", "--sherds", "8"), _exercise, is_long=True),
    Job(
        "tagging",
        ("tag", *(f"{LOT}-00{n}" for n in range(1, 9)), "--put", "motif", "zigzag", "--new", *BY),
        is_told=_tagged,
    ),
)


def make_collection(folder: Path) -> None:
    """A collection of two lots in which people have said something, nothing encoded and nothing sorted."""
    trays = [save_tray(folder / f"tray_{seed}.jpg", seed) for seed in (1, 2, 3)]
    with Catalogue.open(folder / "collection", create=True) as cat:
        catalogue_photos(cat, read_photos(trays[:2]), lot=LOT, site="Kestrel Ford", by="test")
        catalogue_photos(cat, read_photos(trays[2:]), lot="C-1", site="Marl Hill", by="test")
        with cat.transaction(by="test"):
            cat.add_tag(f"{LOT}-001", "scroll", "motif")
            cat.attribute(f"{LOT}-002", "A", note="by hand")


def make_ground(folder: Path) -> None:
    """That collection sorted, and as it was before; a bag of it, new photographs and a table: what every job begins with."""
    make_collection(folder)
    for place, seed in enumerate((11, 12), start=1):
        save_tray(folder / f"new_{place}.jpg", seed)
    rows = [f"T-9/{n},T-9,jar" for n in range(60)]
    (folder / "finds.csv").write_text("\n".join(["number,lot,form", *rows]), encoding="utf-8")
    with contextlib.redirect_stdout(io.StringIO()):
        assert run(folder, ("export", "{work}/bag", "--no-plates")) == 0
    shutil.copytree(folder / "collection", folder / "early")
    with Catalogue.open(folder / "collection") as cat:
        sort_lot(cat, LOT, by="test")
        find_joins(cat, LOT, by="test")
    with contextlib.redirect_stdout(io.StringIO()):
        assert run(folder, ("comparanda", f"{LOT}-001")) == 0
    assert at_work(folder, ("sherds",)).code == 0  # the server is there from now on, and takes no job's time


def laid_out(ground: Path, job: Job, work: Path) -> Path:
    """A fresh copy of the ground for one try of a job."""
    shutil.copytree(ground, work, ignore=shutil.ignore_patterns("collection", "early", "tray_*"))
    shutil.copytree(ground / ("early" if job.is_early else "collection"), work / "collection")
    return work


def run(work: Path, line: tuple[str, ...]) -> int:
    """Run a command on the collection; a line that names another collection is left as it is."""
    words = [word.replace("{work}", str(work)) for word in line]
    named = [] if "--collection" in words else ["--collection", str(work / "collection")]
    return main([*named, *words, "--json"])


@dataclass(frozen=True)
class Outcome:
    """What became of a command. code: its exit code, None where it was killed; told: its last line; writes: how many it made."""

    code: int | None
    told: str
    writes: int


def at_work(
    work: Path,
    line: tuple[str, ...],
    *,
    die_at: int = 0,
    die_after_s: float = 0.0,
    full_at: int = 0,
    most_bytes: int = 0,
) -> Outcome:
    """Run a command in a process of its own.

    die_at: SIGKILL at that write (from 1). die_after_s: SIGKILL after so long. full_at: from that write on no file can be made or grow. most_bytes: no file grows
    beyond, whoever writes it.
    """
    # Not in the folder of the job, whose disk may be full.
    descriptor, name = tempfile.mkstemp(suffix=".outcome")
    os.close(descriptor)
    outcome = Path(name)
    person = AT_WORK.Process(target=_do, args=(work, line, outcome, die_at, die_after_s, full_at, most_bytes))
    person.start()
    person.join(LONGEST_S)
    code = person.exitcode
    if code is None:
        person.kill()
        raise AssertionError(f"{line[0]} did not end in {LONGEST_S} s")
    person.close()
    lines = outcome.read_text(encoding="utf-8").splitlines()
    counted = [int(one[7:]) for one in lines if one.startswith("writes ")]
    outcome.unlink()
    told = [one for one in lines if not one.startswith("writes ")]
    return Outcome(None if code == -signal.SIGKILL else code, told[-1] if told else "", counted[-1] if counted else 0)


def _do(
    work: Path,
    line: tuple[str, ...],
    outcome: Path,
    die_at: int,
    die_after_s: float,
    full_at: int,
    most_bytes: int,
) -> None:
    stream = outcome.open("a", encoding="utf-8", buffering=1)
    count = [0]

    def hook(event: str, arguments: tuple[Any, ...]) -> None:
        if not _is_write(event, arguments):
            return
        count[0] += 1
        if count[0] == die_at:
            os.kill(os.getpid(), signal.SIGKILL)
        # A full disk lets go of files and takes no new ones.
        if full_at and count[0] >= full_at and event not in {"os.remove", "os.rmdir"}:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(arguments[0]))

    with contextlib.redirect_stdout(open(os.devnull, "w")), contextlib.redirect_stderr(stream):
        if most_bytes:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))
        if die_after_s:
            threading.Timer(die_after_s, lambda: os.kill(os.getpid(), signal.SIGKILL)).start()
        sys.addaudithook(hook)
        try:
            code = run(work, line)
        except BaseException as defect:
            print(f"defect: {type(defect).__name__}: {defect}", file=stream)
            code = 1
    print(f"writes {count[0]}", file=stream)
    stream.close()
    os._exit(code)


def _is_write(event: str, arguments: tuple[Any, ...]) -> bool:
    if event in WRITES:
        return "__pycache__" not in str(arguments[0])
    if event != "open" or not isinstance(arguments[0], str | bytes | os.PathLike):
        return False
    flags = arguments[2] if isinstance(arguments[2], int) else 0
    name = os.fsdecode(arguments[0])
    return (
        bool(flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT))
        and not name.startswith(("/dev/", "/proc/"))
        and "__pycache__" not in name
    )


def look_over(work: Path, job: Job) -> list[str]:
    """What is lost or half there after a job that was cut off or refused; empty for nothing."""
    wrong: list[str] = []
    with Catalogue.open(work / "collection") as cat:
        health = check_collection(cat, repair=True, by="check")
        wrong += [found.message for found in health.findings if found.kind not in MENDED]
        if not check_collection(cat, by="check").is_sound:
            wrong.append("what is derived could not be mended")
        if "scroll" not in {tag.term for tag in cat.tags(f"{LOT}-001")} or f"{LOT}-002" not in cat.attributions(LOT):
            wrong.append("a person's word is lost")
        try:
            job.is_told(cat)
        except AssertionError as half:
            wrong.append(str(half))
    try:
        wrong += [line for line in job.made(work) if line != "absent"]
    except Exception as broken:
        wrong.append(f"{type(broken).__name__}: {broken}")
    return wrong


def is_whole(work: Path, job: Job) -> bool:
    """Whether the job is done and all of it is there."""
    with Catalogue.open(work / "collection") as cat:
        return job.is_told(cat) and job.made(work) == []
