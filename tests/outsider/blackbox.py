"""The program as a black box: commands in, JSON out, found sherds matched to true ones."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.outsider.matching import Matched, match_outlines

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tests.outsider.truth import LotTruth

ROOT = Path(__file__).resolve().parents[2]


class CommandAbsentError(RuntimeError):
    """The program has no such command (yet)."""


class CommandFailedError(RuntimeError):
    """The program ended with an error, or its answer was not one JSON document."""


@dataclass
class Program:
    """Runs `python -m motifs --collection DIR ... --json`. is_warm: one long-lived process instead of one a command."""

    collection: Path
    is_warm: bool = False
    python: str = sys.executable
    seconds: dict[str, list[float]] = field(default_factory=dict)
    _worker: subprocess.Popen[str] | None = None

    def call(self, command: str, *arguments: str | int | float | Path) -> dict[str, Any]:
        """Run one command and give its JSON document.

        Raises
        ------
        CommandAbsentError, CommandFailedError
        """
        argv = ["--collection", str(self.collection), command, *map(str, arguments), "--json"]
        start = time.perf_counter()
        code, out, err = self._ask_worker(argv) if self.is_warm else self._run(argv)
        self.seconds.setdefault(command, []).append(time.perf_counter() - start)
        if code == 2 and ("invalid choice" in err or "No such command" in err):
            raise CommandAbsentError(command)
        if code:
            raise CommandFailedError(f"{command}: exit {code}: {err.strip()[-300:]}")
        try:
            document: dict[str, Any] = json.loads(out)
        except json.JSONDecodeError as reason:
            raise CommandFailedError(f"{command}: stdout is not one JSON document: {reason}: {out[:200]!r}") from reason
        return document

    def close(self) -> None:
        """End the long-lived process, if there is one."""
        if self._worker is not None and self._worker.stdin:
            self._worker.stdin.close()
            self._worker.wait(timeout=60)
            self._worker = None

    def _run(self, argv: list[str]) -> tuple[int, str, str]:
        done = subprocess.run(
            [self.python, "-m", "motifs", *argv], cwd=ROOT, capture_output=True, text=True, check=False
        )
        return done.returncode, done.stdout, done.stderr

    def _ask_worker(self, argv: list[str]) -> tuple[int, str, str]:
        if self._worker is None:
            command = [self.python, "-m", "tests.outsider.warm"]
            self._worker = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        if self._worker.stdin is None or self._worker.stdout is None:
            raise CommandFailedError("the long-lived process has no pipes")
        self._worker.stdin.write(json.dumps(argv) + "\n")
        self._worker.stdin.flush()
        line = self._worker.stdout.readline()
        if not line:
            raise CommandFailedError("the long-lived process died")
        answer = json.loads(line)
        return answer["code"], answer["out"], answer["err"]


@dataclass(frozen=True)
class TakenIn:
    """What intake made of a lot. key_of: true sherd of each catalogued sherd; matched and scale error by photo."""

    key_of: dict[str, str]
    catalogued: tuple[str, ...]
    matched: dict[str, Matched]
    scale_error: dict[str, float | None]
    area_error: tuple[float, ...]
    warnings: tuple[str, ...]
    readings: dict[str, dict[str, Any]]

    @property
    def number_of(self) -> dict[str, str]:
        """Catalogued sherd of each true one."""
        return {key: number for number, key in self.key_of.items()}


def fresh_collection(work: Path, name: str) -> Path:
    """An empty place for a collection below the work folder."""
    folder = work / "collections" / name
    if folder.exists():
        shutil.rmtree(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    return folder


def take_in(program: Program, lot: LotTruth, folder: Path, *, site: str | None = None) -> TakenIn:
    """Intake of all photographs of a lot in one command."""
    photos = [folder / photo.file for photo in lot.photos]
    options = ["--site", site] if site else []
    return match_intake(program.call("intake", *photos, "--lot", lot.lot, *options), lot)


def match_intake(document: dict[str, Any], lot: LotTruth) -> TakenIn:
    """Match an intake document with the truth, photo by photo."""
    by_file = {Path(photo["file"]).name: photo for photo in document["photos"]}
    key_of: dict[str, str] = {}
    matched: dict[str, Matched] = {}
    scale: dict[str, float | None] = {}
    areas: list[float] = []
    warnings: list[str] = []
    for photo in lot.photos:
        reading = by_file.get(photo.file, {"sherds": [], "mm_per_px": None, "warnings": ["no answer for this photo"]})
        pairs = match_outlines([s["outline_px"] for s in reading["sherds"]], [s.outline_px for s in photo.sherds])
        matched[photo.file] = pairs
        mm_per_px = reading["mm_per_px"]
        scale[photo.file] = None if mm_per_px is None else mm_per_px * photo.px_per_mm - 1
        warnings += [f"{photo.file}: {text}" for text in reading.get("warnings", [])]
        for found, true, _ in pairs.pairs:
            sherd = reading["sherds"][found]
            key_of[sherd["sherd"]] = photo.sherds[true].key
            if sherd.get("area_mm2") is not None:
                areas.append(sherd["area_mm2"] / photo.sherds[true].area_mm2 - 1)
    catalogued = tuple(s["sherd"] for reading in by_file.values() for s in reading["sherds"])
    return TakenIn(key_of, catalogued, matched, scale, tuple(areas), tuple(warnings), by_file)


@dataclass(frozen=True)
class Sorted:
    """A sorting reduced to sherds whose truth is known, in one order."""

    pots: tuple[str, ...]
    vessels: tuple[int | None, ...]
    support: tuple[float, ...]
    count: int
    count_range: tuple[int, int]
    question: tuple[str, str] | None


def sort_lot(program: Program, lot: LotTruth, taken: TakenIn) -> Sorted:
    """Run `sort` and reduce its answer."""
    return reduce_sorting(program.call("sort", lot.lot), lot, taken)


def reduce_sorting(document: dict[str, Any], lot: LotTruth, taken: TakenIn) -> Sorted:
    """Keep the sherds that were matched with a true one."""
    pot_of = lot.pot_of()
    rows = [row for row in document["assignments"] if row["sherd"] in taken.key_of]
    question = document.get("question")
    return Sorted(
        tuple(pot_of[taken.key_of[row["sherd"]]] for row in rows),
        tuple(row["vessel"] for row in rows),
        tuple(float(row["support"]) for row in rows),
        int(document["vessels"]),
        (int(document["vessels_range"][0]), int(document["vessels_range"][1])),
        (question["a"], question["b"]) if question else None,
    )


def answer_questions(
    program: Program, lot: LotTruth, taken: TakenIn, first: Sorted, answers: int
) -> tuple[Sorted, int]:
    """Answer the question of each sorting truthfully by `tell`, sort again; up to so many answers."""
    pot_of, now = lot.pot_of(), first
    for given in range(answers):
        pots = [pot_of.get(taken.key_of.get(sherd, "")) for sherd in now.question or ()]
        if len(pots) != 2 or None in pots:
            return now, given
        assert now.question is not None
        program.call("tell", lot.lot, "--same" if pots[0] == pots[1] else "--different", *now.question)
        now = sort_lot(program, lot, taken)
    return now, answers


def ranked_keys(document: dict[str, Any], key_of: dict[str, str], banned: Sequence[str] = ()) -> list[str]:
    """True keys in the order of a comparanda answer; sherds of no known truth keep their place as such."""
    rows = sorted(document["neighbours"], key=lambda row: row["rank"])
    keys = [key_of.get(row["sherd"], f"unknown:{row['sherd']}") for row in rows]
    barred = set(banned)
    return [key for key in keys if key not in barred]
