"""Record the analyst's word on pairs of sherds; the next sort obeys it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.errors import InputError
from motifs.workflows.word import lot_links

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue

SAME = "same"
DIFFERENT = "different"

Pair = tuple[str, str]


def tell_pairs(
    cat: Catalogue,
    lot: str,
    *,
    same: Sequence[Pair] = (),
    different: Sequence[Pair] = (),
    withdrawn: Sequence[Pair] = (),
    cannot_tell: Sequence[Pair] = (),
    by: str,
) -> int:
    """Record that pairs are of one vessel, or of two, or cannot be told, or take back what was said; all of it or nothing.

    What is withdrawn goes first, so that a judgement can be turned round in one step. A pair that cannot be told is not
    asked again; a later "same" or "different" closes it.

    Returns
    -------
    The number of links the lot has now.

    Raises
    ------
    UnknownName
        No such lot, a sherd that is not in it, or no link to withdraw.
    LinksContradict
        It cannot hold together with what was said before, by links or by attributions.
    """
    if not (same or different or withdrawn or cannot_tell):
        raise InputError("nothing was told; give two sherds after --same, --different, --cannot-tell or --withdraw")
    cat.lot(lot)
    with cat.transaction(by=by):
        for a, b in withdrawn:
            if not cat.ask_again(lot, a, b):
                cat.withdraw(lot, a, b)
        for relation, pairs in ((SAME, same), (DIFFERENT, different)):
            for a, b in pairs:
                cat.tell(lot, a, b, relation)
                cat.ask_again(lot, a, b)
        for a, b in cannot_tell:
            _leave_open(cat, lot, a, b)
        lot_links(cat, lot, cat.sherd_numbers(lot))
        return len(cat.links(lot))


def _leave_open(cat: Catalogue, lot: str, a: str, b: str) -> None:
    """Keep that a pair cannot be told; InputError where somebody told it before."""
    told = next((link for link in cat.links(lot) if {link.a, link.b} == {a, b}), None)
    if told is not None:
        raise InputError(
            f"{told.by} told that {a} and {b} are {told.relation}; take that back first (--withdraw {a} {b}) to leave them open"
        )
    cat.leave_open(lot, a, b)
