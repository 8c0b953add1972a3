"""Photograph file to upright sRGB pixels, with one clear line for every way a file can be unusable."""

from __future__ import annotations

import hashlib
import io
import struct
import warnings
import zlib
from typing import TYPE_CHECKING, Final, cast

import numpy as np
from PIL import Image, ImageCms, UnidentifiedImageError

from motifs.errors import PhotoNotFound, PhotoTooLarge, PhotoUnreadable
from motifs.imaging.formats import decode_raw, is_heif, is_planar_deep, is_raw, plain, register_heif, reread_planar
from motifs.records import PhotoImage

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from numpy.typing import NDArray

MAX_SIDE_PX: Final = 20_000
"""A photograph of this side or more is refused before its pixels are decoded."""

# A phone's MPO comes in by way of JPEG; Pillow 13 knows no opener of that name.
_FORMATS: Final = ("JPEG", "PNG", "TIFF")
_ORIENTATION_TAG: Final = 0x0112
_EXIF_TAG: Final = 0x8769
_FOCAL_35MM_TAG: Final = 0xA405
_FOCAL_RANGE_MM: Final = (8, 2000)
_STRIP_PX: Final = 4_000_000
_PAPER_WHITE: Final = (255, 255, 255)

# What Pillow's parsers are known to raise on damaged bytes. Listed one by one so that a defect of ours
# (AttributeError, NameError, ...) still surfaces as a defect.
_DAMAGE: Final = (
    OSError,
    SyntaxError,
    ValueError,
    TypeError,
    KeyError,
    IndexError,
    EOFError,
    OverflowError,
    ZeroDivisionError,
    MemoryError,
    RuntimeError,
    struct.error,
    zlib.error,
)


def read_photo(path: Path) -> PhotoImage:
    """Read a JPEG, PNG, TIFF, HEIC or camera raw photograph as upright 8-bit sRGB.

    The EXIF (or TIFF) orientation is applied once; an embedded colour profile is converted to sRGB
    (relative colorimetric); transparency is laid on white; 16-bit channels are reduced to 8 bits; grey,
    palette, CMYK and Lab files become RGB. A profile that cannot be read is ignored. Of the metadata only the focal length
    is kept: no place, no time, no camera's number.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    PhotoImage
        ``rgb`` is (H, W, 3) uint8; ``sha256`` is that of the file's bytes.

    Raises
    ------
    PhotoNotFound
        There is no such file.
    PhotoUnreadable
        The file is empty, a folder, unreadable, truncated, damaged or not an image of these formats.
    PhotoTooLarge
        A side is ``MAX_SIDE_PX`` or more, or the pixel count exceeds Pillow's own guard.
    """
    content = _read_bytes(path)
    with warnings.catch_warnings():
        # Pillow warns about odd metadata and large images; both are judged here instead.
        warnings.simplefilter("ignore")
        rgb, focal_share = _decode(content, path.name)
    focal_px = None if focal_share is None else focal_share * float(np.hypot(*rgb.shape[:2]))
    return PhotoImage(rgb, hashlib.sha256(content).hexdigest(), path.name, focal_px)


def _read_bytes(path: Path) -> bytes:
    if path.is_dir():
        raise PhotoUnreadable(f"{path} is a folder; name the photograph files inside it.")
    try:
        content = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError) as error:
        raise PhotoNotFound(f"No such photograph: {path}. Check the name and the folder.") from error
    except (OSError, ValueError) as error:
        raise PhotoUnreadable(f"{path} cannot be opened ({error}); check its name and permissions.") from error
    if not content:
        raise PhotoUnreadable(f"{path.name} is empty (0 bytes); copy it from the camera again.")
    return content


def _decode(content: bytes, name: str) -> tuple[NDArray[np.uint8], float | None]:
    """Upright pixels, and the focal length over the picture's diagonal where the camera wrote it down."""
    if is_raw(content, name):
        return decode_raw(content, name, MAX_SIDE_PX), None
    image = _open(content, name)
    if max(image.size) >= MAX_SIDE_PX:
        width, height = image.size
        raise PhotoTooLarge(
            f"{name} is {width} x {height} px; photographs under {MAX_SIDE_PX} px a side are taken. Save a smaller copy."
        )
    orientation, focal_share = _orientation(image), _focal_share(image)
    try:
        if is_planar_deep(image):
            image, orientation = reread_planar(content, image)
        image.load()
        rgb = _to_rgb(image, name)
        # A large photograph fits into memory once, not twice.
        image.close()
        upright = np.ascontiguousarray(_upright(rgb, orientation))
    except PhotoUnreadable:
        raise
    except _DAMAGE as error:
        raise PhotoUnreadable(
            f"{name} is truncated or damaged and cannot be decoded ({plain(error)}); copy it from the camera again."
        ) from error
    return upright, focal_share


