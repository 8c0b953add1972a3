"""Reading photograph files: every usual kind, every way to be unusable, and damaged bytes."""

import hashlib
import io
import os
import struct

import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms

from motifs.errors import PhotoError, PhotoNotFound, PhotoTooLarge, PhotoUnreadable
from motifs.imaging import MAX_SIDE_PX, read_photo


def scene(height=40, width=64):
    """Smooth colours with a different corner each, so that every turn shows."""
    yy, xx = np.mgrid[:height, :width]
    rgb = np.stack([xx * 255 // width, yy * 255 // height, 128 + 0 * xx], axis=2).astype(np.uint8)
    rgb[:10, :10] = (250, 20, 20)
    return rgb


def turned(rgb, orientation):
    """How a camera stores an upright scene under an EXIF orientation, by Pillow's own transposes."""
    how = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }
    image = Image.fromarray(rgb)
    return image if orientation == 1 else image.transpose(how[orientation])


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize(("suffix", "tolerance"), [("png", 0), ("jpg", 12), ("tif", 0)])
def test_orientation_is_applied_once(tmp_path, orientation, suffix, tolerance):
    path = tmp_path / f"turned.{suffix}"
    exif = Image.Exif()
    exif[0x0112] = orientation
    extra = {"quality": 97, "subsampling": 0} if suffix == "jpg" else {}
    turned(scene(), orientation).save(path, exif=exif, **extra)
    read = read_photo(path).rgb
    assert read.shape == (40, 64, 3)
    assert np.abs(read.astype(int) - scene()).mean() <= tolerance / 4
    assert np.abs(read[4, 4].astype(int) - (250, 20, 20)).max() <= tolerance


def test_compressed_tiff_is_turned_once(tmp_path):
    path = tmp_path / "turned.tif"
    turned(scene(), 6).save(path, compression="tiff_lzw", tiffinfo={274: 6})
    assert np.array_equal(read_photo(path).rgb, scene())


def test_hash_and_name_are_of_the_file(tmp_path):
    path = tmp_path / "Tray 7 – ü.png"
    Image.fromarray(scene()).save(path)
    photo = read_photo(path)
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert photo.file_name == "Tray 7 – ü.png"
    assert photo.rgb.dtype == np.uint8
    assert photo.rgb.flags["C_CONTIGUOUS"]


def test_sixteen_bits_become_eight(tmp_path):
    path = tmp_path / "deep.tif"
    tifffile.imwrite(path, scene().astype(np.uint16) * 257, photometric="rgb")
    assert np.abs(read_photo(path).rgb.astype(int) - scene()).max() <= 1


def test_sixteen_bit_grey(tmp_path):
    for name in ("grey.tif", "grey.png"):
        path = tmp_path / name
        Image.fromarray(scene()[..., 0].astype(np.uint16) * 257).save(path)
        assert np.array_equal(read_photo(path).rgb, np.repeat(scene()[..., :1], 3, axis=2))


def test_dark_sixteen_bit_grey_is_not_taken_for_eight_bits(tmp_path):
    path = tmp_path / "dark.png"
    Image.fromarray(np.full((8, 8), 200, dtype=np.uint16)).save(path)
    assert read_photo(path).rgb.max() <= 1


@pytest.mark.parametrize("mode", ["L", "1", "P", "RGBA", "LA", "CMYK"])
def test_other_modes_become_rgb(tmp_path, mode):
    path = tmp_path / ("m.tif" if mode == "CMYK" else "m.png")
    Image.fromarray(scene()).convert("L" if mode == "LA" else "RGB").convert(mode).save(path)
    assert read_photo(path).rgb.shape == (40, 64, 3)


def test_transparency_is_laid_on_white(tmp_path):
    path = tmp_path / "cut.png"
    rgba = np.zeros((6, 6, 4), dtype=np.uint8)
    rgba[:3, :, 0] = 200
    rgba[:3, :, 3] = 255
    Image.fromarray(rgba).save(path)
    read = read_photo(path).rgb
    assert tuple(read[0, 0]) == (200, 0, 0)
    assert tuple(read[5, 5]) == (255, 255, 255)


def test_embedded_profile_is_converted(tmp_path):
    """A Lab profile as an exact outside reference: neutral L* 50 is sRGB 119 (CIE 15 and IEC 61966-2-1)."""
    lab = Image.merge("LAB", [Image.new("L", (8, 8), 128)] * 3)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    path = tmp_path / "lab.tif"
    lab.save(path, icc_profile=profile)
    assert np.abs(read_photo(path).rgb.astype(int) - 119).max() <= 2


def linear_profile():
    """A matrix profile (ICC.1:2001-04) with the primaries of sRGB, adapted to D50, and no curve: gamma 1."""

    def fixed(value):
        return struct.pack(">i", round(value * 65536))

    def xyz(*values):
        return b"XYZ \0\0\0\0" + b"".join(fixed(v) for v in values)

    text = b"straight\0"
    curve = b"curv\0\0\0\0" + struct.pack(">I", 0)
    tags = {
        b"desc": b"desc\0\0\0\0" + struct.pack(">I", len(text)) + text + bytes(78),
        b"wtpt": xyz(0.9642, 1.0, 0.8249),
        b"rXYZ": xyz(0.4361, 0.2225, 0.0139),
        b"gXYZ": xyz(0.3851, 0.7169, 0.0971),
        b"bXYZ": xyz(0.1431, 0.0606, 0.7141),
        b"rTRC": curve,
        b"gTRC": curve,
        b"bTRC": curve,
    }
    table, body = struct.pack(">I", len(tags)), b""
    start = 128 + 4 + 12 * len(tags)
    for name, content in tags.items():
        padded = content + bytes(-len(content) % 4)
        table += name + struct.pack(">II", start + len(body), len(content))
        body += padded
    size = start + len(body)
    header = struct.pack(">I4sI4s4s4s", size, bytes(4), 0x02400000, b"mntr", b"RGB ", b"XYZ ")
    header += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28)
    header += fixed(0.9642) + fixed(1.0) + fixed(0.8249)
    return header.ljust(128, b"\0") + table + body


