"""Text of the catalogue on its way to the page: always escaped, never read as Markdown or HTML."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


def safe(text: object) -> str:
    """Text as HTML that shows exactly these signs.

    Everything that a person typed, or that a file was called, goes through here before it meets `st.html`. Markdown never
    sees it: Streamlit's Markdown takes ``slip:red``, ``5*3*2`` or ``$x$`` for markup.
    """
    return html.escape(str(text), quote=True).replace("\n", "<br>")


def lines(items: Iterable[object], *, kind: str = "plain") -> str:
    """An HTML list of texts; empty for none."""
    entries = "".join(f"<li>{safe(item)}</li>" for item in items)
    return f'<ul class="m-{kind}">{entries}</ul>' if entries else ""


def facts(pairs: Iterable[tuple[str, object]]) -> str:
    """An HTML list of names and values; what has no value (None, empty) is left out."""
    entries = "".join(
        f"<dt>{safe(name)}</dt><dd>{safe(value)}</dd>" for name, value in pairs if value is not None and value != ""
    )
    return f'<dl class="m-facts">{entries}</dl>' if entries else ""


def table(head: Sequence[str], rows: Iterable[Sequence[object]], *, caption: str) -> str:
    """An HTML table of texts; caption: what it lists, for readers of the screen."""
    top = "".join(f'<th scope="col">{safe(cell)}</th>' for cell in head)
    body = "".join("<tr>" + "".join(f"<td>{safe(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return (
        f'<div class="m-scroll"><table class="m-table"><caption>{safe(caption)}</caption>'
        f"<thead><tr>{top}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def notice(kind: str, text: str) -> str:
    """One line to notice: kind "done", "note" or "wrong"."""
    role = "alert" if kind == "wrong" else "status"
    word = {"done": "Done:", "note": "Note:", "wrong": "Not done:"}[kind]
    return f'<div class="m-notice m-{kind}" role="{role}"><strong>{word}</strong> {safe(text)}</div>'


def counted(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun: "1 sherd", "3 sherds"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def listed(items: Sequence[str], *, most: int = 6) -> str:
    """A few names in a sentence: "a, b and 4 more"."""
    if len(items) <= most:
        return ", ".join(items[:-1]) + (" and " if len(items) > 1 else "") + "".join(items[-1:])
    return ", ".join(items[:most]) + f" and {len(items) - most} more"


def moment(at: str) -> str:
    """A UTC time of the catalogue as "2026-03-05 14:07 UTC"."""
    return f"{at[:10]} {at[11:16]} UTC"
