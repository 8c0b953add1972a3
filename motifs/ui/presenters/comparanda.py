"""Neighbours of a sherd as a wall, how probable they are and where they agree, kept lists, proposed tags: in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.ui.presenters.text import counted, listed
from motifs.ui.presenters.wall import Row, Tile, Wall

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import BoxPx, ComparandumRow
    from motifs.workflows.agreeing import MatchedRegions
    from motifs.workflows.comparanda import Comparanda, Neighbour
    from motifs.workflows.tag_proposals import TagProposal


def neighbours_wall(found: Comparanda) -> Wall:
    """The sherds asked for and their neighbours, most probable first, all at one scale."""
    tiles = tuple(_tile(near) for near in found.neighbours)
    asked = tuple(Tile(number) for number in (found.query, *found.others))
    note = "the part in the box" if found.box_px else "the whole sherd" if len(asked) == 1 else "together"
    near = Row("near", "Nearest decorations", f"{len(tiles)} of {counted(found.compared, 'sherd')} compared", tiles)
    return Wall((Row("asked", "Asked for", note, asked), near), f"Nearest decorations to {found.query}", px_per_mm=2.6)


def _tile(near: Neighbour) -> Tile:
    return Tile(
        near.sherd,
        (
            f"{near.rank}. {near.site or 'site not recorded'}",
            f"lot {near.lot}",
            *(() if near.probability is None else (f"same motif: {near.probability:.2f}",)),
            f"similarity {near.similarity:.2f}",
            *(() if near.regions is None else (places_words(near.regions),)),
        ),
    )


def nothing_words(found: Comparanda) -> str:
    """An empty answer, said so that it is one."""
    if found.compared == 0:
        return f"Nothing comparable to {found.query}: there is no other sherd to compare it with here."
    return f"Nothing comparable to {found.query}: of {counted(found.compared, 'sherd')} compared, none fits what was asked for."


def verdict_words(found: Comparanda) -> str:
    """What the answer as a whole says; empty where no probability is known."""
    if found.is_comparable is None:
        return ""
    if not found.is_comparable:
        return (
            "Nothing comparable: none of them more probably shows the same motif than not. The nearest are shown all "
            "the same."
        )
    probable = sum((near.probability or 0.0) >= 0.5 for near in found.neighbours)
    return f"{counted(probable, 'sherd')} of those shown more probably {'shows' if probable == 1 else 'show'} the same motif than not."


def neighbour_rows(found: Comparanda) -> list[tuple[object, ...]]:
    """Rows of the list twin."""
    return [
        (
            near.rank,
            near.sherd,
            near.site or "not recorded",
            near.lot,
            f"{near.similarity:.3f}",
            "not known" if near.probability is None else f"{near.probability:.2f}",
            "not looked for" if near.regions is None else near.regions.matches,
        )
        for near in found.neighbours
    ]


def places_words(regions: MatchedRegions) -> str:
    """How much agrees, short."""
    return "no place agrees" if not regions.matches else f"{counted(regions.matches, 'place')} agree"


def agreement_words(regions: MatchedRegions, other: str) -> str:
    """Where and how two decorations agree."""
    if not regions.matches:
        return f"No part of {regions.query} could be laid over {other}: what is alike is the whole, not a place."
    turn = round(regions.turn_deg)
    way = "as photographed" if not turn else f"turned by {abs(turn)}° {'anticlockwise' if turn > 0 else 'clockwise'}"
    mirror = ", in mirror image" if regions.is_mirrored else ""
    return (
        f"Inside the lines {regions.matches} places of {regions.query} lie over places of {other} that look alike: "
        f"{way}{mirror}, {regions.scale:.2f} times as large on {other}."
    )


def box_words(box_px: BoxPx | None) -> str:
    """What is compared."""
    if box_px is None:
        return "The whole sherd is compared."
    x, y, width, height = box_px
    return f"Compared: the part from ({x}, {y}), {width} × {height} px of the crop ({width / 10:.0f} × {height / 10:.0f} mm)."


def kept_rows(entries: Sequence[ComparandumRow]) -> list[tuple[object, ...]]:
    """Rows of a kept list."""
    return [
        (one.entry_id, one.query, one.sherd or cited_words(one), one.site or "", one.reason, one.by) for one in entries
    ]


def cited_words(entry: ComparandumRow) -> str:
    """A published piece in one line."""
    cited = entry.citation
    parts = (cited.author, cited.year, cited.title, cited.piece, cited.pages and f"p. {cited.pages}",
             cited.figure and f"fig. {cited.figure}")  # fmt: skip
    return ", ".join(part for part in parts if part)


def proposal_words(proposal: TagProposal) -> str:
    """A proposed tag with what speaks for it."""
    named = [f"{one.sherd} ({one.probability:.2f}, tagged by {one.by})" for one in proposal.witnesses]
    return f"{proposal.kind} “{proposal.term}”, confidence {proposal.confidence:.2f}; it is on {listed(named, most=3)}"
