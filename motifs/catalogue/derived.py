"""Crops, measurements and vectors: rebuildable, and valid only for the content key they were made under."""

from __future__ import annotations

import uuid
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import numpy as np
from sqlalchemy import delete, insert, select

from motifs.catalogue import derived_files as files
from motifs.catalogue import tables as t
from motifs.catalogue.lookup import find_sherd, ids_and_keys
from motifs.catalogue.rows import Measurement
from motifs.catalogue.sherds import Sherds
from motifs.catalogue.store import Edit
from motifs.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from motifs.records import SherdCrop

MAX_SEGMENTS = 16
"""More files than this for one encoder are joined into one."""


class Derived(Sherds):
    """What is made from photographs and outlines."""

    def save_crop(self, number: str, crop: SherdCrop) -> Path:
        """Keep crop and mask as PNG under derived/.

        Returns
        -------
        Path
            Of the crop's image.

        Raises
        ------
        UnknownName
            No such sherd.
        InputError
            The mask is not of the image's size.
        """
        if crop.image.shape != (*crop.mask.shape, 3):
            raise InputError(f"crop of sherd '{number}': image and mask differ in size; cut it again")
        key = find_sherd(self._work.connection, number)["content_key"]
        path = files.crop_path(self.derived_folder, key)
        image, mask = files.crop_png(crop, key)
        # The mask first: where there is an image, there is its mask.
        self._work.journal.write(files.mask_path(path), mask, is_lasting=False)
        self._work.journal.write(path, image, is_lasting=False)
        return path

    def crop(self, number: str) -> SherdCrop | None:
        """Return the crop saved for the sherd's present outline, scale and light; None: cut it again.

        A damaged file counts as none. UnknownName for the sherd.
        """
        key = self.sherd(number).content_key
        try:
            return files.read_crop(files.crop_path(self.derived_folder, key), key)
        except files.DAMAGE:
            return None

    def crop_file(self, number: str) -> Path | None:
        """Return the PNG of the crop, to show, or None; UnknownName for the sherd."""
        path = files.crop_path(self.derived_folder, self.sherd(number).content_key)
        return path if path.is_file() else None

    def save_measurements(self, measured: Mapping[str, Mapping[str, Measurement]]) -> None:
        """Keep what was measured on sherds as they are now; a name measured before is replaced.

        Parameters
        ----------
        measured
            By sherd number, then by name (the name carries the unit).

        Raises
        ------
        UnknownName
            No such sherd.
        ValueError
            A value is no JSON (NaN, infinity).
        """
        connection = self._work.connection
        counts: dict[int, int] = {}
        for number, by_name in measured.items():
            sherd = find_sherd(connection, number)
            here = {"sherd_id": sherd["id"], "content_key": sherd["content_key"]}
            connection.execute(
                delete(t.measurement).where(
                    t.measurement.c.sherd_id == sherd["id"],
                    t.measurement.c.content_key == sherd["content_key"],
                    t.measurement.c.name.in_(list(by_name)),
                )
            )
            rows = [{**here, "name": name, "value": m.value, "sd": m.sd} for name, m in by_name.items()]
            if rows:
                connection.execute(insert(t.measurement), [{**row, **self._work.made()} for row in rows])
                counts[sherd["lot_id"]] = counts.get(sherd["lot_id"], 0) + 1
        for lot_id, count in counts.items():
            edit = Edit(self._work)
            edit.mention(t.lot, lot_id, {}, {"sherds_measured": count})
            edit.log("measured", lot_id, "1 sherd" if count == 1 else f"{count} sherds", is_undoable=False)

    def measurements(self, number: str) -> dict[str, Measurement]:
        """Return what is known of the sherd as it is now, by name; UnknownName for the sherd."""
        return self.measurements_of([number])[number]

    def measurements_of(self, numbers: Iterable[str]) -> dict[str, dict[str, Measurement]]:
        """Return the measurements of many sherds; every number asked for is in the answer."""
        with self._reading() as connection:
            wanted = ids_and_keys(connection, numbers)
            by_id = {row_id: number for number, (row_id, _) in wanted.items()}
            found: dict[str, dict[str, Measurement]] = {number: {} for number in wanted}
            query = (
                select(t.measurement)
                .join(t.sherd)
                .where(t.measurement.c.content_key == t.sherd.c.content_key)
                .order_by(t.measurement.c.name)
            )
            if len(by_id) <= 500:
                query = query.where(t.measurement.c.sherd_id.in_(list(by_id)))
            for row in connection.execute(query):
                if row.sherd_id in by_id:
                    found[by_id[row.sherd_id]][row.name] = Measurement(row.value, row.sd)
        return found

    def save_vectors(self, encoder_tag: str, vectors: Mapping[str, NDArray[np.float32]]) -> None:
        """Keep vectors of sherds as they are now.

        Parameters
        ----------
        encoder_tag
            Which encoder made them; the vectors of another one are never mixed in.
        vectors
            By sherd number, (dim,) each.

        Raises
        ------
        UnknownName
            No such sherd.
        InputError
            An empty tag; another dim than the tag's vectors have; not finite.
        """
        _check_tag(encoder_tag)
        if not vectors:
            return
        keys = ids_and_keys(self._work.connection, vectors)
        rows = {number: np.asarray(vector, dtype=np.float32) for number, vector in vectors.items()}
        _check_vectors(encoder_tag, rows)
        new = files.Segment(tuple(rows), tuple(keys[number][1] for number in rows), np.stack(list(rows.values())))
        folder = files.tag_folder(self.derived_folder, encoder_tag)
        present = files.segment_files(folder)
        dim = _dim_of(present, encoder_tag)
        if dim not in (None, new.vectors.shape[1]):
            raise InputError(
                f"vectors of encoder '{encoder_tag}' have {dim} dimensions here, "
                f"these have {new.vectors.shape[1]}; give the other encoder a tag of its own"
            )
        if len(present) >= MAX_SEGMENTS:
            joined = files.newest_of_a_size(present, new.vectors.nbytes)
            new = files.join_segments([*_still_there(joined, encoder_tag), new])
            for path in joined:
                self._work.journal.remove_at_commit(path)
        turn = 1 + max((int(path.name.split("-", 1)[0]) for path in present), default=0)
        path = folder / f"{turn:06d}-{uuid.uuid4().hex[:12]}.npz"
        self._work.journal.write(path, files.segment_bytes(new, encoder_tag), is_lasting=False)

    def vectors(self, encoder_tag: str, numbers: Iterable[str]) -> dict[str, NDArray[np.float32]]:
        """Return the vectors of sherds as they are now, (dim,) float32; a sherd without one is absent.

        UnknownName for a sherd that is not there.
        """
        with self._reading() as connection:
            keys = ids_and_keys(connection, numbers)
        found: dict[str, NDArray[np.float32]] = {}
        for segment in self._segments(encoder_tag, {key for _, key in keys.values()}):
            found |= zip(segment.content_keys, segment.vectors, strict=True)
        return {number: found[key] for number, (_, key) in keys.items() if key in found}

    def _segments(self, encoder_tag: str, wanted: Collection[str]) -> list[files.Segment]:
        """Return the readable segments of an encoder, oldest first, with what is under the wanted content keys at least."""
        folder = files.tag_folder(self.derived_folder, encoder_tag)
        for _ in range(10):
            try:
                paths = files.segment_files(folder)
                return [segment for path in paths if (segment := _readable(path, encoder_tag, wanted))]
            except FileNotFoundError:
                # Another program joined the segments in between; its joined one has all of them.
                continue
        return []


