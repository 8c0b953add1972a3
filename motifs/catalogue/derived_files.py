"""Files under derived/: crops as PNG beside their masks, vectors in segments. All can be made again.

A crop lies under its sherd's content key: crops/ab/abcd....png and abcd....mask.png. The PNG says in its text
chunks what it was cut from and what its pixels hash to, so that a damaged or swapped file is noticed.
Vectors lie in vectors/<encoder tag>/000001-<token>.npz; where a key comes twice, the later segment counts.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote

import numpy as np
from PIL import Image, PngImagePlugin, UnidentifiedImageError
from sqlalchemy import Connection, select

from motifs.catalogue import tables
from motifs.errors import CollectionDamaged
from motifs.records import SherdCrop

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from pathlib import Path
    from typing import IO

    from numpy.typing import NDArray

CROPS, VECTORS = "crops", "vectors"
RUNS_ONLY = 3
"""zlib's Z_RLE."""
VECTORS_MEMBER = "vectors.npy"
ROWS_AT_A_TIME = 1024
MASK_SUFFIX, IMAGE_SUFFIX = ".mask.png", ".png"

# What reading a damaged PNG or NPZ raises; a missing file is told apart before.
DAMAGE = (OSError, ValueError, KeyError, EOFError, SyntaxError, zipfile.BadZipFile, UnidentifiedImageError)


_CONTENT_KEY = re.compile(r"[0-9a-f]{64}")


def crop_path(derived: Path, content_key: str) -> Path:
    """Return where the crop of a content key lies; its mask lies beside it.

    Raises
    ------
    CollectionDamaged
        What should be a key is none, and would lead elsewhere.
    """
    if _CONTENT_KEY.fullmatch(content_key) is None:
        raise CollectionDamaged(f"'{content_key[:70]}' is no content key; restore the catalogue from a backup")
    return derived / CROPS / content_key[:2] / (content_key + IMAGE_SUFFIX)


def mask_path(crop: Path) -> Path:
    """Return where the mask of a crop lies."""
    return crop.with_name(crop.name.removesuffix(IMAGE_SUFFIX) + MASK_SUFFIX)


def crop_png(crop: SherdCrop, content_key: str) -> tuple[bytes, bytes]:
    """Return a crop as two PNG files, image and mask, byte for byte the same each time."""
    image = np.ascontiguousarray(crop.image, dtype=np.uint8)
    mask = np.ascontiguousarray(crop.mask, dtype=bool)
    about = PngImagePlugin.PngInfo()
    for name, value in (
        ("content_key", content_key),
        ("pixels_sha256", _pixels_sha256(image, mask)),
        ("px_per_mm", repr(float(crop.px_per_mm))),
        ("source_px_per_mm", repr(float(crop.source_px_per_mm))),
        ("is_scaled", str(int(crop.is_scaled))),
    ):
        about.add_text(name, value)
    return _png(Image.fromarray(image), about), _png(Image.fromarray(mask.astype(np.uint8) * 255).convert("1"), None)


def read_crop(path: Path, content_key: str) -> SherdCrop:
    """Read a crop and its mask.

    Raises
    ------
    FileNotFoundError
        One of the two files is not there.
    ValueError or another of DAMAGE
        The files are damaged, or those of another sherd.
    """
    with Image.open(path) as opened:
        image = np.asarray(opened.convert("RGB"))
        about = dict(opened.info)
    with Image.open(mask_path(path)) as opened:
        mask = np.asarray(opened.convert("L")) > 0
    if about["content_key"] != content_key or about["pixels_sha256"] != _pixels_sha256(image, mask):
        raise ValueError("the crop is not the one that was saved")
    return SherdCrop(
        image, mask, float(about["px_per_mm"]), float(about["source_px_per_mm"]), about["is_scaled"] == "1"
    )


def _pixels_sha256(image: NDArray[np.uint8], mask: NDArray[np.bool_]) -> str:
    return hashlib.sha256(repr(image.shape).encode() + image.tobytes() + mask.tobytes()).hexdigest()


def _png(image: Image.Image, about: PngImagePlugin.PngInfo | None) -> bytes:
    stream = io.BytesIO()
    # Level 1 with runs only: on photographs an eighth smaller and a tenth quicker than level 1 alone, and several times as quick
    # as the default.
    image.save(stream, "PNG", pnginfo=about, compress_level=1, compress_type=RUNS_ONLY)
    return stream.getvalue()


@dataclass(frozen=True, slots=True, eq=False)
class Segment:
    """Some vectors of one encoder: numbers and content keys of N sherds, vectors (N, dim) float32."""

    numbers: tuple[str, ...]
    content_keys: tuple[str, ...]
    vectors: NDArray[np.float32]


def tag_folder(derived: Path, encoder_tag: str) -> Path:
    """Return the folder of an encoder's vectors."""
    return derived / VECTORS / quote(encoder_tag, safe="")


def segment_files(folder: Path) -> list[Path]:
    """Return an encoder's segments, oldest first."""
    return sorted(folder.glob("[0-9]*.npz"))


