"""`intake`: photographs to catalogued sherds."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection, positive_number
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    from motifs.workflows.intake import TakenPhoto, TakenSherd

SUMMARY = "take photographs of one lot in: find, outline, measure and number every sherd"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("photos", nargs="+", type=Path, metavar="PHOTO", help="tray photograph (JPEG, PNG, TIFF)")
    parser.add_argument("--lot", required=True, metavar="LOT", help="the lot, as on the bag; made if it is not there")
    parser.add_argument("--site", metavar="SITE", help="the lot's site; made if it is not there")
    parser.add_argument(
        "--px-per-mm", type=positive_number, metavar="F", help="scale of the photographs, where no scale bar tells it"
    )
    parser.add_argument(
        "--bar-mm",
        type=positive_number,
        metavar="MM",
        help="length of the scale bar, where it is neither 50 nor 100 mm",
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Read every photograph first, then catalogue all of them or none."""
    from motifs.catalogue import check_name
    from motifs.workflows.intake import catalogue_photos, read_photos

    check_name(arguments.lot, "lot")
    if arguments.site is not None:
        check_name(arguments.site, "site")
    with progress_bars() as progress:
        readings = read_photos(
            arguments.photos,
            known=_known(arguments.collection),
            px_per_mm=arguments.px_per_mm,
            bar_mm=arguments.bar_mm,
            progress=progress,
        )
        with collection(arguments.collection, create=True) as cat:
            taken = catalogue_photos(
                cat, readings, lot=arguments.lot, site=arguments.site, by=by_name(arguments), progress=progress
            )
    return Answer(
        document={"lot": arguments.lot, "photos": [_photo_document(photo) for photo in taken]},
        lines=_lines(taken),
        warnings=[f"{photo.file}: {warning}" for photo in taken for warning in photo.warnings],
    )


def _known(folder: Path) -> frozenset[str]:
    """What the collection has; a collection that cannot be used is refused here, before any photograph is read."""
    from motifs.workflows.intake import known_photos

    if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
        return frozenset()
    with collection(folder) as cat:
        return known_photos(cat)


def _photo_document(photo: TakenPhoto) -> dict[str, object]:
    return {
        "file": photo.file,
        "photo": photo.photo_id,
        "lot": photo.lot,
        "width_px": photo.width_px,
        "height_px": photo.height_px,
        "mm_per_px": photo.mm_per_px,
        "sherds": [_sherd_document(sherd) for sherd in photo.sherds],
        "crumbs": photo.crumbs,
        "already_catalogued": photo.is_known,
        "warnings": list(photo.warnings),
    }


def _sherd_document(sherd: TakenSherd) -> dict[str, object]:
    return {
        "sherd": sherd.sherd,
        "outline_px": [[round(float(x), 2), round(float(y), 2)] for x, y in sherd.outline_px],
        "area_mm2": sherd.area_mm2,
        "max_dimension_mm": sherd.max_dimension_mm,
        "look": sherd.look,
    }


def _lines(taken: Sequence[TakenPhoto]) -> list[str]:
    head = ["photo", "lot", "sherds", "crumbs", "mm/px", "look at"]
    rows = []
    for photo in taken:
        scale = "no scale" if photo.mm_per_px is None else f"{photo.mm_per_px:.4f}"
        look = ", ".join(f"{sherd.sherd} ({sherd.look})" for sherd in photo.sherds if sherd.look)
        rows.append([photo.file, photo.lot, len(photo.sherds), photo.crumbs, scale, look])
    return table(head, rows)