@pytest.mark.parametrize("suffix", ["jpg", "png", "tif"])
def test_rgb_profile_is_honoured(tmp_path, suffix):
    """Linear 55/255 = 0.2157 encodes as sRGB 128 (IEC 61966-2-1); read without the profile it would stay 55."""
    path = tmp_path / f"linear.{suffix}"
    Image.new("RGB", (16, 16), (55, 55, 55)).save(path, icc_profile=linear_profile())
    assert np.abs(read_photo(path).rgb.astype(int) - 128).max() <= 1


def test_profile_that_is_no_profile_is_ignored(tmp_path):
    path = tmp_path / "odd.png"
    Image.fromarray(scene()).save(path, icc_profile=b"not a profile")
    assert np.array_equal(read_photo(path).rgb, scene())


def one_line(error):
    text = str(error.value)
    assert text
    assert "\n" not in text
    return text


def test_no_such_file(tmp_path):
    with pytest.raises(PhotoNotFound) as error:
        read_photo(tmp_path / "absent.jpg")
    assert "absent.jpg" in one_line(error)


def test_a_folder_is_no_photograph(tmp_path):
    with pytest.raises(PhotoUnreadable) as error:
        read_photo(tmp_path)
    assert "folder" in one_line(error)


def test_empty_file(tmp_path):
    path = tmp_path / "empty.jpg"
    path.touch()
    with pytest.raises(PhotoUnreadable) as error:
        read_photo(path)
    assert "0 bytes" in one_line(error)


