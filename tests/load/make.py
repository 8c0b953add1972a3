"""A made collection of any size, by seed: `python -m tests.load.make DIR --sherds 50000 --seed 1`.

Rows as intake, measuring, sorting and tagging leave them: lots, photographs with their light, sherds with outlines, figures,
evidence, tags, written records, judgements, a proposal for every lot, and the history of it all; vectors of both encoders of this
project; crops, masks and small pictures. Photographs and sherds repeat 64 drawn ones; everything that is asked of the catalogue
(names, keys, sizes, vectors, tags) is each sherd's own. Names are invented.
"""

from __future__ import annotations

import argparse
import hashlib
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from sqlalchemy import insert

from motifs.catalogue import Catalogue, derived_files
from motifs.catalogue import tables as t
from motifs.catalogue.content import content_key, light_json, outline_list, scale_columns
from motifs.workflows.describe import evidence_encoders
from motifs.workflows.vectors import comparanda_encoder, vector_key
from tests.load import rows
from tests.load.shapes import HEIGHT_PX, PER_TRAY, SCALE, WIDTH_PX, draw_trays, light_of, retagged, with_comment

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray
    from sqlalchemy import Connection

    from tests.load.shapes import DrawnTray

FIRST_LOT = 300
"""Sherds of the first lot: what a sorting table should bear without lag."""
VECTORS_A_FILE = 6250
FAMILIES = 400


