"""HEIC, camera raw and deep TIFF; what is kept of a photograph's metadata, and what is not."""

import io

import numpy as np
import pillow_heif
import pytest
import tifffile
from PIL import Image
from PIL.ExifTags import GPS, IFD

from motifs.errors import PhotoError, PhotoTooLarge, PhotoUnreadable
from motifs.imaging import cut_crop, draw_outlines, formats, read_photo
from motifs.imaging.formats import is_heif, is_raw
from motifs.records import LightField, PhotoImage
from tests.imaging.test_decode import mutated, scene, turned

LIGHT = LightField(np.ones((2, 2, 3), np.float32), "none", (90.0, 0.0, 0.0), 0.0)


def large_scene():
    return np.kron(scene(), np.ones((4, 4, 1), dtype=np.uint8))


def exif_of_a_phone(orientation=1, focal_35mm=28):
    """Orientation, focal length, a place and a camera's name, as phones write them (EXIF 2.3)."""
    exif = Image.Exif()
    exif[0x0112], exif[0x0110] = orientation, "Lodestone 7"
    exif.get_ifd(IFD.Exif)[0xA405] = focal_35mm
    place = exif.get_ifd(IFD.GPSInfo)
    place[GPS.GPSLatitudeRef], place[GPS.GPSLatitude] = "N", (51.0, 30.0, 12.25)
    place[GPS.GPSLongitudeRef], place[GPS.GPSLongitude] = "E", (7.0, 15.0, 3.5)
    return exif


def heic(rgb, **extra):
    stream = io.BytesIO()
    pillow_heif.from_pillow(Image.fromarray(rgb)).save(stream, quality=95, **extra)
    return stream.getvalue()


def test_heic_is_read(tmp_path):
    path = tmp_path / "IMG_0012.HEIC"
    path.write_bytes(heic(large_scene()))
    read = read_photo(path).rgb
    assert read.shape == (160, 256, 3)
    assert np.abs(read.astype(int) - large_scene()).mean() < 4


@pytest.mark.parametrize("orientation", range(1, 9))
def test_heic_is_turned_once(tmp_path, orientation):
    path = tmp_path / "turned.heic"
    exif = exif_of_a_phone(orientation).tobytes()
    path.write_bytes(heic(np.asarray(turned(large_scene(), orientation)), exif=exif))
    read = read_photo(path).rgb
    assert read.shape == (160, 256, 3)
    assert np.abs(read.astype(int) - large_scene()).mean() < 4


def test_heic_is_told_by_content_whatever_it_is_called(tmp_path):
    path = tmp_path / "tray.jpg"
    path.write_bytes(heic(large_scene()))
    assert read_photo(path).rgb.shape == (160, 256, 3)
    assert not is_heif(b"")
    assert not is_heif(b"\0\0\0\x18ftypisom")


DNG_TAGS = [
    (50706, "B", 4, (1, 4, 0, 0)),  # DNGVersion
    (50708, "s", 0, "Lodestone 7"),  # UniqueCameraModel
    (
        50721,
        "2i",
        9,
        (
            31338,
            10000,
            -15371,
            10000,
            -4986,
            10000,
            -9788,
            10000,
            19161,
            10000,
            335,
            10000,
            719,
            10000,
            -2290,
            10000,
            14052,
            10000,
        ),
    ),
    (50728, "2I", 3, (1, 1, 1, 1, 1, 1)),  # AsShotNeutral
    (50778, "H", 1, 21),  # D65
    (50717, "I", 1, 16383),  # WhiteLevel
    (50714, "I", 1, 0),  # BlackLevel
    (33421, "H", 2, (2, 2)),  # CFARepeatPatternDim
    (33422, "B", 4, (0, 1, 1, 2)),  # RGGB
]
"""What makes a TIFF a DNG (DNG specification 1.4); the matrix is XYZ to linear sRGB (IEC 61966-2-1), so that the camera of
the file sees sRGB."""


def dng(linear_rgb, orientation=1):
    """A raw file of (H, W, 3) linear light 0..1 through an RGGB mosaic, 14 bits, uncompressed."""
    levels = np.rint(np.clip(linear_rgb, 0, 1) * 16383).astype(np.uint16)
    mosaic = levels[..., 1].copy()
    mosaic[::2, ::2], mosaic[1::2, 1::2] = levels[::2, ::2, 0], levels[1::2, 1::2, 2]
    stream = io.BytesIO()
    extra = [(code, kind, count, value, True) for code, kind, count, value in DNG_TAGS]
    tifffile.imwrite(
        stream, mosaic, photometric="cfa", metadata=None, extratags=[*extra, (274, "H", 1, orientation, True)]
    )
    return stream.getvalue()


def test_a_raw_file_is_developed_to_srgb(tmp_path):
    """Linear 0.2140 is sRGB 127.5 (IEC 61966-2-1); a camera that sees sRGB must give it back."""
    path = tmp_path / "tray.dng"
    path.write_bytes(dng(np.full((240, 320, 3), 0.2140)))
    read = read_photo(path).rgb
    assert read.dtype == np.uint8
    assert np.abs(np.median(read.reshape(-1, 3), axis=0) - 127.5).max() <= 4


