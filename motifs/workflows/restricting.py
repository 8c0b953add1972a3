"""What is not to be shown: restricting, freeing, and what has to be said about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, RestrictionRow

NOTICE = (
    "Who may see burial goods, sacred designs and the places they come from is not for this program to say. Consult the "
    "descendant communities and the people of the place before you photograph, compare, publish or unlock; follow the "
    "heritage law of the country and your institution's rules, which come first; and ask what has to be left out or given back. "
    "A restriction keeps honest hands from showing something by mistake. It is no encryption: whoever has the folder has the "
    "photographs. Keep the folder where only those who may see it can open it."
)


@dataclass(frozen=True, slots=True)
class Restricted:
    """What is restricted now. withheld: how many sherds are therefore not shown."""

    restrictions: tuple[RestrictionRow, ...]
    withheld: int


def restricted_now(cat: Catalogue) -> Restricted:
    """List the restrictions, oldest first."""
    return Restricted(cat.restrictions(), cat.withheld())


def restrict(cat: Catalogue, kind: str, name: str, ground: str, *, note: str = "", by: str) -> Restricted:
    """Keep something from being shown.

    Raises
    ------
    UnknownName, NameRefused, InputError
        As `Catalogue.restrict`.
    """
    with cat.transaction(by=by):
        cat.restrict(kind, name, ground, note=note)
    return restricted_now(cat)


def lift(cat: Catalogue, kind: str, name: str, *, ground: str | None = None, reason: str, by: str) -> Restricted:
    """Let something be shown again; UnknownName where it is not restricted, InputError without a reason."""
    with cat.transaction(by=by):
        cat.lift_restriction(kind, name, ground, reason=reason)
    return restricted_now(cat)
