"""Rulers: period and unit of their ticks on several materials, at any angle, at a slant; and what is no ruler."""

from functools import lru_cache

import numpy as np
import pytest

from motifs.imaging import read_tray
from motifs.imaging.ruler import find_ruler
from motifs.imaging.ruler_ticks import UNITS
from motifs.records import PhotoImage
from tests.imaging.cards import seen_through
from tests.imaging.rulers import draw_ruler, lay_ruler
from tests.imaging.shapes import linear
from tests.imaging.trays import Recipe, make_tray

TRAY = Recipe(
    seed=5,
    size_px=(1300, 1000),
    px_per_mm=6.0,
    sherds=3,
    sherd_mm=32.0,
    bar="none",
    label=False,
    backdrop="grey",
    dust=0,
    crumbs=0,
)


@lru_cache(maxsize=1)
def tray():
    return make_tray(TRAY)


def with_ruler(material, kind, angle_deg, px_per_mm, slant=0.0, at=(650, 500)):
    scene = np.broadcast_to(linear((128, 128, 128)), (1000, 1300, 3)).astype(np.float32)
    return seen_through(lay_ruler(scene, draw_ruler(material, 130.0, kind=kind), at, px_per_mm, angle_deg, slant))


@pytest.mark.parametrize(
    ("material", "kind", "angle", "px_per_mm"),
    [
        ("plastic", "mm", 0, 7),
        ("steel", "mm", 12, 8),
        ("wood", "mm", -33, 7),
        ("black", "mm", 90, 6),
        ("plastic", "half", 20, 12),
        ("steel", "inch16", 45, 6),
    ],
)
def test_period_and_unit(material, kind, angle, px_per_mm):
    """An inch is 25.4 mm (ISO 31-1); a tick in ten, twenty or sixteen is long (common practice)."""
    ruler = find_ruler(with_ruler(material, kind, angle, px_per_mm))
    assert ruler.period_px / ruler.unit.mm == pytest.approx(px_per_mm, rel=0.003)
    assert ruler.unit.mm == pytest.approx({"mm": 1.0, "half": 0.5, "inch16": 1.5875}[kind])
    assert abs(ruler.period_px / ruler.unit.mm / px_per_mm - 1) < 3 * ruler.relative_sd
    assert ruler.unit in UNITS


def test_a_slant_shows_as_drift_and_widens_the_uncertainty():
    flat, slanted = (find_ruler(with_ruler("plastic", "mm", 5, 7, slant)) for slant in (0.0, 0.02))
    assert abs(flat.drift) < 0.003
    assert abs(slanted.drift) > 0.008
    assert slanted.relative_sd > flat.relative_sd


def test_ticks_that_are_all_alike_tell_no_unit():
    assert find_ruler(with_ruler("plastic", "plain", 5, 7)).unit is None


@pytest.mark.parametrize("shape", [(1, 1, 3), (40, 300, 3), (300, 40, 3), (300, 400, 3)])
def test_nothing_is_no_ruler(shape):
    assert find_ruler(np.full(shape, 128, np.uint8)) is None
    noise = np.random.default_rng(1).integers(0, 255, shape, dtype=np.uint8)
    ruler = find_ruler(noise)
    assert ruler is None or ruler.unit is None


def test_a_tray_with_a_ruler_has_its_scale_and_no_sherd_more():
    longer = np.pad(tray().rgb, ((0, 240), (0, 0), (0, 0)), mode="reflect")
    longer[1000:] = np.median(longer[1000:].reshape(-1, 3), axis=0)
    lit = lay_ruler(linear(longer).astype(np.float32), draw_ruler("plastic", 150.0), (640, 1130), 6.0, 3.0)
    reading = read_tray(PhotoImage(seen_through(lit), "0" * 64, "ruler.jpg"))
    assert reading.scale.source == "ruler"
    assert reading.scale.px_per_mm == pytest.approx(6.0, rel=0.005)
    assert "millimetres" in reading.warnings[0]
    assert len(reading.sherds) == len(tray().masks)


def test_a_tray_without_any_scale_says_so():
    reading = read_tray(PhotoImage(tray().rgb, "0" * 64, "bare.jpg"))
    assert reading.scale is None
    assert any("no scale bar" in line for line in reading.warnings)