def test_a_raw_file_keeps_colours_apart_and_is_turned(tmp_path):
    light = np.zeros((240, 320, 3)) + 0.2
    light[:, :160, 0] = 0.6
    path = tmp_path / "tray.dng"
    path.write_bytes(dng(light, orientation=6))
    read = read_photo(path).rgb.astype(int)
    assert read.shape[0] > read.shape[1]
    top, bottom = read[40, 120], read[-40, 120]
    assert top[0] - top[1] > 50
    assert abs(bottom[0] - bottom[1]) < 12


def test_raw_is_told_by_content_or_ending():
    assert is_raw(dng(np.full((64, 64, 3), 0.2)), "tray.tif")
    assert is_raw(b"FUJIFILMCCD-RAW 0201", "a")
    plain = io.BytesIO()
    Image.fromarray(scene()).save(plain, "TIFF")
    assert not is_raw(plain.getvalue(), "tray.tif")
    assert is_raw(plain.getvalue(), "tray.NEF")
    for short in (b"", b"II*\0", b"II*\0\xff\xff\xff\xff", b"MM\0*\0\0\0\x08\0\xff"):
        assert not is_raw(short, "tray.tif")


def test_damaged_raw_is_refused_with_one_line(tmp_path):
    path = tmp_path / "tray.nef"
    plain = io.BytesIO()
    Image.fromarray(scene()).save(plain, "TIFF")
    for content in (plain.getvalue(), dng(np.full((64, 64, 3), 0.2))[:900], b"FUJIFILMCCD-RAW 0201" + bytes(300)):
        path.write_bytes(content)
        with pytest.raises(PhotoUnreadable, match=r"tray\.nef") as error:
            read_photo(path)
        assert "\n" not in str(error.value)


def test_a_raw_file_too_large_is_refused(monkeypatch, tmp_path):
    with pytest.raises(PhotoTooLarge, match="Save a smaller copy"):
        formats.decode_raw(dng(np.full((240, 320, 3), 0.2)), "tray.dng", 300)


@pytest.mark.parametrize("planes", ["contig", "separate"])
@pytest.mark.parametrize("compression", [None, "zlib"])
def test_deep_tiff(tmp_path, planes, compression):
    path = tmp_path / "deep.tif"
    deep = large_scene().astype(np.uint16) * 257
    if planes == "separate":
        deep = np.moveaxis(deep, 2, 0)
    tifffile.imwrite(path, deep, photometric="rgb", planarconfig=planes, compression=compression)
    assert np.abs(read_photo(path).rgb.astype(int) - large_scene()).max() <= 1


def test_deep_planar_tiff_is_turned(tmp_path):
    path = tmp_path / "deep.tif"
    stored = np.moveaxis(np.asarray(turned(scene(), 6)).astype(np.uint16) * 257, 2, 0)
    tifffile.imwrite(path, stored, photometric="rgb", planarconfig="separate", extratags=[(274, "H", 1, 6, True)])
    assert np.abs(read_photo(path).rgb.astype(int) - scene()).max() <= 1


def photo_of_a_phone(tmp_path):
    path = tmp_path / "phone.jpg"
    Image.fromarray(large_scene()).save(path, quality=95, exif=exif_of_a_phone())
    return path


def test_the_focal_length_is_kept_in_px(tmp_path):
    """A 28 mm equivalent on a 36 x 24 mm frame: f over the diagonal is 28 / 43.267."""
    photo = read_photo(photo_of_a_phone(tmp_path))
    assert photo.focal_px == pytest.approx(28 / 43.2666 * np.hypot(256, 160), rel=1e-4)
    Image.fromarray(scene()).save(tmp_path / "bare.png")
    assert read_photo(tmp_path / "bare.png").focal_px is None


def test_no_place_gets_into_what_is_made_from_a_photograph(tmp_path):
    path = photo_of_a_phone(tmp_path)
    with Image.open(path) as original:
        assert original.getexif().get_ifd(IFD.GPSInfo)  # it is there to begin with
    photo = read_photo(path)
    assert set(PhotoImage.__slots__) == {"rgb", "sha256", "file_name", "focal_px"}
    outline = np.array([[20, 20], [120, 20], [120, 100]], dtype=np.float32)
    for made in (cut_crop(photo, LIGHT, None, outline).image, draw_outlines(photo, [outline])):
        stream = io.BytesIO()
        Image.fromarray(made).save(stream, "PNG")
        again = Image.open(io.BytesIO(stream.getvalue()))
        assert not again.getexif()
        assert set(again.info) <= {"dpi"}


def test_damaged_new_formats_raise_nothing_but_photo_errors(tmp_path):
    """A short run; `python -m tests.imaging.fuzz_decode` runs as long as asked."""
    rng = np.random.default_rng(8)
    originals = [("a.heic", heic(large_scene())), ("a.dng", dng(np.full((120, 160, 3), 0.3)))]
    refused = 0
    for turn in range(120):
        name, content = originals[turn % 2]
        path = tmp_path / name
        path.write_bytes(mutated(content, rng))
        try:
            assert read_photo(path).rgb.ndim == 3
        except PhotoError as error:
            assert "\n" not in str(error)
            refused += 1
    assert refused > 5
