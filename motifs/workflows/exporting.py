"""A collection in open formats, in one bag (RFC 8493): tables, originals, crops, plates, pages; and back into an empty collection."""

from __future__ import annotations

import hashlib
import logging
import re
import shutil
import tempfile
import unicodedata
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import bagit
import numpy as np
from PIL import Image
from reportlab.graphics import renderPDF
from reportlab.lib.units import mm

from motifs.catalogue.content import content_key
from motifs.catalogue.files import PHOTOS, sha256_of
from motifs.design.skos import to_turtle
from motifs.errors import CollectionDamaged, CollectionNotWritable, InputError
from motifs.workflows.crops import crops_of, store_crops
from motifs.workflows.drawings import svg
from motifs.workflows.package_out import read_tables, write_tables
from motifs.workflows.places import original_out
from motifs.workflows.plates import cut_pieces, plates
from motifs.workflows.restricting import NOTICE
from motifs.workflows.sherd_cards import cards_of, catalogue_page, write_dublin_core, write_manifest
from motifs.workflows.vocabulary import terms_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue, SherdRow, TableRows
    from motifs.workflows import Progress

REDUCTIONS = (1, 2, 3)
BASE_URL = "http://localhost/collection"
CROPS, PLATES = "crops", "plates"
_NEW = ".new-"


@dataclass(frozen=True, slots=True)
class Exported:
    """What was exported. withheld: sherds that restrictions keep back; cleared: originals that lost their place or were covered."""

    folder: Path
    sherds: int
    photos: int
    plates: int
    withheld: int
    cleared: int
    files: int


@dataclass(frozen=True, slots=True)
class TakenBack:
    """What a bag brought into an empty collection."""

    lots: int
    photos: int
    sherds: int


def export_collection(
    cat: Catalogue,
    folder: Path,
    *,
    exact_places: bool = False,
    with_plates: bool = True,
    base_url: str = BASE_URL,
    by: str = "",
    progress: Progress | None = None,
) -> Exported:
    """Write the collection as a bag; all of it or nothing.

    Parameters
    ----------
    folder : to be made; must not be there yet.
    exact_places : coordinates and photographs' places as they are; otherwise to about 10 km, and taken out of photographs.
    with_plates : also the plates, which take longest.
    base_url : where the crops will be served, for the IIIF manifest.
    by : who exports, for the bag's own record.

    Raises
    ------
    InputError
        The folder is there, or lies in the collection's own; the address is none.
    CollectionNotWritable, CollectionDamaged
        No permission or space there; an original is gone.
    """
    folder = folder.expanduser().absolute()
    _check_target(cat, folder, base_url)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=_NEW, dir=folder.parent) as work:
            made = _write_all(cat, Path(work) / "bag", exact_places, with_plates, base_url, by, progress)
            (Path(work) / "bag").rename(folder)
    except OSError as problem:
        reason = (problem.strerror or "refused").lower()
        raise CollectionNotWritable(
            f"'{folder}' cannot be written ({reason}); free it or name another folder"
        ) from problem
    return Exported(folder, **made)


def _check_target(cat: Catalogue, folder: Path, base_url: str) -> None:
    if folder.exists():
        raise InputError(f"'{folder}' is there already and is not overwritten; name another folder")
    own = [part.resolve() for part in (cat.photos_folder, cat.derived_folder)]
    if any(part in folder.resolve().parents for part in own):
        raise InputError(f"'{folder}' lies among the collection's own files; name a folder somewhere else")
    if not re.fullmatch(r"https?://[^\s?#<>\"]+", base_url):
        raise InputError(f"'{base_url}' is no address of the web; it begins with http:// or https://")