def _dim_of(paths: Sequence[Path], encoder_tag: str) -> int | None:
    """Dimensions of the vectors that are there; None where there are none that can be read."""
    for path in paths:
        with suppress(*files.DAMAGE):
            return files.segment_dim(path, encoder_tag)
    return None


def _still_there(paths: Sequence[Path], encoder_tag: str) -> Iterator[files.Segment]:
    for path in paths:
        # One that is gone was joined by the writer before this one.
        with suppress(FileNotFoundError):
            segment = _readable(path, encoder_tag)
            if segment is not None:
                yield segment


def _readable(path: Path, encoder_tag: str, wanted: Collection[str] | None = None) -> files.Segment | None:
    try:
        return files.read_segment(path, encoder_tag, wanted)
    except FileNotFoundError:
        raise
    except files.DAMAGE:
        return None


def _check_tag(encoder_tag: str) -> None:
    if not encoder_tag.strip(" .") or len(encoder_tag) > 200:
        raise InputError(f"'{encoder_tag}' is no encoder tag; give one such as name.tag")


def _check_vectors(encoder_tag: str, rows: Mapping[str, NDArray[Any]]) -> None:
    dim = next(iter(rows.values())).shape
    for number, row in rows.items():
        if row.ndim != 1 or row.shape != dim or not row.size:
            raise InputError(f"the vector of sherd '{number}' ({encoder_tag}) has shape {row.shape}, not {dim}")
        if not np.isfinite(row).all():
            raise InputError(f"the vector of sherd '{number}' ({encoder_tag}) is not finite; encode it again")
