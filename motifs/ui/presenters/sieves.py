"""Finding, narrowing and ordering what a list holds; the same words and the same behaviour on every page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

_Thing = TypeVar("_Thing")

ALL = "all"


@dataclass(frozen=True, slots=True)
class Asked:
    """What a person asked of a list: words to find, which kind to show, in which order."""

    words: str = ""
    show: str = ALL
    order: str = ""


@dataclass(frozen=True, slots=True)
class Sieve(Generic[_Thing]):
    """How a list can be sifted.

    text: what is searched in. kinds: names of what can be shown, with their conditions. orders: names of orders, with their
    keys; None leaves the order as it is. The first order is the usual one.
    """

    text: Callable[[_Thing], str]
    kinds: Mapping[str, Callable[[_Thing], bool]]
    orders: Mapping[str, Callable[[_Thing], Any] | None]

    @property
    def shows(self) -> tuple[str, ...]:
        """Everything that can be shown; all of it first."""
        return (ALL, *self.kinds)


def sifted(things: Sequence[_Thing], sieve: Sieve[_Thing], asked: Asked) -> list[_Thing]:
    """What holds the words (in any case) and is of the kind, in the order asked for; what is not known of is not asked for."""
    wanted = asked.words.casefold().strip()
    fits = sieve.kinds.get(asked.show)
    kept = [one for one in things if wanted in sieve.text(one).casefold() and (fits is None or fits(one))]
    key = sieve.orders.get(asked.order)
    return kept if key is None else sorted(kept, key=key)


def shown_words(shown: int, of: int) -> str:
    """How many of a list are shown; empty where it is all of them."""
    return "" if shown == of else f"{shown} of {of} shown"