def _write_all(
    cat: Catalogue, bag: Path, exact_places: bool, with_plates: bool, base_url: str, by: str, progress: Progress | None
) -> dict[str, int]:
    bag.mkdir()
    title = f"Collection {cat.folder.name}"
    tables, sherds, withheld = cat.all_rows(), cat.sherds(), cat.withheld()
    told, renamed = _write_originals(cat, bag, tables, exact_places=exact_places)
    write_tables(bag, told, schema=cat.schema, title=title, renamed=renamed, exact_places=exact_places)
    crops = _write_crops(cat, bag / CROPS, sherds, progress)
    cards = cards_of(cat, sherds, crops, exact_places=exact_places)
    note = f"{withheld} restricted sherds are left out. {NOTICE}" if withheld else NOTICE
    write_dublin_core(cards, bag / "dublin_core.csv")
    write_manifest(cards, bag / "manifest.json", base_url=base_url, title=title)
    (bag / "index.html").write_text(catalogue_page(cards, title=title, note=note), encoding="utf-8")
    (bag / "vocabulary.ttl").write_text(to_turtle(terms_of(cat)), encoding="utf-8")
    drawn = _write_plates(cat, bag / PLATES, sherds, title) if with_plates and sherds else 0
    (bag / "READ-ME.txt").write_text(_read_me(title, note), encoding="utf-8")
    files = sum(path.is_file() for path in bag.rglob("*"))
    _make_bag(bag, title, by)
    return {"sherds": len(sherds), "photos": len(cat.photos()), "plates": drawn, "withheld": withheld,
            "cleared": sum(old.startswith("photos/") for old in renamed), "files": files}  # fmt: skip


def _make_bag(bag: Path, title: str, by: str) -> None:
    record = {"External-Description": title, "Contact-Name": by or "not given"}
    logging.getLogger("bagit").setLevel(logging.WARNING)
    bagit.make_bag(str(bag), record, checksums=["sha256"])


def _write_originals(
    cat: Catalogue, bag: Path, tables: Sequence[TableRows], *, exact_places: bool
) -> tuple[list[TableRows], dict[str, str]]:
    """Write the originals; return the tables, and the hashes, places and keys that changed with originals that were cleared."""
    rows = {table.name: table.dicts() for table in tables}
    renamed: dict[str, str] = {}
    for row in rows["photo"]:
        photo = cat.photo(row["id"])
        _check_unaltered(cat.photo_file(photo), photo.file_name, row["sha256"])
        if exact_places and not cat.covered_outlines(photo.photo_id):
            _copy(cat.photo_file(photo), bag / row["stored_as"])
            continue
        out = original_out(cat, photo)
        sha256 = hashlib.sha256(out.content).hexdigest()
        stored_as = f"{PHOTOS}/{sha256[:2]}/{sha256}{out.suffix}" if out.why else row["stored_as"]
        (bag / stored_as).parent.mkdir(parents=True, exist_ok=True)
        (bag / stored_as).write_bytes(out.content)
        if out.why:
            renamed |= {row["stored_as"]: stored_as, row["sha256"]: sha256}
            row |= {"sha256": sha256, "stored_as": stored_as, "size_bytes": len(out.content)}
            members = [sherd for sherd in rows["sherd"] if sherd["photo_id"] == row["id"]]
            renamed |= {sherd["content_key"]: content_key(row, sherd["outline_px"]) for sherd in members}
    return [_with_rows(table, rows["photo"]) if table.name == "photo" else table for table in tables], renamed


def _check_unaltered(file: Path, name: str, sha256: str) -> None:
    if sha256_of(file) != sha256:
        raise CollectionDamaged(
            f"the original of photo '{name}' was altered since it came in ({file}); bring it back from a backup, then export"
        )


def _with_rows(table: TableRows, rows: Sequence[dict[str, Any]]) -> TableRows:
    return replace(table, rows=tuple(tuple(row[column.name] for column in table.columns) for row in rows))


