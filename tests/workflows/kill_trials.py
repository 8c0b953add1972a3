"""A person at work is killed (SIGKILL) at a random moment, again and again; the collection must hold all that was done, and nothing half.

The long run, as a command: python -m tests.workflows.kill_trials --kills 200
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import itertools
import multiprocessing
import random
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.catalogue import Catalogue
from motifs.workflows.check import check_collection
from motifs.workflows.importing import carry_out, plan_import, propose_columns
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.tables_in import read_sheet
from motifs.workflows.tagging import tag_sherds
from tests.workflows.tray import save_tray

if TYPE_CHECKING:
    from motifs.workflows.intake import ReadPhoto

FORK = multiprocessing.get_context("fork")  # the child has everything imported and the tray read already
LOT, SHERDS, ROWS = "B-03", 4, 40
KINDS = ("intake", "tagging", "import")
MORE_THAN_THIS_IS_LATE_S = 60.0


@dataclass(frozen=True)
class Step:
    """What the person was about to do (is_done False) or had done. size: sherds that a tag was put on."""

    kind: str
    turn: str
    size: int
    is_done: bool


def work(folder: Path, tray: ReadPhoto, tables: Path, kind: str, name: str) -> None:
    """One kind of work without end, each step told before and after in a file."""
    with (tables / "diary.txt").open("a", encoding="utf-8") as diary, Catalogue.open(folder) as cat:
        for number in itertools.count():
            turn = f"{name}-{number}"
            size = len(cat.sherds())
            for told in ("begun", "done"):
                if told == "done":
                    step(cat, tray, tables, kind, turn)
                diary.write(f"{kind} {turn} {size} {told}\n")
                diary.flush()


def step(cat: Catalogue, tray: ReadPhoto, tables: Path, kind: str, turn: str) -> None:
    if kind == "intake":
        # The same tray with other bytes behind its end: another photograph to the catalogue.
        content = tray.path.read_bytes() + turn.encode()
        path = tables / f"{turn}.jpg"
        path.write_bytes(content)
        sha256 = hashlib.sha256(content).hexdigest()
        catalogue_photos(cat, [replace(tray, path=path, sha256=sha256)], lot=LOT, by=turn)
    elif kind == "tagging":
        tag_sherds(cat, [sherd.number for sherd in cat.sherds()], "motif", f"motif {turn}", is_new=True, by=turn)
    else:
        path = tables / f"{turn}.csv"
        with path.open("w", encoding="utf-8", newline="") as stream:
            rows = [[f"{turn}/{at}", f"lot {turn}", "jar"] for at in range(ROWS)]
            csv.writer(stream).writerows([["number", "lot", "form"], *rows])
        sheet = read_sheet(path)
        carry_out(cat, plan_import(cat, sheet, propose_columns(sheet.head)), by=turn)


def look_over(folder: Path, steps: list[Step]) -> list[str]:
    """What is lost or half there; empty for nothing."""
    wrong = [] if not list(folder.glob(".new-*")) else ["an unfinished file lies in the collection"]
    with Catalogue.open(folder) as cat:
        health = check_collection(cat, repair=True, by="check")
        wrong += [
            found.message
            for found in health.findings
            if found.kind not in {"missing derived", "unfinished file", "orphan derived"}
        ]
        if not check_collection(cat, by="check").is_sound:
            wrong.append("what is derived could not be mended")
        done = {(one.kind, one.turn) for one in steps if one.is_done}
        photos = {photo.file_name: len(cat.sherds(photo_id=photo.photo_id)) for photo in cat.photos()}
        tagged = Counter(tag.term for tags in cat.tags_of([s.number for s in cat.sherds()]).values() for tag in tags)
        terms = {term.label for term in cat.terms("motif")}
        records = Counter(record.lot for record in cat.records())
        lots = {lot.name for lot in cat.lots()}
    for one in {one.turn: one for one in steps}.values():
        whole, found = {
            "intake": (SHERDS, photos.get(f"{one.turn}.jpg", 0)),
            "tagging": (one.size, tagged[f"motif {one.turn}"]),
            "import": (ROWS, records[f"lot {one.turn}"]),
        }[one.kind]
        must = (one.kind, one.turn) in done
        if found not in ({whole} if must else {0, whole}):
            wrong.append(f"{one.kind} {one.turn}: {found} of {whole}, {'told as done' if must else 'cut off'}")
        if one.kind == "tagging" and (f"motif {one.turn}" in terms) != bool(found):
            wrong.append(f"{one.turn}: term and tags are not one step")
        if one.kind == "import" and (f"lot {one.turn}" in lots) != bool(found):
            wrong.append(f"{one.turn}: lot and records are not one step")
    return wrong


def read_diary(tables: Path) -> list[Step]:
    lines = (tables / "diary.txt").read_text(encoding="utf-8").splitlines() if (tables / "diary.txt").is_file() else []
    parts = [line.split() for line in lines]
    return [Step(part[0], part[1], int(part[2]), part[3] == "done") for part in parts if len(part) == 4]


def try_kills(work_folder: Path, kills: int, *, seed: int = 0) -> tuple[int, Counter[str], list[str]]:
    """Kill so many people at work; return (steps done, kills in the middle of a step by kind, what is wrong)."""
    rng, folder, tables = random.Random(seed), work_folder / "collection", work_folder / "tables"
    tables.mkdir()
    (tray,) = read_photos([save_tray(tables / "tray.jpg", 5, sherds=SHERDS)])
    with Catalogue.open(folder, create=True) as cat:
        catalogue_photos(cat, [tray], lot=LOT, by="first")
    wrong: list[str] = []
    cut_off: Counter[str] = Counter()
    for turn in range(kills):
        kind = KINDS[turn % len(KINDS)]
        before = len(read_diary(tables))
        person = FORK.Process(target=work, args=(folder, tray, tables, kind, f"p{turn}"))
        person.start()
        _wait_for_a_step(tables, before)
        time.sleep(rng.uniform(0.0, {"intake": 0.8, "tagging": 0.25, "import": 0.25}[kind]))
        person.kill()
        person.join()
        person.close()
        steps = read_diary(tables)
        cut_off[kind] += not steps[-1].is_done
        wrong += look_over(folder, steps)
    return sum(one.is_done for one in read_diary(tables)), cut_off, wrong


def _wait_for_a_step(tables: Path, before: int) -> None:
    start = time.monotonic()
    while len(read_diary(tables)) == before:
        if time.monotonic() - start > MORE_THAN_THIS_IS_LATE_S:
            raise AssertionError("the person did not begin to work")
        time.sleep(0.005)


def main() -> int:
    """Run the kills and say what came of it."""
    parser = argparse.ArgumentParser(description="Kill people at work; look whether anything is lost or half there.")
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        done, cut_off, wrong = try_kills(Path(folder), arguments.kills, seed=arguments.seed)
    told = ", ".join(f"{kind} {count}" for kind, count in sorted(cut_off.items()))
    print(
        f"{arguments.kills} kills, {sum(cut_off.values())} in the middle of a step ({told}); {done} steps done; {len(wrong)} wrong"
    )
    for line in wrong:
        print(line)
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
