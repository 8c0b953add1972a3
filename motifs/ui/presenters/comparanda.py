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
    from motifs.workflows.tag_proposals import TagProposal, Witness


MOST_WITNESSES = 5
PROBABLE_FIRST, ALIKE_FIRST, BY_SITE = ORDERS = ("most probable first", "most alike first", "site by site")
"""How neighbours are laid out."""


def neighbours_wall(
    found: Comparanda, order: str = PROBABLE_FIRST, text: str = "", looked_at: str | None = None
) -> Wall:
    """The sherds asked for and their neighbours, all at one scale.

    Parameters
    ----------
    order : one of ORDERS; site by site gives each site a row of its own, the site of the nearest first.
    text : only neighbours with this in their number, lot or site, in any case.
    looked_at : the neighbour that is shown closer.
    """
    asked = tuple(Tile(number) for number in (found.query, *found.others))
    note = "the part in the box" if found.box_px else "the whole sherd" if len(asked) == 1 else "together"
    rows = _near_rows(found, sifted(found.neighbours, text), order)
    return Wall(
        (Row("asked", "Asked for", note, asked), *rows),
        f"Nearest decorations to {found.query}",
        chosen=looked_at,
        px_per_mm=2.2,
    )


def sifted(neighbours: Sequence[Neighbour], text: str) -> list[Neighbour]:
    """Neighbours with a text in their number, lot or site; all for an empty one."""
    wanted = text.strip().casefold()
    return [near for near in neighbours if wanted in f"{near.sherd}\n{near.lot}\n{near.site or ''}".casefold()]


def _near_rows(found: Comparanda, kept: Sequence[Neighbour], order: str) -> list[Row]:
    if order == BY_SITE:
        sites: dict[str | None, list[Neighbour]] = {}
        for near in kept:
            sites.setdefault(near.site, []).append(near)
        return [
            Row(
                f"site {place}",
                site or "Site not recorded",
                counted(len(nears), "sherd"),
                tuple(_tile(near) for near in nears),
            )
            for place, (site, nears) in enumerate(sites.items())
        ]
    ranked = sorted(kept, key=lambda near: -near.similarity) if order == ALIKE_FIRST else kept
    note = f"{len(kept)} of {counted(found.compared, 'sherd')} compared"
    tiles = tuple(_tile(near) for near in ranked)
    return [Row("near", "Nearest decorations", note, tiles, empty="None of them is called so.")]


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


def turned_words(turn_deg: float) -> str:
    """How far one picture is turned against another, in whole degrees."""
    turn = round((turn_deg + 180.0) % 360.0 - 180.0)
    return "as it stands" if not turn else f"turned by {abs(turn)}° {'anticlockwise' if turn > 0 else 'clockwise'}"


def seen_turn_deg(regions: MatchedRegions, query_up_deg: float, other_up_deg: float) -> float:
    """Anticlockwise turn between two sherds as they are shown, rim up, from the turn between their photographs."""
    # A mirror image turns the other way round.
    sense = -1.0 if regions.is_mirrored else 1.0
    return regions.turn_deg + sense * query_up_deg - other_up_deg


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


def agreement_words(regions: MatchedRegions, other: str, turn_deg: float | None = None) -> str:
    """Where and how two decorations agree. turn_deg: as they are shown; None: as photographed."""
    if not regions.matches:
        return f"No part of {regions.query} could be laid over {other}: what is alike is the whole, not a place."
    way = turned_words(regions.turn_deg if turn_deg is None else turn_deg)
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


KEPT_HEAD = ("Number", "Sherd", "Compared with", "Where", "Reason", "Similarity", "Same motif", "By", "On")
KEPT_ORDERS = ("oldest first", "newest first", "by sherd", "by site")


def kept_sifted(entries: Sequence[ComparandumRow], text: str, order: str) -> list[ComparandumRow]:
    """Entries of a list that hold a text anywhere, in one of KEPT_ORDERS."""
    wanted = text.strip().casefold()
    found = [one for one in entries if wanted in _all_words(one).casefold()]
    if order == "newest first":
        return found[::-1]
    if order == "by sherd":
        return sorted(found, key=lambda one: (one.query, one.entry_id))
    if order == "by site":
        return sorted(found, key=lambda one: (one.site or one.citation.holder, one.entry_id))
    return found


def _all_words(entry: ComparandumRow) -> str:
    return "\n".join((entry.query, entry.sherd or "", entry.site or "", entry.reason, entry.by, cited_words(entry)))


def kept_rows(entries: Sequence[ComparandumRow]) -> list[tuple[object, ...]]:
    """Rows of a kept list, under KEPT_HEAD."""
    return [
        (
            one.entry_id,
            one.query,
            one.sherd or cited_words(one),
            one.site or kept_at_words(one),
            one.reason,
            "" if one.similarity is None else f"{one.similarity:.2f}",
            "" if one.probability is None else f"{one.probability:.2f}",
            one.by,
            one.at[:10],
        )
        for one in entries
    ]


def kept_wall(entries: Sequence[ComparandumRow], chosen: str | None = None) -> Wall:
    """A kept list as pictures: a row for each sherd with what it is compared with; published pieces are told in the row's note."""
    queries: dict[str, list[ComparandumRow]] = {}
    for one in entries:
        queries.setdefault(one.query, []).append(one)
    rows = []
    for query, kept in queries.items():
        cited = "; ".join(f"{cited_words(one)} ({one.reason})" for one in kept if one.sherd is None)
        tiles = [Tile(query, ("the sherd asked about",))]
        tiles += [Tile(one.sherd, (one.site or "site not recorded", one.reason)) for one in kept if one.sherd]
        rows.append(Row(query, query, f"also: {cited}" if cited else "", tuple(tiles)))
    return Wall(tuple(rows), "Kept comparanda", chosen=chosen, px_per_mm=2.2)


def cited_words(entry: ComparandumRow) -> str:
    """A published piece in one line."""
    cited = entry.citation
    parts = (cited.author, cited.year, cited.title, cited.piece, cited.pages and f"p. {cited.pages}",
             cited.figure and f"fig. {cited.figure}")  # fmt: skip
    return ", ".join(part for part in parts if part)


def kept_at_words(entry: ComparandumRow) -> str:
    """Where a published piece is kept, and by whose leave it is shown."""
    cited = entry.citation
    parts = (cited.holder, cited.inventory_number and f"inv. {cited.inventory_number}", cited.rights)
    return ", ".join(part for part in parts if part)


def shown_witnesses(proposal: TagProposal) -> tuple[Witness, ...]:
    """Those that are shown as pictures: the most probable few."""
    return proposal.witnesses[:MOST_WITNESSES]


def proposal_words(proposal: TagProposal) -> str:
    """A proposed tag with what speaks for it."""
    named = [f"{one.sherd} ({one.probability:.2f}, tagged by {one.by})" for one in proposal.witnesses]
    return f"{proposal.kind} “{proposal.term}”, confidence {proposal.confidence:.2f}; it is on {listed(named, most=3)}"
