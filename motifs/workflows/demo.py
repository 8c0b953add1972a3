"""The whole job on the demo photographs that come with the program."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from motifs.errors import InputError
from motifs.workflows.marking import LotMark, mark_lot
from motifs.workflows.pipeline import LotRun, run_comparanda, run_lot
from motifs.workflows.sheets import comparanda_sheet, outline_sheets, sorting_sheet

if TYPE_CHECKING:
    from collections.abc import Mapping

    from motifs.catalogue import Catalogue
    from motifs.workflows import Progress
    from motifs.workflows.comparanda import Comparanda

DEMO_FOLDER = Path(__file__).resolve().parents[2] / "reference_images_demo"
LISTING = "truth.json"
"""Beside the photographs: lot and site of each, and the answer, which only `marks` looks at."""


@dataclass(frozen=True, slots=True)
class DemoLot:
    """One lot of the demo folder. answer: as `marking.mark_lot` reads it."""

    lot: str
    site: str
    photos: tuple[Path, ...]
    answer: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class DemoRun:
    """What the demo made. marks: each lot against its answer. pictures: files under the collection's exports."""

    lots: tuple[LotRun, ...]
    marks: tuple[LotMark, ...]
    comparanda: tuple[Comparanda, ...]
    pictures: tuple[Path, ...]


def demo_lots(folder: Path = DEMO_FOLDER) -> tuple[DemoLot, ...]:
    """Lots of the demo folder, as its listing has them.

    Raises
    ------
    InputError
        No listing there, or it is not one.
    """
    try:
        listing = json.loads((folder / LISTING).read_text(encoding="utf-8"))
        lots = tuple(_demo_lot(folder, entry) for entry in listing["lots"])
    except (OSError, ValueError, KeyError, TypeError) as reason:
        raise InputError(f"no demo in {folder} ({LISTING}: {reason}); restore the folder from the project") from reason
    return lots


def _demo_lot(folder: Path, entry: Mapping[str, Any]) -> DemoLot:
    return DemoLot(entry["lot"], entry["site"], tuple(folder / photo["file"] for photo in entry["photos"]), entry)


def run_demo(cat: Catalogue, folder: Path = DEMO_FOLDER, *, by: str, progress: Progress | None = None) -> DemoRun:
    """Take in, describe and sort every lot, look for comparanda, and draw sheets to look at.

    Run again on the same collection it takes nothing in twice.

    Raises
    ------
    InputError
        The collection holds other lots: the demo does not mix with real work.
    """
    lots = demo_lots(folder)
    strangers = sorted({lot.name for lot in cat.lots()} - {lot.lot for lot in lots})
    if strangers:
        raise InputError(
            f"{cat.folder} holds other lots ('{strangers[0]}'); give the demo a folder of its own with --collection"
        )
    runs = tuple(run_lot(cat, lot.photos, lot=lot.lot, site=lot.site, by=by, progress=progress) for lot in lots)
    found = tuple(near for lot in lots if (near := run_comparanda(cat, lot.lot, by=by, progress=progress)) is not None)
    marks = tuple(mark_lot(cat, run.sorting, lot.answer) for run, lot in zip(runs, lots, strict=True))
    return DemoRun(runs, marks, found, _pictures(cat, runs, found))


def _pictures(cat: Catalogue, runs: tuple[LotRun, ...], found: tuple[Comparanda, ...]) -> tuple[Path, ...]:
    pictures: list[Path] = []
    for run in runs:
        pictures.extend(outline_sheets(cat, run.sorting.lot, sorting=run.sorting))
        pictures.append(sorting_sheet(cat, run.sorting))
    pictures.extend(comparanda_sheet(cat, near) for near in found)
    return tuple(pictures)
