"""The sorting table's other views in words: counts with their methods, and the map of a lot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.ui.presenters.sorting import place_words
from motifs.ui.presenters.text import safe, table

if TYPE_CHECKING:
    from motifs.workflows.counts import CountLine, LotCounts
    from motifs.workflows.evidence_map import LotMap
    from motifs.workflows.table import LotTable

TABLE, QUESTIONS, MAP, COUNTS = "Table", "Questions", "Map", "Counts"
VIEWS = (TABLE, QUESTIONS, MAP, COUNTS)

# Okabe & Ito 2008, colours that colour-blind people tell apart; a sign for each as well, for grey print.
COLOURS = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9", "#000000")
SIGNS = ("circle", "square", "diamond", "triangle-up", "cross", "star", "hexagon")
LOOSE_COLOUR, LOOSE_SIGN = "#6d675d", "circle-open"


@dataclass(frozen=True, slots=True)
class Cloud:
    """The points of one vessel on the map. told: a line for each, escaped for HTML."""

    name: str
    colour: str
    sign: str
    sherds: tuple[str, ...]
    x: tuple[float, ...]
    y: tuple[float, ...]
    told: tuple[str, ...]


def clouds(lot_map: LotMap, lot_table: LotTable) -> tuple[Cloud, ...]:
    """The map's points, one cloud a vessel in the table's order, and the unassigned last."""
    at = {point.sherd: point for point in lot_map.points}
    homes: list[tuple[str | None, list[str]]] = [
        (vessel.name, [sherd.number for sherd in vessel.sherds]) for vessel in lot_table.vessels
    ]
    homes.append((None, [sherd.number for sherd in lot_table.unassigned]))
    found = []
    for place, (vessel, numbers) in enumerate(homes):
        shown = [number for number in numbers if number in at]
        if shown:
            found.append(
                Cloud(
                    safe(place_words(vessel)),
                    LOOSE_COLOUR if vessel is None else COLOURS[place % len(COLOURS)],
                    LOOSE_SIGN if vessel is None else SIGNS[(place + place // len(SIGNS)) % len(SIGNS)],
                    tuple(shown),
                    tuple(at[number].x for number in shown),
                    tuple(at[number].y for number in shown),
                    tuple(safe(f"{number}: {place_words(vessel)}") for number in shown),
                )
            )
    return tuple(found)


def axis_title(axis: str) -> str:
    """What an axis is made of; in spreads of one vessel."""
    return safe(axis[:1].upper() + axis[1:]) if axis else "nothing differs along this axis"


def picked_numbers(event: object) -> list[str]:
    """Catalogue numbers of the points that were picked on the chart; what is no such event is none."""
    selection = event.get("selection") if isinstance(event, dict) else None
    points = selection.get("points", []) if isinstance(selection, dict) else []
    told = [point.get("customdata") for point in points if isinstance(point, dict)]
    found = [one[0] if isinstance(one, list | tuple) and one else one for one in told]
    return list(dict.fromkeys(number for number in found if isinstance(number, str)))


def counts_html(counts: LotCounts) -> str:
    """Two tables: numbers of vessels by method, and measures."""
    head = ("What", "Number", "Method", "Notes")
    vessels = table(head, [_row(line) for line in counts.vessels], caption="Numbers of vessels, each by its own method")
    measures = table(head, [_row(line) for line in counts.measures], caption="Measures to compare contexts by")
    return f'{vessels}<div class="m-gap"></div>{measures}'


def _row(line: CountLine) -> tuple[object, ...]:
    return (line.what, line.words or "–", line.method, "; ".join(line.notes))
