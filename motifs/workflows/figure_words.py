"""Figures of a sherd in words, as a page or a sheet shows them: what, value with unit, how sure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from motifs.workflows.figures import quality_flags

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import Catalogue, ListedTag, RimRow, SherdRow, TagRow
    from motifs.workflows.figures import Figure

SLIPPED = ("slip", "slipped", "slip-coated", "engobe")
"""Words of a treatment or technique tag that say the ground of the face is a slip, not the paste."""


@dataclass(frozen=True, slots=True)
class FigureLine:
    """One line. name: what it is; text: value, unit and uncertainty; note: what to keep in mind, or empty."""

    name: str
    text: str
    note: str = ""


def measured_lines(cat: Catalogue, sherd: SherdRow) -> tuple[FigureLine, ...]:
    """Everything known of one sherd in words, kept figures and the recorded rim; empty before it is measured."""
    from motifs.workflows.measurements import figures_of  # noqa: PLC0415  (measuring is heavy to import, words are not)

    figures = figures_of(cat, [sherd]).get(sherd.number, {})
    is_slipped = has_slip(cat.tags(sherd.number))
    lines = figure_lines(figures, is_slipped=is_slipped, rim_up_deg=sherd.rim_up_deg)
    return (*lines, *rim_lines(cat.rims(sherd.lot).get(sherd.number)))


def has_slip(tags: Sequence[TagRow | ListedTag]) -> bool:
    """Whether a person said that the sherd is slipped."""
    kinds = {"treatment", "technique"}
    return any(tag.kind in kinds and tag.term.casefold() in SLIPPED for tag in tags)


def figure_lines(
    figures: Mapping[str, Figure], *, is_slipped: bool = False, rim_up_deg: float | None = None
) -> tuple[FigureLine, ...]:
    """Figures in words, in the order a person reads them; what was not measured is left out.

    Parameters
    ----------
    figures : by name, as measured.
    is_slipped : the ground of the face is a slip, so that its colour is not that of the paste.
    rim_up_deg : clockwise turn that brings the rim up; directions are then told as the sherd stands.
    """
    ground = "slip" if is_slipped else "paste"
    lines = [
        _plain(figures, "area", "area", "mm²", 0),
        _plain(figures, "max_dimension", "maximum dimension", "mm", 1),
        _colour(figures, "paste_munsell", f"{ground} colour"),
        _lab(figures, ground),
        *_paints(figures),
        _widths(figures),
        _share(figures, "decorated_share", "decorated share"),
        _direction(figures, rim_up_deg),
        _share(figures, "line_parallel", "of them along that direction"),
        _plain(figures, "band_height", "band height", "mm", 1, absent="no band between two framing lines is seen"),
        _plain(figures, "repeat", "repeat", "mm", 1, absent="less than one and a half repeats are seen"),
        _plain(figures, "blur", "blur at the outline", "px", 1),
    ]
    flags = [FigureLine("photograph", flag) for flag in quality_flags(figures)]
    return (*(line for line in lines if line is not None), *flags)


def rim_lines(rim: RimRow | None) -> tuple[FigureLine, ...]:
    """The rim in words, as recorded."""
    if rim is None:
        return ()
    read = rim.reading
    if read.diameter_mm is None:
        return (FigureLine("rim", "diameter unknown", f"recorded by {rim.by}"),)
    share = "" if read.percent is None else f", {read.percent:.0f} % of the rim"
    return (
        FigureLine(
            "rim",
            f"diameter {_with_sd(read.diameter_mm, read.diameter_sd_mm, 'mm', 0)}{share}",
            f"by {read.method}, recorded by {rim.by}",
        ),
    )


def _plain(
    figures: Mapping[str, Figure], key: str, name: str, unit: str, digits: int, *, absent: str = ""
) -> FigureLine | None:
    figure = figures.get(key)
    if figure is None or (figure.value is None and not absent):
        return None
    if not isinstance(figure.value, (int, float)):
        return FigureLine(name, "not seen", absent)
    return FigureLine(name, _with_sd(figure.value, figure.sd, unit, digits))


def _direction(figures: Mapping[str, Figure], rim_up_deg: float | None) -> FigureLine | None:
    figure = figures.get("line_direction")
    if figure is None or not isinstance(figure.value, (int, float)):
        return None
    stands = "rim up" if rim_up_deg is not None else "as photographed; nobody said yet which way is up"
    turned = (figure.value - (rim_up_deg or 0.0)) % 180.0
    return FigureLine("lines run", _with_sd(turned, figure.sd, "° from horizontal", 0), f"anticlockwise, {stands}")


def _with_sd(value: float, sd: Any, unit: str, digits: int) -> str:
    """Value and standard uncertainty, to as many digits as the uncertainty allows, at most `digits`."""
    if not isinstance(sd, (int, float)) or sd <= 0:
        return _joined(f"{value:.{digits}f}", unit)
    places = max(0, min(digits, 1 - math.floor(math.log10(sd))))
    return _joined(f"{value:.{places}f} ± {max(sd, 10.0**-places):.{places}f}", unit)


def _joined(number: str, unit: str) -> str:
    return f"{number}{unit}" if unit.startswith("°") else f"{number} {unit}"


def _share(figures: Mapping[str, Figure], key: str, name: str) -> FigureLine | None:
    figure = figures.get(key)
    if figure is None or not isinstance(figure.value, (int, float)):
        return None
    sd = f" ± {figure.sd:.0%}" if isinstance(figure.sd, (int, float)) and figure.sd >= 0.005 else ""
    return FigureLine(name, f"{figure.value:.0%}{sd}")


def _colour(figures: Mapping[str, Figure], key: str, name: str) -> FigureLine | None:
    figure = figures.get(key)
    if figure is None or not isinstance(figure.value, list):
        return None
    return FigureLine(name, _chips(figure.value), "nearest chips, distance in CIEDE2000; moist or dry as photographed")


def _chips(chips: Sequence[Any]) -> str:
    return ", ".join(f"{chip['chip']} ({chip['de']:.1f})" for chip in chips)


def _lab(figures: Mapping[str, Figure], ground: str) -> FigureLine | None:
    colour, spread = figures.get("paste_colour"), figures.get("paste_spread")
    if colour is None or not isinstance(colour.value, list):
        return None
    note = f"within the sherd ± {_three(spread.value)}" if spread is not None and isinstance(spread.value, list) else ""
    return FigureLine(f"{ground} L* a* b*", f"{_three(colour.value)} (± {_three(colour.sd)})", note)


def _three(values: Any) -> str:
    return " ".join(f"{value:.1f}" for value in values)


def _paints(figures: Mapping[str, Figure]) -> list[FigureLine | None]:
    chips, shares = figures.get("paint_munsell"), figures.get("paint_share")
    if chips is None or shares is None or not isinstance(chips.value, list) or not isinstance(shares.value, list):
        return []
    if len(chips.value) == 1:
        return [
            FigureLine(
                "paint colour",
                _chips(_list(chips.value[0])),
                "nearest chips, distance in CIEDE2000; of paint, or of the floor of a cut line",
            )
        ]
    return [
        FigureLine(f"paint colour {place}", _chips(_list(each)), f"{share:.0%} of the decoration")
        for place, (each, share) in enumerate(zip(chips.value, shares.value, strict=True), 1)
    ]


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _widths(figures: Mapping[str, Figure]) -> FigureLine | None:
    figure = figures.get("line_width")
    if figure is None:
        return None
    if not isinstance(figure.value, list) or not isinstance(figure.sd, list):
        return FigureLine("line width", "not seen", "under 6 mm of line")
    low, middle, high = (float(value) for value in figure.value)  # type: ignore[arg-type]
    return FigureLine(
        "line width", _with_sd(middle, figure.sd[1], "mm", 2), f"half of it between {low:.2f} and {high:.2f} mm"
    )
