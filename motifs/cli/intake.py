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
    parser.add_argument(
        "photos", nargs="*", type=Path, metavar="PHOTO", help="tray photograph (JPEG, PNG, TIFF, HEIC, camera raw)"
    )
    parser.add_argument(
        "--lot",
        metavar="LOT",
        help="the lot, as on the bag; made if it is not there; may be left out where a photo mat's code names it",
    )
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
    parser.add_argument(
        "--mat", metavar="SIZE", help="take nothing in: make the photo mat, A4 or A3, for --lot and --site, as a PDF"
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="where the photo mat goes, with --mat")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Read every photograph first, then catalogue all of them or none."""
    from motifs.catalogue import check_name
    from motifs.workflows.intake import catalogue_photos, read_photos
    from motifs.workflows.mat import settle_lot

    if arguments.mat is not None or arguments.out is not None:
        return _mat(arguments)
    if arguments.lot is not None:
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
        readings, lot, site = settle_lot(readings, lot=arguments.lot, site=arguments.site)
        with collection(arguments.collection, create=True) as cat:
            taken = catalogue_photos(cat, readings, lot=lot, site=site, by=by_name(arguments), progress=progress)
    return Answer(
        document={"lot": lot, "site": site, "photos": [_photo_document(photo) for photo in taken]},
        lines=_lines(taken),
        warnings=[f"{photo.file}: {warning}" for photo in taken for warning in photo.warnings],
    )


def _mat(arguments: argparse.Namespace) -> Answer:
    """Make the photo mat instead of taking photographs in."""
    from motifs.errors import InputError
    from motifs.workflows.mat import print_mat

    if arguments.mat is None or arguments.out is None or arguments.photos:
        raise InputError("the photo mat takes a size and a file, and no photograph: intake --mat A4 --out mat.pdf")
    print_mat(arguments.mat, arguments.out, lot=arguments.lot, site=arguments.site)
    document = {"mat": arguments.mat.upper(), "file": str(arguments.out), "lot": arguments.lot, "site": arguments.site}
    return Answer(
        document=document,
        lines=[f"{arguments.out}: print it at 100 %, and check its bar with a ruler: it must be 100 mm long."],
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
        "mm_per_px_sd": photo.mm_per_px_sd,
        "scale_from": photo.scale_from,
        "light_from": photo.light_from,
        "light_de": photo.light_de,
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
        "area_mm2_sd": sherd.area_mm2_sd,
        "max_dimension_mm": sherd.max_dimension_mm,
        "max_dimension_mm_sd": sherd.max_dimension_mm_sd,
        "look": sherd.look,
    }


def _lines(taken: Sequence[TakenPhoto]) -> list[str]:
    from motifs.imaging.standpoint import height_note

    head = ["photo", "lot", "sherds", "crumbs", "mm/px", "look at"]
    rows = []
    for photo in taken:
        scale = "no scale" if photo.mm_per_px is None else f"{photo.mm_per_px:.4f} ± {photo.mm_per_px_sd or 0:.4f}"
        look = ", ".join(f"{sherd.sherd} ({sherd.look})" for sherd in photo.sherds if sherd.look)
        rows.append([photo.file, photo.lot, len(photo.sherds), photo.crumbs, scale, look])
    note = [height_note()] if any(photo.mm_per_px is not None for photo in taken) else []
    return [*table(head, rows), *note]
