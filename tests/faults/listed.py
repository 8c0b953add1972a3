"""The list of faults: what befalls the program, and a try of each that ends in what came of it, or in an AssertionError."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from tests.faults.jobs import JOBS, Job, Outcome, at_work, is_whole, laid_out, look_over
from tests.faults.single import SINGLE

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

FEW_WRITES = 3


@dataclass(frozen=True)
class Fault:
    """One fault. attempt(ground, folder, share): share 0..1 says where in the work it strikes; returns what came of it."""

    title: str
    attempt: Callable[[Path, Path, float], str]


class CannotBeTried(Exception):
    """This machine does not let the fault be made."""


def killed(job: Job, ground: Path, folder: Path, share: float) -> str:
    """SIGKILL at a write; afterwards nothing is half there, and the job can be done."""
    writes, seconds = _measured(job, ground, folder)
    work = laid_out(ground, job, folder / "killed")
    if writes < FEW_WRITES:  # all it writes goes through the database: struck by the clock
        when = f"{share * seconds:.1f} of {seconds:.1f} s"
        outcome = at_work(work, job.line, die_after_s=share * seconds)
    else:
        when = f"write {_at(writes, share)} of {writes}"
        outcome = at_work(work, job.line, die_at=_at(writes, share))
        assert outcome.code is None, f"not killed at {when}: {outcome}"
    if outcome.code is not None:
        when += " (it was done just before)"
    _nothing_lost(work, job)
    again = at_work(work, job.line)
    assert again.code == 0, f"cannot be done afterwards: {again.told}"
    assert is_whole(work, job), "not whole when done afterwards"
    return f"killed at {when}: nothing half there; done again, whole"


def full(job: Job, ground: Path, folder: Path, share: float) -> str:
    """No space from a write on: one line, nothing half there."""
    writes, _ = _measured(job, ground, folder)
    if not writes:
        return "makes no file"
    work = laid_out(ground, job, folder / "full")
    at = _at(writes, share)
    outcome = at_work(work, job.line, full_at=at)
    _told_in_one_line(outcome, work, job)
    if outcome.code == 0:
        return f"no space from write {at} of {writes} on: done, without a file that can be made again"
    return f"no space from write {at} of {writes} on: '{_short(outcome.told)}'"


def too_large(job: Job, ground: Path, folder: Path, share: float) -> str:
    """No file may grow beyond a size, SQLite's own included: one line, or the work is done with smaller files."""
    sizes = (4096, 40_000, 400_000)
    work = laid_out(ground, job, folder / "grown")
    outcome = at_work(work, job.line, most_bytes=sizes[min(int(share * len(sizes)), len(sizes) - 1)])
    if outcome.code == 0:
        assert is_whole(work, job)
        return "every file stayed below; done"
    _told_in_one_line(outcome, work, job)
    return f"'{_short(outcome.told)}'"


