"""Motifs from the outlines of symbols in free fonts, where such a font is found on this machine.

DejaVu Sans (Debian package fonts-dejavu-core; licence: Bitstream Vera and Arev terms, changes in the public domain)
and Vera (shipped inside the reportlab package; Bitstream Vera licence). Without them the other families remain.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from PIL import ImageFont

from motifs.practice.marks import Fill, Marks

if TYPE_CHECKING:
    from motifs.practice.arrays import FloatArray

Variant = tuple[str, float, Callable[..., Marks], dict[str, Any]]
SYMBOLS: dict[str, str] = {
    "dejavu": (
        "↟↢↩↯∀∃∈∐∛∞∭≋≏≣⊕⊗⊠⋈⋔◍◐◔◙◬◰☊♃♄♅♆♈♉♋♎♑♒♖♘♣♠♥♫⚘✱✲✻✽✾✿❀❁❄❅❉❦❧➲➸"
        "ΓΔΘΛΞΣΦΨΩαβγδζθλξφБДЖЗИЛЦЩЫЭЮЯѢѬԂ"
        "ԲԳԴԶԷԸԹԺԽԾԿՀՁՃՄაბგდევზთკლმნოპრსტფქღყშჩძწჭხჯჰ"
        "ᐂᑌᑕᒉᓀᓴᔕᔭᕃᖅᖚᖠⴰⴱⴳⴶⴻⴼⴽⵄⵅⵇⵌⵎⵙⵛⵞⵣⵥⵯ"
    ),
    "vera": "&@§¶ßÞ£%¥ØÆ24579",
}
"""Symbols and letters taken from each font; those that a font lacks are left out. New ones go to a string's end."""
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


def _names(font: str) -> list[tuple[str, str]]:
    """Return the (family name, character) wanted of a font, whether it has them or not."""
    return [(f"glyph-{font}-{ord(character):04x}", character) for character in SYMBOLS[font]]


def _lacking(file: Path) -> bytes:
    """Return the picture that a font shows for a character it lacks."""
    return bytes(_font(file).getmask("\U0010ffff", mode="L"))


def variants() -> list[tuple[int, Variant]]:
    """Return the glyph families of the fonts found, with their place in the full list so that numbers never move."""
    out: list[tuple[int, Variant]] = []
    found = dict(font_files())
    for number, font in enumerate(SYMBOLS):
        if font in found:
            out += [(1000 * number + k, one) for k, one in _available(found[font], _names(font))]
    return out


def _available(file: Path, names: list[tuple[str, str]]) -> list[tuple[int, Variant]]:
    missing, out = _lacking(file), []
    for k, (name, character) in enumerate(names):
        mask = _font(file).getmask(character, mode="L")
        if bytes(mask) != missing and min(mask.size) >= GLYPH_PX // 5:
            aspect = round(0.9 * mask.size[0] / max(mask.size) + 0.1, 3)
            out.append((k, (name, max(aspect, 0.4), glyph_figure, {"file": file, "character": character})))
    return out