def _copy(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(source, target)


def _write_crops(
    cat: Catalogue, folder: Path, sherds: Sequence[SherdRow], progress: Progress | None
) -> dict[str, tuple[str, tuple[int, int], float | None]]:
    """Write every sherd cut out on nothing as PNG; return (file in the package, width and height px, mm/px) by number."""
    folder.mkdir()
    written = {}
    for place, (sherd, crop) in enumerate(crops_of(cat, sherds), start=1):
        name = f"{place:05d}-{_file_word(sherd.number)}.png"
        seen = np.where(crop.mask[..., None], crop.image, np.uint8(0))
        opaque = crop.mask.astype(np.uint8) * 255
        dots_an_inch = crop.px_per_mm * 25.4
        Image.fromarray(np.dstack([seen, opaque])).save(folder / name, "PNG", dpi=(dots_an_inch, dots_an_inch))
        mm_per_px = 1.0 / crop.px_per_mm if crop.is_scaled else None
        written[sherd.number] = (f"{CROPS}/{name}", (crop.mask.shape[1], crop.mask.shape[0]), mm_per_px)
        if progress is not None:
            progress("writing crops", place, len(sherds))
    return written


def _file_word(number: str) -> str:
    """A catalogue number as part of a file name that every system takes; the table says which number it is."""
    plain = unicodedata.normalize("NFKD", number).encode("ascii", "ignore").decode()
    return re.sub(r"[^A-Za-z0-9.-]+", "_", plain).strip("._-")[:40] or "sherd"


def _write_plates(cat: Catalogue, folder: Path, sherds: Sequence[SherdRow], title: str) -> int:
    """Write plates at 1:1, 1:2 and 1:3 as PDF and SVG of true size, sherds in catalogue order."""
    folder.mkdir()
    count = 0
    for reduction in REDUCTIONS:
        with tempfile.TemporaryDirectory(prefix=_NEW) as work:
            pieces = list(cut_pieces(cat, sherds, Path(work), reduction=reduction).values())
            for page, figure in enumerate(plates(pieces, title, reduction=reduction), start=1):
                name = folder / f"plate-1to{reduction}-{page:03d}"
                width_mm = figure.drawing.width / mm
                Path(f"{name}.svg").write_text(svg(figure, width=f"{width_mm:.2f}mm"), encoding="utf-8")
                renderPDF.drawToFile(figure.drawing, f"{name}.pdf", title, showBoundary=False, invariant=1)
                count += 1
    return count


def _read_me(title: str, note: str) -> str:
    return (
        f"{title}\n\nThis folder is a bag (RFC 8493): manifest-sha256.txt lists every file with its sum.\n"
        "Open data/index.html in any browser to look at the sherds.\n"
        "data/datapackage.json describes the tables in data/tables (UTF-8 CSV); its description says how to read them.\n"
        "data/photos: the photographs as they came in; data/crops: sherds cut out, 10 px a millimetre where there is a scale.\n"
        "data/plates: sherds at 1:1, 1:2 and 1:3; print them without fitting to the page, and check the bar with a ruler.\n"
        "data/manifest.json: IIIF Presentation 3.0. data/dublin_core.csv: Dublin Core 1.1. data/vocabulary.ttl: SKOS.\n"
        f"The collection comes back with: python -m motifs --collection NEW import THIS-FOLDER\n\n{note}\n"
    )


def is_bag(folder: Path) -> bool:
    """Whether a folder says that it is a bag."""
    return (folder / "bagit.txt").is_file()


def take_in_bag(cat: Catalogue, folder: Path, *, by: str) -> TakenBack:
    """Fill an empty collection from a bag that `export_collection` wrote: every row and original as it was.

    Raises
    ------
    InputError
        No such bag, a file of it is missing or altered, or it is of a newer version.
    CollectionError
        The collection is not empty.
    """
    _validate(folder)
    tables = read_tables(folder / "data", newest=cat.schema)
    with cat.transaction(by=by):
        cat.restore_rows(tables, lambda stored_as: _original(folder / "data" / stored_as, stored_as))
        whole = cat.seeing_all()
        store_crops(whole, whole.sherds())
    return TakenBack(len(whole.lots()), len(whole.photos()), len(whole.sherds()))


def _validate(folder: Path) -> None:
    for path in folder.rglob("*"):
        if path.is_symlink():
            raise InputError(f"'{folder}' holds links, which point out of the bag; export the collection again")
        if not (path.is_file() or path.is_dir()):
            raise InputError(f"'{folder}' holds '{path.name}', which is no file; export the collection again")
    if (folder / "fetch.txt").exists():
        raise InputError(f"'{folder}' leaves files to be fetched from elsewhere, which is not done; export it whole")
    try:
        bagit.Bag(str(folder)).validate()
    except bagit.BagError as wrong:
        first = " ".join(str(wrong).split())[:200]
        raise InputError(f"'{folder}' is no whole bag ({first}); copy it again from where it came") from wrong


def _original(path: Path, stored_as: str) -> bytes:
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError(f"'{stored_as}' is missing in the bag; export the collection again") from error
    if hashlib.sha256(content).hexdigest() not in stored_as:
        raise InputError(f"'{stored_as}' is not what its name says; export the collection again")
    return content
