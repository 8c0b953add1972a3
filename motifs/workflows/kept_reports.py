"""Reports made from the page: kept under the collection's exports, and offered as long as nothing of them is stale or kept back.

A report that was made with restricted material unlocked is handed over and never kept, so that nobody else is offered it.
"""

from __future__ import annotations

import hashlib
import io
import json
import tempfile
import zipfile
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.catalogue.files import write_atomically
from motifs.catalogue.tags import MEASURED
from motifs.errors import UnknownName
from motifs.workflows.file_names import file_stem
from motifs.workflows.report import REDUCTION, write_report

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows import Progress

FOLDER = "reports"
MADE_AGAIN = (MEASURED,)
"""What the history says of measurements: they follow from the rest, and a report itself may make them."""
ZIP_TIME = (1980, 1, 1, 0, 0, 0)
"""Of every file in the archive, so that the same report is the same archive."""


@dataclass(frozen=True, slots=True)
class ReportMark:
    """What a kept report was made of.

    versions: of each lot's record when it was begun. gate: a sum of what was kept back then. made_at: UTC, ISO 8601.
    """

    lot: str | None
    site: str | None
    reduction: float
    by: str
    made_at: str
    versions: dict[str, int]
    gate: str
    sherds: int


@dataclass(frozen=True, slots=True)
class MadeReport:
    """A report to hand over. is_current: nothing was changed in its lots since. is_kept: it lies under the collection's exports."""

    mark: ReportMark
    pdf: bytes
    html: bytes
    is_current: bool
    is_kept: bool

    @property
    def stem(self) -> str:
        """Name of its files, without the ending."""
        return _stem(self.mark.lot, self.mark.site)

    @property
    def html_zip(self) -> bytes:
        """The HTML, which needs no other file, in an archive."""
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            entry = zipfile.ZipInfo(f"{self.stem}.html", ZIP_TIME)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, self.html)
        return stream.getvalue()


def keep_report(
    cat: Catalogue,
    *,
    lot: str | None = None,
    site: str | None = None,
    reduction: float = REDUCTION,
    by: str,
    progress: Progress | None = None,
) -> MadeReport:
    """Make the report of one lot or one site; keep it, unless restricted material is unlocked.

    Raises
    ------
    UnknownName, InputError, CollectionNotWritable
        As `write_report`.
    """
    mark = ReportMark(
        lot,
        site,
        reduction,
        by,
        datetime.now(UTC).isoformat(timespec="seconds"),
        _versions(cat, lot, site),
        _gate(cat),
        0,
    )
    with tempfile.TemporaryDirectory() as folder:
        written = write_report(cat, Path(folder), lot=lot, site=site, reduction=reduction, by=by, progress=progress)
        content = written.pdf.read_bytes(), written.html.read_bytes()
    mark = ReportMark(**{**asdict(mark), "sherds": written.sherds})
    if cat.is_unlocked:
        return MadeReport(mark, *content, is_current=True, is_kept=False)
    pdf, html, beside = _files(cat, lot, site)
    # The mark goes first and comes last: a pair of files without their mark is not offered.
    beside.unlink(missing_ok=True)
    write_atomically(pdf, content[0], is_lasting=True)
    write_atomically(html, content[1], is_lasting=True)
    write_atomically(beside, json.dumps(asdict(mark)).encode(), is_lasting=True)
    return MadeReport(mark, *content, is_current=True, is_kept=True)


def kept_report(cat: Catalogue, *, lot: str | None = None, site: str | None = None) -> MadeReport | None:
    """The report kept of a lot or a site; None where there is none, or where what is kept back was changed since.

    Raises
    ------
    UnknownName
        No such lot or site any more.
    """
    mark = report_mark(cat, lot=lot, site=site)
    if mark is None or mark.gate != _gate(cat):
        return None
    pdf, html, _ = _files(cat, lot, site)
    try:
        content = pdf.read_bytes(), html.read_bytes()
    except OSError:
        return None
    return MadeReport(mark, *content, is_current=is_current(cat, mark), is_kept=True)


def report_mark(cat: Catalogue, *, lot: str | None = None, site: str | None = None) -> ReportMark | None:
    """What the kept report of a lot or site was made of; None where there is none that can be read."""
    try:
        return ReportMark(**json.loads(_files(cat, lot, site)[2].read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def is_current(cat: Catalogue, mark: ReportMark) -> bool:
    """Whether nothing was changed in the lots of a report since; UnknownName where a site is gone."""
    return mark.versions == _versions(cat, mark.lot, mark.site)


def _versions(cat: Catalogue, lot: str | None, site: str | None) -> dict[str, int]:
    """Each lot of the report with the version of its record, measurements aside."""
    if lot is not None:
        return {lot: cat.version(lot, without=MADE_AGAIN)}
    lots = {one.name: cat.version(one.name, without=MADE_AGAIN) for one in cat.lots(site)}
    if not lots:
        raise UnknownName(f"site '{site}' has no lot in this collection; choose another site")
    return lots


def _gate(cat: Catalogue) -> str:
    """A sum of what is kept back now: of the restrictions, and of how many sherds they hide."""
    told = repr((sorted(one.restriction_id for one in cat.restrictions()), cat.withheld()))
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def _stem(lot: str | None, site: str | None) -> str:
    name = str(lot if lot is not None else site)
    return f"report {file_stem(name)}"


def _files(cat: Catalogue, lot: str | None, site: str | None) -> tuple[Path, Path, Path]:
    """PDF, HTML and mark; named by a sum of the name too, since two names may look alike to a file system."""
    kind, name = ("lot", lot) if lot is not None else ("site", site)
    short = hashlib.sha256(f"{kind} {name}".encode()).hexdigest()[:8]
    stem = f"{_stem(lot, site)} {short}"
    folder = cat.exports_folder / FOLDER
    return folder / f"{stem}.pdf", folder / f"{stem}.html", folder / f"{stem}.json"
