"""What the page has to know of a drawing before it shows it."""

from __future__ import annotations

import re

_VIEW = re.compile(r'viewBox="0 0 (\d+(?:\.\d+)?) (\d+(?:\.\d+)?)"')


def size_of(svg: str) -> tuple[float, float]:
    """Width and height of an SVG element as its viewBox says; a square where it says nothing."""
    found = _VIEW.search(svg[:2000])
    width, height = (float(found[1]), float(found[2])) if found else (1.0, 1.0)
    return (width, height) if width > 0 and height > 0 else (1.0, 1.0)
