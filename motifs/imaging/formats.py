"""Camera formats beside JPEG, PNG and TIFF: HEIC by libheif, camera raw by LibRaw. Told by content first, not by name."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Final

import numpy as np
import tifffile
from PIL import Image, TiffImagePlugin

from motifs.errors import PhotoTooLarge, PhotoUnreadable

if TYPE_CHECKING:
    from numpy.typing import NDArray

_HEIF_BRANDS: Final = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"})
_RAW_STARTS: Final = (b"FUJIFILMCCD-RAW", b"IIRO", b"IIRS", b"MMOR", b"IIU\x00", b"FOVb", b"\x00MRM")
_RAW_ENDINGS: Final = frozenset(
    [
        "3fr",
        "arw",
        "cr2",
        "cr3",
        "dcr",
        "dng",
        "erf",
        "fff",
        "iiq",
        "kdc",
        "mef",
        "mos",
        "mrw",
        "nef",
        "nrw",
        "orf",
        "pef",
        "raf",
        "raw",
        "rw2",
        "rwl",
        "sr2",
        "srf",
        "srw",
        "x3f",
    ]
)
_DNG_VERSION_TAG: Final = 50706
_PLANAR_TAG, _BITS_TAG, _COMPRESSION_TAG, _ORIENTATION_TAG = 284, 258, 259, 274
_SRGB_CURVE: Final = (2.4, 12.92)


def is_heif(content: bytes) -> bool:
    """Whether the bytes are a HEIF file (ISO/IEC 23008-12) with pictures in HEVC."""
    return content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS


def is_raw(content: bytes, name: str) -> bool:
    """Whether the bytes are a camera raw file: by their start, or a TIFF that says it is DNG or is named as raw."""
    if content.startswith(_RAW_STARTS) or content[4:12] == b"ftypcrx ":
        return True
    if content[:4] not in {b"II*\x00", b"MM\x00*"}:
        return False
    return name.rpartition(".")[2].lower() in _RAW_ENDINGS or _has_first_tag(content, _DNG_VERSION_TAG)


def _has_first_tag(content: bytes, tag: int) -> bool:
    """Whether the first directory of a TIFF file (TIFF 6.0, section 2) holds a tag."""
    order = "<" if content[:2] == b"II" else ">"
    start = int(np.frombuffer(content[4:8], dtype=f"{order}u4")[0]) if len(content) >= 8 else 0
    head = content[start : start + 2]
    if start < 8 or len(head) < 2:
        return False
    count = int(np.frombuffer(head, dtype=f"{order}u2")[0])
    entries = content[start + 2 : start + 2 + 12 * count]
    tags = np.frombuffer(entries[: len(entries) // 12 * 12], dtype=f"{order}u2")[::6]
    return bool((tags == tag).any())


def is_planar_deep(image: Image.Image) -> bool:
    """Whether it is a TIFF of 16-bit colour, plane by plane and uncompressed: Pillow reads the wrong bytes of those."""
    if not isinstance(image, TiffImagePlugin.TiffImageFile) or image.mode not in {"RGB", "RGBA", "RGBX"}:
        return False
    tags = image.tag_v2
    return tags.get(_PLANAR_TAG) == 2 and 16 in tuple(tags.get(_BITS_TAG, ())) and tags.get(_COMPRESSION_TAG, 1) == 1


def reread_planar(content: bytes, image: Image.Image) -> tuple[Image.Image, int]:
    """Read such a file with tifffile: the image, 8 bits a channel, and its orientation (1..8), not yet applied."""
    try:
        planes = tifffile.imread(io.BytesIO(content))
    except tifffile.TiffFileError as error:
        raise ValueError(str(error)) from error
    if planes.ndim != 3 or planes.shape[0] < 3 or planes.dtype != np.uint16:
        raise ValueError("its planes are not what its header says")
    eight = ((planes[:3].astype(np.uint32) + 128) // 257).astype(np.uint8)
    found = Image.fromarray(np.ascontiguousarray(np.moveaxis(eight, 0, 2)))
    found.info = {key: value for key, value in image.info.items() if key == "icc_profile"}
    value = image.tag_v2.get(_ORIENTATION_TAG, 1) if isinstance(image, TiffImagePlugin.TiffImageFile) else 1
    return found, value if isinstance(value, int) and 1 <= value <= 8 else 1


def register_heif() -> None:
    """Teach Pillow HEIF; loaded only when such a file comes."""
    import pillow_heif  # noqa: PLC0415

    pillow_heif.register_heif_opener(thumbnails=False)


def decode_raw(content: bytes, name: str, max_side_px: int) -> NDArray[np.uint8]:
    """Develop a camera raw file: the camera's white balance, no brightening, sRGB, turned upright.

    Parameters
    ----------
    content
        The file's bytes.
    name
        Of the file, for messages.
    max_side_px
        A side of this or more is refused.

    Returns
    -------
    ndarray
        (H, W, 3) uint8 sRGB.

    Raises
    ------
    PhotoUnreadable
        LibRaw cannot read it.
    PhotoTooLarge
        A side is too long.
    """
    import rawpy  # noqa: PLC0415

    try:
        with rawpy.imread(io.BytesIO(content)) as raw:
            height, width = raw.sizes.raw_height, raw.sizes.raw_width
            if max(height, width) >= max_side_px:
                raise PhotoTooLarge(
                    f"{name} is {width} x {height} px; photographs under {max_side_px} px a side are taken. "
                    "Save a smaller copy."
                )
            developed = raw.postprocess(
                use_camera_wb=True,
                no_auto_bright=True,
                output_color=rawpy.ColorSpace.sRGB,
                output_bps=8,
                gamma=_SRGB_CURVE,
            )
    except (rawpy.LibRawError, OSError, ValueError, MemoryError, RuntimeError) as error:
        raise PhotoUnreadable(
            f"{name} is not a camera raw file that can be developed ({plain(error)}); "
            "copy it from the camera again, or save it as TIFF"
        ) from error
    if developed.ndim != 3 or developed.shape[2] != 3 or min(developed.shape[:2]) < 1:
        raise PhotoUnreadable(f"{name} develops to no colour picture; save it as TIFF")
    return np.ascontiguousarray(developed, dtype=np.uint8)


def plain(error: BaseException) -> str:
    """One line of a library's message, which may come as bytes."""
    first = error.args[0] if error.args else ""
    text = first.decode("ascii", "replace") if isinstance(first, bytes) else str(first)
    return " ".join(text.split()) or type(error).__name__
