"""The whole collection as one ZIP file to save from a browser: the same bag that an export writes."""

from __future__ import annotations

import io
import tempfile
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from motifs.errors import InputError
from motifs.workflows.exporting import export_collection

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows import Progress
    from motifs.workflows.exporting import Exported

MOST_SHERDS: Final = 2000
"""Larger collections do not go through a browser's memory; the command writes them into a folder."""
AS_IT_IS: Final = frozenset({".jpg", ".jpeg", ".png", ".webp", ".pdf"})
"""Files that are packed already."""


@dataclass(frozen=True, slots=True)
class ZippedExport:
    """content: the ZIP file, with one folder in it. withheld: sherds that are kept back and were left out."""

    content: bytes
    name: str
    sherds: int
    photos: int
    withheld: int


def zipped_export(
    cat: Catalogue, *, with_plates: bool = False, by: str, progress: Progress | None = None
) -> ZippedExport:
    """Export into a scratch folder and pack it; nothing is left of it there, also where it is stopped.

    Raises
    ------
    InputError
        No sherd yet, or more than MOST_SHERDS.
    CollectionNotWritable, CollectionDamaged
        As `export_collection`.
    """
    sherds = sum(lot.sherds for lot in cat.lots())
    if not sherds:
        raise InputError("there is nothing to write out yet; add photographs first")
    if sherds > MOST_SHERDS:
        raise InputError(
            f"{sherds} sherds are too many for a browser (at most {MOST_SHERDS}); use the command export, which writes a folder"
        )
    name = f"{cat.folder.name} export"
    with tempfile.TemporaryDirectory() as scratch:
        bag = Path(scratch) / "bag"
        made = export_collection(cat, bag, with_plates=with_plates, by=by, progress=progress)
        return _packed(bag, name, made, progress)


def _packed(bag: Path, name: str, made: Exported, progress: Progress | None) -> ZippedExport:
    files = sorted(file for file in bag.rglob("*") if file.is_file())
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for done, file in enumerate(files, start=1):
            how = zipfile.ZIP_STORED if file.suffix.lower() in AS_IT_IS else zipfile.ZIP_DEFLATED
            archive.write(file, f"{name}/{file.relative_to(bag).as_posix()}", compress_type=how)
            if progress is not None:
                progress("packing", done, len(files))
    return ZippedExport(stream.getvalue(), f"{name}.zip", made.sherds, made.photos, made.withheld)
