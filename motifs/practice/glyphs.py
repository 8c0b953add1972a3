"""Motifs from the outlines of symbols in free fonts, where such a font is found on this machine.

DejaVu Sans (Debian package fonts-dejavu-core; licence: Bitstream Vera and Arev terms, changes in the public domain)
and Vera (shipped inside the reportlab package; Bitstream Vera licence). Without them the other families remain.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import ImageFont

from motifs.practice.arrays import FloatArray
from motifs.practice.marks import Fill, Marks

Variant = tuple[str, float, Callable[..., Marks], dict[str, Any]]
SYMBOL_RANGES = ((0x2190, 16), (0x2200, 20), (0x25A0, 60), (0x2600, 60), (0x2701, 60), (0x03B1, 20), (0x10D0, 30), (0x1401, 60), (0x2D30, 40))
DEBIAN_FONT = Path("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf")
GLYPH_PX = 160


def font_files() -> tuple[tuple[str, Path], ...]:
    """Return the fonts found, as (short name, file)."""
    found = [("dejavu", DEBIAN_FONT)] if DEBIAN_FONT.is_file() else []
    spec = importlib.util.find_spec("reportlab")
    if spec is not None and spec.origin is not None:
        vera = Path(spec.origin).parent / "fonts" / "VeraBd.ttf"
        found += [("vera", vera)] if vera.is_file() else []
    return tuple(found)


@lru_cache(maxsize=8)
def _font(file: Path) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(file), GLYPH_PX)


@lru_cache(maxsize=4096)
def _rings(file: Path, character: str) -> tuple[FloatArray, ...]:
    """Return a glyph's outlines, scaled to height 1 with a small margin; empty when the font lacks it."""
    mask = _font(file).getmask(character, mode="L")
    width, height = mask.size
    if min(width, height) < GLYPH_PX // 5:
        return ()
    image = np.pad(np.asarray(mask, np.uint8).reshape(height, width), 2)
    found, _ = cv2.findContours((image > 127).astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    outlines = [cv2.approxPolyDP(one, 0.7, True)[:, 0].astype(np.float64) for one in found]
    outlines = [one for one in outlines if len(one) >= 3]
    if not outlines:
        return ()
    scale = 0.9 / max(height, width)
    return tuple((one - [2, 2]) * scale + [0.05, 0.05] for one in outlines)


def glyph_figure(s: FloatArray, file: Path, character: str) -> Marks:
    """Return a symbol as a filled shape, leaning and stretching a little with the style."""
    lean = np.array([[1.0 + 0.06 * s[0], 0.0], [0.1 * s[1], 1.0]])
    return (Fill(tuple(one @ lean for one in _rings(file, character))),)


def variants() -> list[Variant]:
    """Return the glyph families of the fonts found; an empty list when there are none."""
    out: list[Variant] = []
    return out
