"""Where things were found, as coarse as it may be told: coordinates to about 10 km, photographs without their place."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from PIL import Image, UnidentifiedImageError

from motifs.workflows.covered import photo_to_show

if TYPE_CHECKING:
    from collections.abc import Mapping

    from motifs.catalogue import Catalogue, PhotoRow

GRID_KM = 10.0
KM_A_DEGREE = 111.195
"""Of a great circle on the mean Earth radius of 6371.0 km (IUGG)."""

_GPS_TAG, _ORIENTATION_TAG, _EXIF_TAG, _FOCAL_TAGS = 0x8825, 0x0112, 0x8769, (0x920A, 0xA405)
_PLACE_WORDS = (b"GPSLatitude", b"GPSLongitude", b"GPSCoordinates", b"GPSPosition")
_NOTED_SEGMENTS = frozenset({0xE1, 0xED, 0xFE})  # Exif and XMP, IPTC, comment


@dataclass(frozen=True, slots=True)
class OriginalOut:
    """An original as it may leave the house. suffix: with its dot; why: what was done to it, empty for nothing."""

    content: bytes
    suffix: str
    why: str


def rounded_place(latitude: float, longitude: float) -> tuple[float, float]:
    """The nearest point of a grid of about 10 km, degrees to two decimals; at the poles the longitude is 0."""
    step = GRID_KM / KM_A_DEGREE
    coarse = max(-90.0, min(90.0, round(latitude / step) * step))
    width = math.cos(math.radians(coarse))
    if width < 0.02:
        return round(coarse, 2), 0.0
    turned = round(longitude / (step / width)) * (step / width)
    return round(coarse, 2), round(max(-180.0, min(180.0, turned)), 2)


def rounded_fields(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Texts of a record with its coordinates rounded; left out where they cannot be read."""
    if not {"latitude", "longitude"} & set(fields):
        return dict(fields)
    rest = {name: text for name, text in fields.items() if name not in {"latitude", "longitude"}}
    try:
        place = rounded_place(float(fields["latitude"]), float(fields["longitude"]))
    except (KeyError, ValueError):
        return rest
    told = dict(zip(("latitude", "longitude"), map(str, place), strict=True))
    return {name: told.get(name, text) for name, text in fields.items()}


def original_out(cat: Catalogue, photo: PhotoRow) -> OriginalOut:
    """An original without its place, and with restricted sherds covered; untouched where it has neither.

    Raises
    ------
    CollectionDamaged, PhotoError
        It is not there, or cannot be read.
    """
    path = cat.photo_file(photo)
    content = path.read_bytes()
    if cat.covered_outlines(photo.photo_id):
        return OriginalOut(_as_png(cat, photo), ".png", "restricted sherds covered")
    if not has_place(content):
        return OriginalOut(content, path.suffix, "")
    cleared = _without_notes(content) if content[:2] == b"\xff\xd8" else None
    if cleared is not None and not has_place(cleared):
        return OriginalOut(cleared, path.suffix, "place taken out")
    return OriginalOut(_as_png(cat, photo), ".png", "place taken out, pixels kept as PNG")


def has_place(content: bytes) -> bool:
    """Whether a photograph says where it was taken, or cannot be looked into (then it may)."""
    if any(word in content for word in _PLACE_WORDS):
        return True
    try:
        with Image.open(io.BytesIO(content)) as image:
            return bool(image.getexif().get_ifd(_GPS_TAG))
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
        return True


def _as_png(cat: Catalogue, photo: PhotoRow) -> bytes:
    stream = io.BytesIO()
    Image.fromarray(photo_to_show(cat, photo).rgb).save(stream, "PNG")
    return stream.getvalue()


def _without_notes(jpeg: bytes) -> bytes | None:
    """A JPEG without Exif, XMP, IPTC and comments, but with its orientation and focal length; None for a broken one.

    The compressed picture and its colour profile are copied as they are.
    """
    parts, at = [jpeg[:2], _small_exif(jpeg)], 2
    while at + 4 <= len(jpeg) and jpeg[at] == 0xFF:
        kind, size = jpeg[at + 1], int.from_bytes(jpeg[at + 2 : at + 4], "big")
        if kind == 0xDA:  # the picture itself: nothing is looked for behind it, but what hangs on after its end is cut
            end = jpeg.rfind(b"\xff\xd9")
            return b"".join([*parts, jpeg[at : end + 2]]) if end > at else None
        if kind not in _NOTED_SEGMENTS:
            parts.append(jpeg[at : at + 2 + size])
        at += 2 + size
    return None


def _small_exif(jpeg: bytes) -> bytes:
    with Image.open(io.BytesIO(jpeg)) as image:
        whole = image.getexif()
        focal = {tag: value for tag, value in whole.get_ifd(_EXIF_TAG).items() if tag in _FOCAL_TAGS}
    kept = Image.Exif()
    if _ORIENTATION_TAG in whole:
        kept[_ORIENTATION_TAG] = whole[_ORIENTATION_TAG]
    if focal:
        kept.get_ifd(_EXIF_TAG).update(focal)
    if not len(kept) and not focal:
        return b""
    written = kept.tobytes()
    body = written if written.startswith(b"Exif\x00\x00") else b"Exif\x00\x00" + written
    return b"\xff\xe1" + (len(body) + 2).to_bytes(2, "big") + body
