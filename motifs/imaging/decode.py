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
from motifs.records import PhotoImage

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

MAX_SIDE_PX: Final = 20_000
"""A photograph of this side or more is refused before its pixels are decoded."""

# A phone's MPO comes in by way of JPEG; Pillow 13 knows no opener of that name.
_FORMATS: Final = ("JPEG", "PNG", "TIFF")
_ORIENTATION_TAG: Final = 0x0112
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
    """Read a JPEG, PNG or TIFF photograph as upright 8-bit sRGB.

    The EXIF (or TIFF) orientation is applied once; an embedded colour profile is converted to sRGB
    (relative colorimetric); transparency is laid on white; 16-bit channels are reduced to 8 bits; grey,
    palette, CMYK and Lab files become RGB. A profile that cannot be read is ignored.

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
        rgb = _decode(content, path.name)
    return PhotoImage(rgb=rgb, sha256=hashlib.sha256(content).hexdigest(), file_name=path.name)


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


def _decode(content: bytes, name: str) -> NDArray[np.uint8]:
    image = _open(content, name)
    if max(image.size) >= MAX_SIDE_PX:
        width, height = image.size
        raise PhotoTooLarge(
            f"{name} is {width} x {height} px; photographs under {MAX_SIDE_PX} px a side are taken. Save a smaller copy."
        )
    orientation = _orientation(image)
    try:
        image.load()
        upright = _upright(_to_rgb(image, name), orientation)
    except PhotoUnreadable:
        raise
    except _DAMAGE as error:
        raise PhotoUnreadable(
            f"{name} is truncated or damaged and cannot be decoded ({error}); copy it from the camera again."
        ) from error
    return np.ascontiguousarray(upright)


def _open(content: bytes, name: str) -> Image.Image:
    try:
        image = Image.open(io.BytesIO(content), formats=_FORMATS)
    except Image.DecompressionBombError as error:
        raise PhotoTooLarge(
            f"{name} has too many pixels; photographs under {MAX_SIDE_PX} px a side and 170 megapixels are taken. "
            "Save a smaller copy."
        ) from error
    except UnidentifiedImageError as error:
        raise PhotoUnreadable(f"{name} is not an image; give a JPEG, PNG or TIFF photograph.") from error
    except _DAMAGE as error:
        raise PhotoUnreadable(f"{name} has a damaged header ({error}); copy it from the camera again.") from error
    if min(image.size) < 1:
        raise PhotoUnreadable(f"{name} has no pixels; copy it from the camera again.")
    return image


def _orientation(image: Image.Image) -> int:
    """Read the orientation (1..8) before loading; Pillow turns TIFF files itself while it loads them."""
    if image.format == "TIFF":
        return 1
    try:
        value = image.getexif().get(_ORIENTATION_TAG, 1)
    except _DAMAGE:
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


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
    profile = image.info.get("icc_profile")
    alpha = image.getchannel("A") if image.mode == "RGBA" else None
    if alpha is not None:
        image = _without_alpha(image)
    if isinstance(profile, bytes) and profile:
        image = _to_srgb(image, profile)
    elif image.mode == "LAB":
        image = _to_srgb(image, ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes())
    colour = image if image.mode == "RGB" else image.convert("RGB")
    if alpha is not None:
        paper = Image.new("RGB", colour.size, _PAPER_WHITE)
        colour = Image.composite(colour, paper, alpha)
    return np.asarray(colour, dtype=np.uint8)


def _eight_bit(grey: NDArray[np.generic], *, is_sixteen: bool) -> NDArray[np.uint8]:
    """Reduce 16-bit grey to 8 bits, rounding; 32-bit grey is taken for what its values fit into."""
    values = grey.astype(np.int64)
    if is_sixteen or int(values.max(initial=0)) > 255:
        values = (values + 128) // 257
    return np.clip(values, 0, 255).astype(np.uint8)


def _without_alpha(image: Image.Image) -> Image.Image:
    red, green, blue, _ = image.split()
    return Image.merge("RGB", (red, green, blue))


def _to_srgb(image: Image.Image, profile: bytes) -> Image.Image:
    """Convert from an embedded profile to sRGB; an unusable profile leaves the pixels as they are."""
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        description = ImageCms.getProfileDescription(source)
        if image.mode == "RGB" and "sRGB" in description:
            return image
        target = ImageCms.createProfile("sRGB")
        converted = ImageCms.profileToProfile(
            image, source, target, renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC, outputMode="RGB"
        )
    except (ImageCms.PyCMSError, *_DAMAGE):
        return image
    return cast("Image.Image", converted)
