"""The looks: contrast of the theme and of the style sheets, measured by a published formula."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
THEME = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text(encoding="utf-8"))["theme"]
STYLES = [ROOT / "motifs" / "ui" / "style.css", *(ROOT / "motifs" / "ui" / "components").glob("*.css")]
LEAST_TEXT, LEAST_GRAPHIC = 4.5, 3.0


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb: WCAG 2.2, definition of relative luminance (W3C Recommendation, 2023)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2: (lighter + 0.05) / (darker + 0.05)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_formula_gives_the_values_of_the_standard() -> None:
    """Black on white is 21 and a colour on itself 1; #767676 on white is the lightest grey that reaches 4.5 (common knowledge of the trade)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#123456", "#123456") == pytest.approx(1.0)
    assert contrast("#767676", "#ffffff") >= LEAST_TEXT > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("ground", ["backgroundColor", "secondaryBackgroundColor"])
@pytest.mark.parametrize("ink", ["textColor", "primaryColor", "linkColor"])
def test_theme_text_can_be_read(ink: str, ground: str) -> None:
    """WCAG 2.2 success criterion 1.4.3: 4.5 for text."""
    assert contrast(THEME[ink], THEME[ground]) >= LEAST_TEXT


def test_white_on_buttons_can_be_read() -> None:
    assert contrast("#ffffff", THEME["primaryColor"]) >= LEAST_TEXT


@pytest.mark.parametrize("style", STYLES, ids=lambda path: path.name)
def test_every_text_colour_of_a_style_sheet_can_be_read(style: Path) -> None:
    colours = set(re.findall(r"(?<![-\w])color: (#[0-9a-f]{6})", style.read_text(encoding="utf-8")))
    for colour in colours:
        for ground in ("backgroundColor", "secondaryBackgroundColor"):
            assert contrast(colour, THEME[ground]) >= LEAST_TEXT, colour


def test_borders_of_notices_can_be_seen() -> None:
    """WCAG 2.2 success criterion 1.4.11: 3 for what is not text."""
    style = (ROOT / "motifs" / "ui" / "style.css").read_text(encoding="utf-8")
    for name in ("done", "note", "wrong"):
        colour = re.search(rf"\.m-{name} {{ border-color: (#[0-9a-f]{{6}})", style)
        assert colour is not None
        assert contrast(colour[1], THEME["backgroundColor"]) >= LEAST_GRAPHIC
