"""What the measures print and write: one row a scene, and means with their standard errors."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from tests.outsider.marks import mean_and_error

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

Row = "Mapping[str, float | str | None]"


def as_table(groups: Mapping[str, Sequence[Mapping[str, float | str | None]]], columns: Iterable[str]) -> str:
    """A line a group: number of rows, then mean ± standard error of each column over the rows."""
    names = list(columns)
    lines = [f"{'':38s}{'n':>5s}" + "".join(f"{name:>16s}" for name in names)]
    for group, rows in groups.items():
        cells = "".join(f"{_cell([row.get(name) for row in rows]):>16s}" for name in names)
        lines.append(f"{group:38s}{len(rows):5d}{cells}")
    return "\n".join(lines)


def _cell(values: Sequence[float | str | None]) -> str:
    known = [float(value) for value in values if isinstance(value, int | float)]
    mean, error = mean_and_error(known)
    return "-" if not known else f"{mean:.3f} ± {error:.3f}" if len(known) > 1 else f"{mean:.3f}"


def group_rows(
    rows: Sequence[Mapping[str, float | str | None]], keys: Sequence[str]
) -> dict[str, list[Mapping[str, float | str | None]]]:
    """Rows by the values of some keys, in order of first appearance."""
    groups: dict[str, list[Mapping[str, float | str | None]]] = {}
    for row in rows:
        groups.setdefault(" ".join(str(row.get(key, "")) for key in keys), []).append(row)
    return groups


def write_rows(
    path: Path, measure: str, settings: Mapping[str, object], rows: Sequence[Mapping[str, float | str | None]]
) -> None:
    """All rows and the settings that made them, as JSON."""
    path.write_text(
        json.dumps({"measure": measure, "settings": dict(settings), "rows": list(rows)}, indent=1, default=str),
        encoding="utf-8",
    )
