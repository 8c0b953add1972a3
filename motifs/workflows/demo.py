"""The whole job on the demo photographs that come with the program."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.errors import InputError
from motifs.workflows.pipeline import LotRun, run_comparanda, run_lot
from motifs.workflows.sheets import comparanda_sheet, outline_sheets, sorting_sheet

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows import Progress
    from motifs.workflows.comparanda import Comparanda

DEMO_FOLDER = Path(__file__).resolve().parents[2] / "reference_images_demo"
PHOTO_SUFFIXES = (".jpg", ".jpeg", ".png", ".tif", ".tiff")


@dataclass(frozen=True, slots=True)
class DemoLot:
    """One lot of the demo folder. photos: in order of name."""

    lot: str
    site: str
    photos: tuple[Path, ...]


@dataclass(frozen=True, slots=True)
class DemoRun:
    """What the demo made. pictures: files to look at, under the collection's exports."""

    lots: tuple[LotRun, ...]
    comparanda: tuple[Comparanda, ...]
    pictures: tuple[Path, ...]


def demo_lots(folder: Path = DEMO_FOLDER) -> tuple[DemoLot, ...]:
    """Lots of a folder laid out as SITE/LOT/photographs.

    Raises
    ------
    InputError
        No photographs there.
    """
    lots = []
    for lot in sorted(path for path in folder.glob("*/*") if path.is_dir()):
        photos = tuple(sorted(path for path in lot.iterdir() if path.suffix.lower() in PHOTO_SUFFIXES))
        if photos:
            lots.append(DemoLot(lot.name, lot.parent.name, photos))
    if not lots:
        raise InputError(f"no photographs in {folder}; the demo wants SITE/LOT/*.jpg there; restore the folder from the project")
    return tuple(lots)


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
        raise InputError(f"{cat.folder} holds other lots ('{strangers[0]}'); give the demo a folder of its own with --collection")
    runs = tuple(run_lot(cat, lot.photos, lot=lot.lot, site=lot.site, by=by, progress=progress) for lot in lots)
    found = tuple(near for lot in lots if (near := run_comparanda(cat, lot.lot, by=by, progress=progress)) is not None)
    return DemoRun(runs, found, _pictures(cat, runs, found))


def _pictures(cat: Catalogue, runs: tuple[LotRun, ...], found: tuple[Comparanda, ...]) -> tuple[Path, ...]:
    pictures: list[Path] = []
    for run in runs:
        pictures.extend(outline_sheets(cat, run.sorting.lot, sorting=run.sorting))
        pictures.append(sorting_sheet(cat, run.sorting))
    pictures.extend(comparanda_sheet(cat, near) for near in found)
    return tuple(pictures)
