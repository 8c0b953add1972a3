"""Names are text, kept as typed: `0012`, `11-4` and `1E5` stay what they are."""

from __future__ import annotations

import difflib
import unicodedata
from typing import TYPE_CHECKING

from motifs.errors import InputError, NameRefused, UnknownName

if TYPE_CHECKING:
    from collections.abc import Iterable

MAX_NAME_LENGTH = 200

# Unicode general categories that a name cannot hold: control, surrogate, line and paragraph separator.
_REFUSED_CATEGORIES = frozenset({"Cc", "Cs", "Zl", "Zp"})
# Bidirectional classes of characters that turn the direction of what follows (UAX #9): a name with one of
# them reads differently from what it is. Joiners, which some scripts need, are of another class and stay.
_REFUSED_DIRECTIONS = frozenset({"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"})


def check_name(name: str, what: str = "name") -> str:
    r"""Return a name that is fit for a lot, a site, a term or a vessel.

    Parameters
    ----------
    name
        As typed.
    what
        What it names ("lot", "site"...), for the message.

    Returns
    -------
    str
        The name in Unicode normalisation form C (UAX #15), so that one name typed on two systems is one
        name; otherwise untouched.

    Raises
    ------
    NameRefused
        Empty, ``.``, holding ``/``, ``\``, ``..``, a control character or one that turns the writing
        direction, with a space at either end, or longer than 200 characters.
    """
    reason = _refusal(name)
    if reason:
        raise NameRefused(f"{what} {_shown(name)} {reason}; give another {what} name")
    return unicodedata.normalize("NFC", name)


def composed(name: str) -> str:
    """Return a name as the catalogue holds it (Unicode normalisation form C), to look it up however it was typed."""
    return unicodedata.normalize("NFC", name)


def _refusal(name: str) -> str | None:
    if not name.strip():
        return "is empty"
    if len(unicodedata.normalize("NFC", name)) > MAX_NAME_LENGTH:
        return f"is longer than {MAX_NAME_LENGTH} characters"
    for part in ("/", "\\", ".."):
        if part in name:
            return f"holds '{part}'"
    if any(is_refused_character(character) for character in name):
        return "holds a control character"
    if name != name.strip():
        return "begins or ends with a space"
    return "is only a dot" if name == "." else None


def is_refused_character(character: str) -> bool:
    """Whether a character is a control, a surrogate, a line separator, or turns the writing direction."""
    return (
        unicodedata.category(character) in _REFUSED_CATEGORIES
        or unicodedata.bidirectional(character) in _REFUSED_DIRECTIONS
    )


def check_note(text: str, what: str = "note") -> str:
    """Return free text; tabs and line ends are fine.

    Raises
    ------
    InputError
        The text holds another control character, which no database keeps reliably.
    """
    if any(is_refused_character(character) and character not in "\n\r\t" for character in text):
        raise InputError(f"{what} {_shown(text)} holds a control character; type it again without")
    return text


def unknown(what: str, name: str, known: Iterable[str]) -> UnknownName:
    """Make the error for a name that is not there, with the nearest names that are."""
    names = list(known)
    near = difflib.get_close_matches(name, names, n=2, cutoff=0.7)
    if near:
        return UnknownName(f"no {what} {_shown(name)}; did you mean {' or '.join(map(_shown, near))}?")
    if not names:
        return UnknownName(f"no {what} {_shown(name)}; there is no {what} yet: bring photographs in first")
    shown = ", ".join(map(_shown, names[:5])) + (", ..." if len(names) > 5 else "")
    return UnknownName(f"no {what} {_shown(name)}; there is {shown}")


def _shown(name: str) -> str:
    """Quote a name so that one line stays one line and a terminal is not steered by it."""
    short = name if len(name) <= 60 else name[:57] + "..."
    return "'" + "".join(c if c.isprintable() else ascii(c)[1:-1] for c in short) + "'"
