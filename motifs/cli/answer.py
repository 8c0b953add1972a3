"""What a command hands back to be printed: a JSON document, or the same in short plain lines."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

_NUMBER = re.compile(r"-|-?\d+(\.\d+)?")


@dataclass(frozen=True, slots=True)
class Answer:
    """document: printed with --json; lines: printed without; warnings go to stderr either way.

    then: called once all is printed, for a command that goes on. json_pieces: the document as JSON text already, for one that is
    very long; printed one after another in place of `document`.
    """

    document: Mapping[str, object]
    lines: Sequence[str] = ()
    warnings: Sequence[str] = ()
    exit_code: int = 0
    then: Callable[[], None] | None = None
    json_pieces: Sequence[str] = ()


def table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> list[str]:
    """Lines of a plain table: columns padded to their widest cell, numbers to the right, None as '-'."""
    cells = [[_cell(value) for value in row] for row in rows]
    widths = [max([len(title), *(len(row[i]) for row in cells)]) for i, title in enumerate(head)]
    to_right = [bool(rows) and all(_NUMBER.fullmatch(row[i]) for row in cells) for i in range(len(head))]
    return [_padded(head, widths, to_right), *(_padded(row, widths, to_right) for row in cells)]


def _cell(value: object) -> str:
    """Text of one cell; control characters made visible so that a name cannot steer the terminal."""
    if value is None:
        return "-"
    text = f"{value:.2f}" if isinstance(value, float) else str(value)
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def _padded(row: Sequence[str], widths: Sequence[int], to_right: Sequence[bool]) -> str:
    """One line, two blanks between columns, no blanks at its end."""
    parts = [
        text.rjust(width) if right else text.ljust(width)
        for text, width, right in zip(row, widths, to_right, strict=True)
    ]
    return "  ".join(parts).rstrip()