def test_not_an_image(tmp_path):
    path = tmp_path / "notes.jpg"
    path.write_text("Lot 12, washed and dried.")
    with pytest.raises(PhotoUnreadable) as error:
        read_photo(path)
    assert "not an image" in one_line(error)


@pytest.mark.parametrize("suffix", ["jpg", "png", "tif"])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.95])
def test_truncated(tmp_path, suffix, share):
    path = tmp_path / f"cut.{suffix}"
    noise = np.random.default_rng(1).integers(0, 255, (200, 200, 3), dtype=np.uint8)
    Image.fromarray(noise).save(path)
    content = path.read_bytes()
    path.write_bytes(content[: int(share * len(content))])
    with pytest.raises(PhotoUnreadable) as error:
        read_photo(path)
    assert path.name in one_line(error)


def test_too_large_is_refused_before_decoding(tmp_path):
    path = tmp_path / "wide.png"
    Image.new("1", (MAX_SIDE_PX, 4)).save(path)
    # Cut the pixels away: a refusal by size must come before they are missed.
    path.write_bytes(path.read_bytes()[:60])
    with pytest.raises(PhotoTooLarge) as error:
        read_photo(path)
    assert "20000" in one_line(error)


def test_one_px_less_is_taken(tmp_path):
    path = tmp_path / "wide.png"
    Image.new("L", (MAX_SIDE_PX - 1, 2)).save(path)
    assert read_photo(path).rgb.shape == (2, MAX_SIDE_PX - 1, 3)


def test_a_bomb_is_refused(tmp_path):
    path = tmp_path / "bomb.png"
    Image.new("1", (MAX_SIDE_PX, MAX_SIDE_PX)).save(path)
    with pytest.raises(PhotoTooLarge):
        read_photo(path)


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read anything")
def test_no_permission(tmp_path):
    path = tmp_path / "locked.jpg"
    Image.fromarray(scene()).save(path)
    path.chmod(0)
    with pytest.raises(PhotoUnreadable):
        read_photo(path)


def mutated(content, rng):
    """Damage a file: flip, overwrite, cut, repeat or insert bytes, more often near its head."""
    out = bytearray(content)
    for _ in range(rng.integers(1, 8)):
        at = int(len(out) * rng.random() ** rng.choice([1, 4]))
        kind = rng.integers(5)
        if kind == 0:
            out[at % len(out)] ^= 1 << int(rng.integers(8))
        elif kind == 1:
            out[at : at + 4] = rng.bytes(4)
        elif kind == 2:
            del out[at : at + int(rng.integers(1, 64))]
        elif kind == 3:
            out[at:at] = out[: int(rng.integers(1, 64))]
        else:
            out[at : at + 2] = b"\xff\xff"
        if not out:
            break
    return bytes(out)


def test_damaged_bytes_raise_nothing_but_photo_errors(tmp_path):
    """A short run; `python -m tests.imaging.fuzz_decode` runs as long as asked."""
    assert fuzz(tmp_path, count=450, seed=20)[1] > 50


def fuzz(folder, count, seed):
    """Read `count` mutated files; returns how many were still read and how many refused."""
    rng = np.random.default_rng(seed)
    originals = []
    for form, extra in (
        ("JPEG", {"exif": b"Exif\0\0MM\0*\0\0\0\x08\0\0"}),
        ("PNG", {}),
        ("TIFF", {}),
        ("TIFF", {"compression": "tiff_lzw"}),
        ("JPEG", {"progressive": True}),
    ):
        stream = io.BytesIO()
        Image.fromarray(scene()).save(stream, form, **extra)
        originals.append(stream.getvalue())
    path = folder / "mutated"
    read = refused = 0
    for _ in range(count):
        path.write_bytes(mutated(originals[rng.integers(len(originals))], rng))
        try:
            photo = read_photo(path)
        except PhotoError as error:
            assert "\n" not in str(error)
            refused += 1
        else:
            assert photo.rgb.ndim == 3
            read += 1
    return read, refused
