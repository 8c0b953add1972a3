"""How long a report takes once everything is encoded: ``python -m motifs.workflows.report_benchmark [SHERDS]``.

Beside it stands what the pictures alone take: every crop read from its file and written as JPEG with Pillow.
"""

from __future__ import annotations

import io
import sys
import tempfile
import time
from pathlib import Path

from PIL import Image

from motifs.catalogue import Catalogue
from motifs.practice import make_lot
from motifs.practice.lots import write_photos
from motifs.workflows.crops import crops_of, store_crops
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.report import write_report
from motifs.workflows.sort import sort_lot
from motifs.workflows.vectors import comparanda_encoder, ensure_vectors

LOT, SITE, BY = "T-1", "Thornwick Mere", "benchmark"


def main(sherds: int = 200) -> None:
    """Render a lot, take it in, encode and sort it, then time the report (processor time)."""
    with tempfile.TemporaryDirectory() as scratch, Catalogue.open(Path(scratch) / "c", create=True) as cat:
        photos = write_photos(Path(scratch) / "photos", make_lot(7, 4, 0.3, sherds=round(sherds * 1.05)).photos)
        catalogue_photos(cat, read_photos(photos), lot=LOT, site=SITE, by=BY)
        rows = cat.sherds(LOT)
        with cat.transaction(by=BY):
            store_crops(cat, rows)
        ensure_vectors(cat, comparanda_encoder(), rows, by=BY)
        sort_lot(cat, LOT, by=BY)
        started = time.process_time()
        write_report(cat, Path(scratch) / "out", lot=LOT, by=BY)
        report_s = time.process_time() - started
        started = time.process_time()
        for _, crop in crops_of(cat, rows):
            Image.fromarray(crop.image).save(io.BytesIO(), "JPEG", quality=88)
        pictures_s = time.process_time() - started
    words = f"report of {len(rows)} sherds {report_s:.2f} s of processor time"
    print(f"{words}, {report_s / pictures_s:.1f} x its crops read and written")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]))