def segment_bytes(segment: Segment, encoder_tag: str) -> bytes:
    """Return a segment as an NPZ file that says whose vectors it holds."""
    stream = io.BytesIO()
    np.savez(
        stream,
        encoder_tag=np.array(encoder_tag),
        numbers=np.array(segment.numbers, dtype=np.str_),
        content_keys=np.array(segment.content_keys, dtype=np.str_),
        vectors=np.asarray(segment.vectors, dtype=np.float32),
    )
    return stream.getvalue()


def read_segment(path: Path, encoder_tag: str | None = None, wanted: Collection[str] | None = None) -> Segment:
    """Read a segment, or of a segment what is under the wanted content keys.

    Where little is wanted, little is held in memory: a collection's vectors may be half a gigabyte, a lot's are a few hundred kB.

    Raises
    ------
    FileNotFoundError
        It is not there.
    ValueError or another of DAMAGE
        It is damaged, or of another encoder than asked for.
    """
    # Opened here, because NumPy leaves a file open that turns out to be damaged.
    with path.open("rb") as stream, np.load(stream, allow_pickle=False) as stored:
        if encoder_tag is not None and str(stored["encoder_tag"]) != encoder_tag:
            raise ValueError("the vectors are of another encoder")
        numbers, keys = tuple(map(str, stored["numbers"])), tuple(map(str, stored["content_keys"]))
        rows = list(range(len(keys))) if wanted is None else [row for row, key in enumerate(keys) if key in wanted]
        if len(numbers) == len(keys) and 2 * len(rows) < len(keys):
            return Segment(tuple(numbers[r] for r in rows), tuple(keys[r] for r in rows), _some_rows(stream, rows))
        vectors = stored["vectors"]
    if vectors.ndim != 2 or not len(numbers) == len(keys) == len(vectors):
        raise ValueError("the segment is not whole")
    return Segment(numbers, keys, vectors)


def segment_dim(path: Path, encoder_tag: str) -> int:
    """Return how long the vectors of a segment are, without reading them; raises as `read_segment`."""
    with path.open("rb") as stream, np.load(stream, allow_pickle=False) as stored:
        if str(stored["encoder_tag"]) != encoder_tag:
            raise ValueError("the vectors are of another encoder")
        with zipfile.ZipFile(stream) as archive, archive.open(VECTORS_MEMBER) as member:
            return _shape_of(member)[1]


def _some_rows(stream: IO[bytes], rows: Sequence[int]) -> NDArray[np.float32]:
    """Read the vectors of some rows (rising); the whole member goes by in pieces, so that its check sum is looked at."""
    with zipfile.ZipFile(stream) as archive, archive.open(VECTORS_MEMBER) as member:
        count, dim = _shape_of(member)
        found = np.empty((len(rows), dim), np.float32)
        wanted, filled = np.asarray(rows, dtype=np.int64), 0
        for start in range(0, count, ROWS_AT_A_TIME):
            block = np.frombuffer(member.read(min(ROWS_AT_A_TIME, count - start) * dim * 4), "<f4").reshape(-1, dim)
            here = wanted[(wanted >= start) & (wanted < start + ROWS_AT_A_TIME)] - start
            found[filled : filled + len(here)] = block[here]
            filled += len(here)
        if member.read(1):
            raise ValueError("the segment is longer than it says")
    return found


def _shape_of(member: IO[bytes]) -> tuple[int, int]:
    """Read the head of an array of vectors (numpy.lib.format, version 1.0)."""
    if np.lib.format.read_magic(member) != (1, 0):
        raise ValueError("the segment is of an unknown format")
    shape, is_fortran, kind = np.lib.format.read_array_header_1_0(member)
    if len(shape) != 2 or is_fortran or kind != np.dtype("<f4"):
        raise ValueError("the segment holds no vectors")
    return int(shape[0]), int(shape[1])


def newest_of_a_size(paths: Sequence[Path], size_bytes: int) -> list[Path]:
    """Return the newest segments that a new one of this size is joined with: at least one, and as long as they are not far larger.

    So a vector is written again as often as the collection doubles, and not every time that there are too many files.
    """
    chosen: list[Path] = []
    for path in reversed(paths):
        try:
            size = path.stat().st_size
        except FileNotFoundError:
            continue  # joined by the writer before this one, and let go only now
        if chosen and size > 2 * size_bytes:
            break
        chosen.insert(0, path)
        size_bytes += size
    return chosen


def join_segments(segments: Sequence[Segment]) -> Segment:
    """Return one segment with each content key once, as the latest segment has it."""
    latest = {
        key: (number, vector)
        for segment in segments
        for number, key, vector in zip(segment.numbers, segment.content_keys, segment.vectors, strict=True)
    }
    return Segment(
        tuple(number for number, _ in latest.values()), tuple(latest), np.stack([v for _, v in latest.values()])
    )


def key_of_crop(path: Path) -> str:
    """Return the content key in the name of a crop or a mask."""
    return path.name.split(".", 1)[0]


def is_wanted_derived(connection: Connection, path: Path) -> bool:
    """Whether a committed sherd, as it is now, asks for this derived file."""
    if path.suffix == ".npz":
        try:
            keys = read_segment(path).content_keys
        except DAMAGE:
            return False
    else:
        keys = (key_of_crop(path),)
    known = set(connection.scalars(select(tables.sherd.c.content_key)))
    return not known.isdisjoint(keys)
