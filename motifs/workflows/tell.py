"""Record the analyst's word on pairs of sherds; the next sort obeys it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.errors import InputError
from motifs.workflows.word import analysts_links

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
    by: str,
) -> int:
    """Record that pairs are of one vessel, or of two, or take back what was said; all of it or nothing.

    What is withdrawn goes first, so that a judgement can be turned round in one step.

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
    if not (same or different or withdrawn):
        raise InputError("nothing was told; give two sherds after --same, --different or --withdraw")
    cat.lot(lot)
    with cat.transaction(by=by):
        for a, b in withdrawn:
            cat.withdraw(lot, a, b)
        for relation, pairs in ((SAME, same), (DIFFERENT, different)):
            for a, b in pairs:
                cat.tell(lot, a, b, relation)
        numbers = [sherd.number for sherd in cat.sherds(lot)]
        links = cat.links(lot)
        analysts_links(numbers, links, cat.attributions(lot))
    return len(links)