def small_disk(job: Job, ground: Path, folder: Path, share: float) -> str:
    """On a real disk (in memory) that has too little room left."""
    laid = laid_out(ground, job, folder / "laid")
    # A page of memory for each file and folder, as such a disk counts.
    need = sum(-(-path.stat().st_size // 4096) * 4096 for path in laid.rglob("*") if path.is_file())
    with _disk(folder / "disk", need + int(40_000 + 200_000 * share)):
        work = shutil.copytree(laid, folder / "disk" / "work")
        outcome = at_work(work, job.line)
        if outcome.code == 0:
            assert is_whole(work, job)
            return "there was room enough; done"
        _told_in_one_line(outcome, work, job, is_tight=True)
    return f"'{_short(outcome.told)}'"


def read_only(job: Job, ground: Path, folder: Path, share: float) -> str:
    """The folder may not be written to: one line, not a byte changed."""
    work = laid_out(ground, job, folder / "locked")
    (work / "out").mkdir(exist_ok=True)
    before = _bytes_of(work)
    with _may_not_be_written(work):
        outcome = at_work(work, job.line)
    assert outcome.code == 2, outcome
    _one_line(outcome)
    assert _bytes_of(work) == before, "something was changed"
    return f"'{_short(outcome.told)}'"


def _measured(job: Job, ground: Path, folder: Path) -> tuple[int, float]:
    """How many writes the job makes and how long it takes when nothing befalls it; measured once a ground."""
    kept = ground.parent / f"{ground.name}.{job.name.replace(' ', '_')}.writes"
    if not kept.is_file():
        work = laid_out(ground, job, folder / "counted")
        began = time.monotonic()
        outcome = at_work(work, job.line)
        assert outcome.code == 0, outcome
        assert is_whole(work, job), "the job itself does not work"
        kept.write_text(f"{outcome.writes} {time.monotonic() - began:.2f}", encoding="utf-8")
        shutil.rmtree(work)
    writes, seconds = kept.read_text(encoding="utf-8").split()
    return int(writes), float(seconds)


def _at(writes: int, share: float) -> int:
    return 1 + min(int(share * writes), writes - 1)


def _nothing_lost(work: Path, job: Job) -> None:
    wrong = look_over(work, job)
    assert wrong == [], "; ".join(wrong)


def _told_in_one_line(outcome: Outcome, work: Path, job: Job, *, is_tight: bool = False) -> None:
    if outcome.code == 0:
        # The program can do without what it could not write (a cache): then all must be there.
        assert is_whole(work, job), "said to be done, and is not"
        return
    assert outcome.code == 2, f"exit code {outcome.code}: {outcome.told}"
    _one_line(outcome)
    if not is_tight:
        _nothing_lost(work, job)
        return
    # Looking over needs room itself: done on another disk.
    moved = shutil.copytree(work, work.parents[1] / "moved")
    _nothing_lost(moved, job)


def _one_line(outcome: Outcome) -> None:
    assert outcome.told, "nothing was said"
    assert not outcome.told.startswith(("defect", "Traceback")), outcome.told


def _short(told: str) -> str:
    return told if len(told) <= 110 else told[:107] + "..."


def _bytes_of(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }


@contextmanager
def _may_not_be_written(work: Path) -> Iterator[None]:
    """For root, whom no rights stop: the folder is mounted read-only. Otherwise: rights are taken off it."""
    if os.geteuid() == 0:
        _mount("--bind", str(work), str(work))
        try:
            _mount("-o", "remount,ro,bind", str(work))
            yield
        finally:
            subprocess.run(["umount", str(work)], check=True)
        return
    folders = [work, *(path for path in work.rglob("*") if path.is_dir())]
    for folder in folders:
        folder.chmod(0o555)
    try:
        yield
    finally:
        for folder in folders:
            folder.chmod(0o755)


@contextmanager
def _disk(place: Path, size: int) -> Iterator[None]:
    """A disk in memory of so many bytes."""
    place.mkdir(parents=True)
    _mount("-t", "tmpfs", "-o", f"size={size}", "none", str(place))
    try:
        yield
    finally:
        subprocess.run(["umount", str(place)], check=True)


def _mount(*words: str) -> None:
    if os.geteuid() != 0 or subprocess.run(["mount", *words], capture_output=True, check=False).returncode != 0:
        raise CannotBeTried("this machine lets nobody mount a disk")


def _faults() -> Iterator[Fault]:
    for job in JOBS:
        yield Fault(f"kill -9 in {job.name}", partial(killed, job))
    for job in JOBS:
        yield Fault(f"disk full in {job.name}", partial(full, job))
    by_name = {job.name: job for job in JOBS}
    for name in ("sort", "tagging", "import of a table", "export", "backup", "report"):
        yield Fault(f"no file may grow, in {name}", partial(too_large, by_name[name]))
    for name in ("export", "backup", "import of a bag"):
        yield Fault(f"a small disk, in {name}", partial(small_disk, by_name[name]))
    for name in ("sort", "tagging", "report", "export", "backup", "import of a table", "import of a bag", "practice"):
        yield Fault(f"read-only folder, in {name}", partial(read_only, by_name[name]))
    for title, attempt in SINGLE.items():
        yield Fault(title, attempt)


FAULTS = tuple(_faults())
