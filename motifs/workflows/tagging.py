"""Terms on many sherds at once, by a person; what the program proposes is elsewhere and never overwrites them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.catalogue import TAG_KINDS
from motifs.design.starter import INDETERMINATE
from motifs.errors import InputError, UnknownName
from motifs.records import Term
from motifs.workflows.crops import crops_of
from motifs.workflows.vocabulary import add_term, term_named

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import BoxPx, Catalogue, TagRow


@dataclass(frozen=True, slots=True)
class Tagged:
    """What was done. term: the label, where a synonym was typed. changed: sherds that did not have it before, or lost it."""

    kind: str
    term: str
    changed: tuple[str, ...]
    unchanged: tuple[str, ...]
    notes: tuple[str, ...]


def tag_sherds(
    cat: Catalogue,
    numbers: Sequence[str],
    kind: str,
    name: str,
    *,
    box_px: BoxPx | None = None,
    confidence: float | None = None,
    is_new: bool = False,
    by: str,
) -> Tagged:
    """Put one term on many sherds, in one change that one undo takes back.

    Parameters
    ----------
    numbers : catalogue numbers; doubles count once.
    kind : one of TAG_KINDS.
    name : label or synonym of a term of the vocabulary, or "indeterminate".
    box_px : x, y, width, height in px of the crop; for one sherd only.
    confidence : 0..1, where it was stated.
    is_new : add the term to the vocabulary if it is not there.

    Raises
    ------
    UnknownName
        No such sherd, or no such term and is_new is False.
    InputError
        No sherd, a box for several sherds, a box beyond the crop, another kind, a confidence outside 0..1.
    """
    wanted = list(dict.fromkeys(numbers))
    _check(cat, wanted, kind, box_px)
    with cat.transaction(by=by):
        label = _label(cat, kind, name, is_new=is_new, by=by)
        before = {number: {tag.tag_id for tag in tags} for number, tags in cat.tags_of(wanted).items()}
        changed = [
            number
            for number in wanted
            if cat.add_tag(number, label, kind, box_px=box_px, confidence=confidence).tag_id not in before[number]
        ]
    notes = () if label == name else (f"'{name}' is recorded under its term '{label}'",)
    return Tagged(kind, label, tuple(changed), tuple(number for number in wanted if number not in changed), notes)


def untag_sherds(cat: Catalogue, numbers: Sequence[str], kind: str, name: str, *, by: str) -> Tagged:
    """Take one term off many sherds, boxes of it included, in one change.

    Raises
    ------
    UnknownName
        No such sherd, or none of them has the term.
    InputError
        No sherd, or another kind.
    """
    wanted = list(dict.fromkeys(numbers))
    _check(cat, wanted, kind, None)
    label = _known_label(cat, kind, name)
    with cat.transaction(by=by):
        changed: list[str] = []
        for number, tags in cat.tags_of(wanted).items():
            for tag in tags:
                if tag.kind == kind and tag.term in {label, name}:
                    cat.remove_tag(tag.tag_id)
                    changed.append(number)
        if not changed:
            raise UnknownName(
                f"none of the {len(wanted)} sherds has the {kind} '{label}'; list their tags to see what they have"
            )
    gone = tuple(dict.fromkeys(changed))
    return Tagged(kind, label, gone, tuple(number for number in wanted if number not in gone), ())


def remove_tag(cat: Catalogue, tag_id: int, *, by: str) -> None:
    """Take one tag off its sherd; other tags of the same term stay. UnknownName for one that is not there."""
    with cat.transaction(by=by):
        cat.remove_tag(tag_id)


def tags_in_words(tags: Sequence[TagRow]) -> tuple[str, ...]:
    """One line a tag: kind, term, box, confidence, who and on which day."""
    return tuple(
        f"{tag.kind}: {tag.term}"
        + ("" if tag.box_px is None else f" (box {','.join(map(str, tag.box_px))})")
        + ("" if tag.confidence is None else f", confidence {tag.confidence:g}")
        + f" [{tag.by}, {tag.at[:10]}]"
        for tag in tags
    )


def _check(cat: Catalogue, numbers: Sequence[str], kind: str, box_px: BoxPx | None) -> None:
    if kind not in TAG_KINDS:
        raise InputError(f"'{kind}' is no kind of tag; the kinds are {', '.join(TAG_KINDS)}")
    if not numbers:
        raise InputError("no sherd to tag; name at least one catalogue number")
    for number in numbers:
        cat.sherd(number)
    if box_px is None:
        return
    if len(numbers) > 1:
        raise InputError(f"a box belongs to one sherd, not to {len(numbers)}; tag them one by one, or without the box")
    _check_box(cat, numbers[0], box_px)


def _check_box(cat: Catalogue, number: str, box_px: BoxPx) -> None:
    crop = next(crop for _, crop in crops_of(cat, [cat.sherd(number)]))
    height, width = crop.mask.shape
    x, y, w, h = box_px
    if min(x, y) < 0 or min(w, h) < 1 or x + w > width or y + h > height:
        shown = ",".join(map(str, box_px))
        raise InputError(
            f"the box {shown} goes beyond the crop of '{number}', which is {width} by {height} px; draw it inside"
        )


def _label(cat: Catalogue, kind: str, name: str, *, is_new: bool, by: str) -> str:
    if name == INDETERMINATE:
        return name
    try:
        return term_named(cat, kind, name).label
    except UnknownName:
        if not is_new:
            raise
    return add_term(cat, Term(kind, name), by=by).label


def _known_label(cat: Catalogue, kind: str, name: str) -> str:
    """Return the label, or the name as typed: a term that was dropped can still be taken off."""
    try:
        return term_named(cat, kind, name).label
    except UnknownName:
        return name