def main() -> None:
    """Make it, and say how long that took."""
    parser = argparse.ArgumentParser(prog="python -m tests.load.make", description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="a folder that is not there yet")
    parser.add_argument("--sherds", type=int, default=50_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--no-files", action="store_true", help="no photographs, crops and small pictures")
    given = parser.parse_args()
    if given.folder.exists():
        parser.error(f"{given.folder} is there already; name another folder, or take it away first")
    began, used = time.monotonic(), time.process_time()
    made = make_collection(given.folder, given.sherds, given.seed, with_files=not given.no_files)
    print(
        f"{given.folder}: {made} sherds in {time.monotonic() - began:.0f} s ({time.process_time() - used:.0f} s of processor)"
    )


def make_collection(folder: Path, sherds: int, seed: int = 1, *, with_files: bool = True) -> int:
    """Make a collection folder; returns how many sherds it has. The same seed makes the same collection."""
    rng = np.random.default_rng(seed)
    trays = draw_trays(seed)
    with Catalogue.open(folder, create=True) as cat:
        with cat.transaction(by="setup"):
            connection = cat._work.connection
            maker = _Maker(connection, cat.folder if with_files else None, trays, rng)
            sizes = _lot_sizes(sherds, rng)
            connection.execute(insert(t.site), rows.sites())
            for number, size in enumerate(sizes, start=1):
                maker.add_lot(number, size)
        _save_vectors(cat, maker.keys, maker.families, seed)
    return len(maker.keys)


def _lot_sizes(sherds: int, rng: np.random.Generator) -> list[int]:
    """Sizes of lots, most of some dozens: the first of FIRST_LOT where there are so many."""
    sizes = [min(FIRST_LOT, sherds)]
    while sum(sizes) < sherds:
        drawn = int(np.clip(rng.lognormal(np.log(60), 0.6), 8, 400))
        sizes.append(min(drawn, sherds - sum(sizes)))
    return sizes


class _Maker:
    """Adds lots one after another, rows in bulk."""

    def __init__(
        self, connection: Connection, folder: Path | None, trays: tuple[DrawnTray, ...], rng: np.random.Generator
    ) -> None:
        self.connection, self.folder, self.trays, self.rng = connection, folder, trays, rng
        self.keys: dict[str, str] = {}  # content key by number
        self.families: list[int] = []
        self._photos = self._events = 0
        self._outlines = [[outline_list(sherd.outline_px) for sherd in tray.sherds] for tray in trays]

    def add_lot(self, number: int, size: int) -> None:
        """One lot with everything that is in it."""
        name = rows.lot_name(number)
        lot = rows.lot(number, name, size)
        photos, sherds = [], []
        for first in range(0, size, PER_TRAY):
            photo, tray = self._photo(number)
            photos.append(photo)
            sherds += self._sherds_on(
                photo, tray, name, first, min(PER_TRAY, size - first), len(self.keys) + len(sherds)
            )
        families = self.rng.integers(FAMILIES, size=4)[self.rng.integers(4, size=size)]
        self.keys |= {sherd["number"]: sherd["content_key"] for sherd in sherds}
        self.families += families.tolist()
        events = rows.events(lot, photos, sherds, self._events)
        self._events += len(events)
        added = {
            t.lot: [lot],
            t.photo: photos,
            t.sherd: sherds,
            t.measurement: rows.measurements(sherds, SCALE, self.rng),
            t.tag: rows.tags(sherds, families, self.rng),
            t.find_record: rows.records(sherds, self.rng),
            t.attribution: rows.attributions(sherds, self.rng),
            t.proposal: [rows.proposal(lot, sherds, self._events, self.rng)],
            t.event: events,
        }
        for table, many in added.items():
            if many:
                self.connection.execute(insert(table), many)

    def _photo(self, lot: int) -> tuple[dict[str, Any], DrawnTray]:
        self._photos += 1
        tray = self.trays[self._photos % len(self.trays)]
        original = with_comment(tray.jpeg, f"photograph {self._photos}".encode())
        digest = hashlib.sha256(original).hexdigest()
        stored_as = f"photos/{digest[:2]}/{digest}.jpg"
        if self.folder is not None:
            _write(self.folder / stored_as, original)
        photo = {
            "id": self._photos, "sha256": digest, "stored_as": stored_as, "size_bytes": len(original),
            "file_name": f"DSC_{self._photos:05d}.jpg", "lot_id": lot, "width_px": WIDTH_PX, "height_px": HEIGHT_PX,
            "light": light_json(light_of(self._photos)), "crumbs": 0, "warnings": [],
            **scale_columns(SCALE), **rows.MADE,
        }  # fmt: skip
        return photo, tray

    def _sherds_on(
        self, photo: dict[str, Any], tray: DrawnTray, lot: str, first: int, count: int, before: int
    ) -> Iterator[dict[str, Any]]:
        outlines = self._outlines[self._photos % len(self.trays)]
        for place in range(count):
            drawn = tray.sherds[place]
            key = content_key(photo, outlines[place])
            if self.folder is not None:
                self._write_files(key, place, tray)
            yield {
                "id": before + place + 1, "number": f"{lot}-{first + place + 1:03d}", "lot_id": photo["lot_id"],
                "photo_id": photo["id"], "outline_px": outlines[place], "area_mm2": drawn.area_mm2,
                "max_dimension_mm": drawn.max_dimension_mm,
                "look": "touches the edge of the photograph" if self.rng.random() < 0.02 else None,
                "state": "kept", "merged_into_id": None, "content_key": key, "rim_up_deg": None, "outline_by": None,
                **rows.MADE,
            }  # fmt: skip

    def _write_files(self, key: str, place: int, tray: DrawnTray) -> None:
        assert self.folder is not None
        drawn = tray.sherds[place]
        path = derived_files.crop_path(self.folder / "derived", key)
        _write(path, retagged(drawn.crop_png, key))
        _write(derived_files.mask_path(path), drawn.mask_png)
        _write(path.with_suffix(".small.webp"), drawn.small_webp)


_folders: set[Path] = set()


def _write(path: Path, content: bytes) -> None:
    if path.parent not in _folders:
        path.parent.mkdir(parents=True, exist_ok=True)
        _folders.add(path.parent)
    path.write_bytes(content)


def _save_vectors(cat: Catalogue, keys: dict[str, str], families: list[int], seed: int) -> None:
    """Unit vectors of both encoders: of the motif encoder around one centre a family, of the vessel encoder at random."""
    numbers = np.array(list(keys))
    shape = np.random.default_rng((seed, 77))
    motif = comparanda_encoder()
    centres = shape.normal(size=(FAMILIES, motif.dim)).astype(np.float32) * np.float32(0.7 / np.sqrt(motif.dim))
    for spec in (motif, *evidence_encoders()):
        folder = derived_files.tag_folder(cat.derived_folder, vector_key(spec))
        folder.mkdir(parents=True)
        for start in range(0, len(numbers), VECTORS_A_FILE):
            some = slice(start, start + VECTORS_A_FILE)
            own = centres[families[some]] if spec is motif else np.zeros(spec.dim, np.float32)
            vectors = _unit(
                own + shape.standard_normal((len(numbers[some]), spec.dim), np.float32) * 0.7 / spec.dim**0.5
            )
            part = derived_files.Segment(
                tuple(numbers[some].tolist()), tuple(keys[number] for number in numbers[some].tolist()), vectors
            )
            file = folder / f"{start // VECTORS_A_FILE + 1:06d}-{'0' * 12}.npz"
            file.write_bytes(derived_files.segment_bytes(part, vector_key(spec)))


def _unit(vectors: NDArray[Any]) -> NDArray[np.float32]:
    unit: NDArray[np.float32] = (vectors / np.linalg.norm(vectors, axis=1, keepdims=True)).astype(np.float32)
    return unit


if __name__ == "__main__":
    main()