def _open(content: bytes, name: str) -> Image.Image:
    formats: tuple[str, ...] = _FORMATS
    if is_heif(content):
        register_heif()
        formats = ("HEIF",)
    try:
        image = Image.open(io.BytesIO(content), formats=formats)
    except Image.DecompressionBombError as error:
        raise PhotoTooLarge(
            f"{name} has too many pixels; photographs under {MAX_SIDE_PX} px a side and 170 megapixels are taken. "
            "Save a smaller copy."
        ) from error
    except UnidentifiedImageError as error:
        raise PhotoUnreadable(
            f"{name} is not an image; give a JPEG, PNG, TIFF, HEIC or camera raw photograph."
        ) from error
    except _DAMAGE as error:
        raise PhotoUnreadable(
            f"{name} has a damaged header ({plain(error)}); copy it from the camera again."
        ) from error
    if min(image.size) < 1:
        raise PhotoUnreadable(f"{name} has no pixels; copy it from the camera again.")
    return image


def _orientation(image: Image.Image) -> int:
    """Read the orientation (1..8) before loading; TIFF and HEIF files are turned while they are loaded."""
    if image.format in {"TIFF", "HEIF"}:
        return 1
    try:
        value = image.getexif().get(_ORIENTATION_TAG, 1)
    except _DAMAGE:
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _focal_share(image: Image.Image) -> float | None:
    """Focal length over the diagonal, from the 35 mm equivalent (EXIF 2.3, tag 0xA405; the 35 mm frame is 36 x 24 mm)."""
    try:
        focal_35mm = image.getexif().get_ifd(_EXIF_TAG).get(_FOCAL_35MM_TAG)
    except _DAMAGE:
        return None
    if not isinstance(focal_35mm, int) or not _FOCAL_RANGE_MM[0] <= focal_35mm <= _FOCAL_RANGE_MM[1]:
        return None
    return float(focal_35mm / np.hypot(36.0, 24.0))


def _upright(rgb: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """Turn the stored pixels upright (EXIF 2.3, tag 0x0112)."""
    if orientation in (5, 6, 7, 8):
        rgb = rgb.transpose(1, 0, 2)
    if orientation in (2, 3, 6, 7):
        rgb = rgb[:, ::-1]
    if orientation in (3, 4, 7, 8):
        rgb = rgb[::-1]
    return rgb


def _to_rgb(image: Image.Image, name: str) -> NDArray[np.uint8]:
    if image.mode == "F":
        raise PhotoUnreadable(f"{name} holds floating-point pixels; save it as 8 or 16 bit.")
    if image.mode.startswith("I"):
        grey = _eight_bit(np.asarray(image), is_sixteen=image.mode.startswith("I;16"))
        return np.repeat(grey[:, :, None], 3, axis=2)
    if image.mode in ("P", "PA", "LA", "La", "RGBa") or "transparency" in image.info:
        image = image.convert("RGBA")
    convert = _conversion(image)
    width, height = image.size
    rgb = np.empty((height, width, 3), dtype=np.uint8)
    rows = max(1, _STRIP_PX // width)
    for top in range(0, height, rows):
        bottom = min(height, top + rows)
        rgb[top:bottom] = _strip_rgb(image.crop((0, top, width, bottom)), convert)
    return rgb


def _strip_rgb(strip: Image.Image, convert: Callable[[Image.Image], Image.Image]) -> NDArray[np.uint8]:
    """Pixels of a few rows as RGB on white."""
    alpha = strip.getchannel("A") if strip.mode == "RGBA" else None
    colour = convert(strip if alpha is None else _without_alpha(strip))
    if colour.mode != "RGB":
        colour = colour.convert("RGB")
    if alpha is not None:
        colour = Image.composite(colour, Image.new("RGB", colour.size, _PAPER_WHITE), alpha)
    return np.asarray(colour, dtype=np.uint8)


def _conversion(image: Image.Image) -> Callable[[Image.Image], Image.Image]:
    """How to take the image's colours to sRGB; nothing where it has no profile, or one that cannot be used."""
    profile = image.info.get("icc_profile")
    mode = "RGB" if image.mode == "RGBA" else image.mode
    if not (isinstance(profile, bytes) and profile):
        if mode != "LAB":
            return _as_it_is
        profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if mode == "RGB" and "sRGB" in ImageCms.getProfileDescription(source):
            return _as_it_is
        transform = ImageCms.buildTransform(
            source,
            ImageCms.createProfile("sRGB"),
            mode,
            "RGB",
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        )
    except (ImageCms.PyCMSError, *_DAMAGE):
        return _as_it_is

    def convert(strip: Image.Image) -> Image.Image:
        return cast("Image.Image", ImageCms.applyTransform(strip, transform))

    return convert


def _as_it_is(strip: Image.Image) -> Image.Image:
    return strip


def _eight_bit(grey: NDArray[np.generic], *, is_sixteen: bool) -> NDArray[np.uint8]:
    """Reduce 16-bit grey to 8 bits, rounding; 32-bit grey is taken for what its values fit into."""
    values = grey.astype(np.int64)
    if is_sixteen or int(values.max(initial=0)) > 255:
        values = (values + 128) // 257
    return np.clip(values, 0, 255).astype(np.uint8)


def _without_alpha(image: Image.Image) -> Image.Image:
    red, green, blue, _ = image.split()
    return Image.merge("RGB", (red, green, blue))
