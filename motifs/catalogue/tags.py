"""Tags on sherds, and proposals for lots."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from sqlalchemy import RowMapping, Select, func, select

from motifs.catalogue import tables as t
from motifs.catalogue.comparanda import LIST_VERBS
from motifs.catalogue.labels import LABEL_VERBS
from motifs.catalogue.lookup import find_kept_sherd, ids_and_keys, lot_id_of
from motifs.catalogue.names import check_name, check_note
from motifs.catalogue.records import RECORD_VERBS
from motifs.catalogue.rows import TAG_KINDS, BoxPx, Json, ProposalRow, TagRow
from motifs.catalogue.sherds import OUTLINE_ACCEPTED, RIM_UP_SET
from motifs.catalogue.store import Edit
from motifs.catalogue.views import VIEW_VERBS
from motifs.catalogue.word import Word
from motifs.errors import InputError, UnknownName

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

PROPOSED, MEASURED = "proposed", "measured"
"""Lines of the history that change nothing a proposal rests on."""


class Tags(Word):
    """What was seen on a sherd, by people; and what the program proposes, kept apart."""

    def add_tag(
        self, number: str, term: str, kind: str, *, box_px: BoxPx | None = None, confidence: float | None = None
    ) -> TagRow:
        """Put a term on a sherd. Undoable.

        Parameters
        ----------
        number
            Of the sherd.
        term
            As typed, e.g. "chevron" or "indeterminate".
        kind
            One of TAG_KINDS.
        box_px
            (x, y, width, height) in px of the crop, where the term holds for a part.
        confidence
            0..1, where it was stated.

        Returns
        -------
        TagRow
            The new row, or the one that is there if the same was said already.

        Raises
        ------
        UnknownName, NameRefused
            No such kept sherd; the term cannot be one.
        InputError
            Another kind, a box without area, a confidence outside 0..1.
        """
        sherd = find_kept_sherd(self._work.connection, number)
        term, box = check_name(term, "term"), _checked_box(box_px)
        if kind not in TAG_KINDS:
            raise InputError(f"'{kind}' is no kind of tag; the kinds are {', '.join(TAG_KINDS)}")
        if confidence is not None and not 0 <= confidence <= 1:
            raise InputError(f"a confidence of {confidence} is not possible; give a number from 0 to 1")
        for present in self.tags(number):
            if (present.term, present.kind, present.box_px) == (term, kind, box_px):
                return present
        edit = Edit(self._work)
        values = {"sherd_id": sherd["id"], "term": term, "kind": kind, "box_px": box, "confidence": confidence}
        tag_id = edit.insert(t.tag, {**values, "is_active": True})
        edit.log("tagged", sherd["lot_id"], f"{number}: {term}", is_undoable=True)
        return next(tag for tag in self.tags(number) if tag.tag_id == tag_id)

    def remove_tag(self, tag_id: int) -> None:
        """Take a tag off. Undoable.

        Raises
        ------
        UnknownName
            No such tag.
        """
        query = _tag_query().add_columns(t.sherd.c.lot_id).where(t.tag.c.id == tag_id)
        found = self._work.connection.execute(query).mappings().one_or_none()
        if found is None:
            raise UnknownName(f"no tag {tag_id}; list the sherd's tags to see which there are")
        edit = Edit(self._work)
        edit.update(t.tag, tag_id, is_active=False)
        edit.log("tag removed", found["lot_id"], f"{found['number']}: {found['term']}", is_undoable=True)

    def tags(self, number: str) -> tuple[TagRow, ...]:
        """Return the tags of a sherd, oldest first; UnknownName for the sherd."""
        return self.tags_of([number])[number]

    def tags_of(self, numbers: Iterable[str]) -> dict[str, tuple[TagRow, ...]]:
        """Return the tags of many sherds, oldest first; every number asked for is in the answer."""
        with self._reading() as connection:
            ids = {row_id: number for number, (row_id, _) in ids_and_keys(connection, numbers).items()}
            tags: dict[str, list[TagRow]] = {number: [] for number in ids.values()}
            query = _tag_query() if len(ids) > 500 else _tag_query().where(t.tag.c.sherd_id.in_(list(ids)))
            for row in connection.execute(query).mappings():
                if row["sherd_id"] in ids:
                    tags[row["number"]].append(_tag_row(row))
        return {number: tuple(found) for number, found in tags.items()}

    def save_proposal(
        self, lot: str, kind: str, *, encoder_tags: Sequence[str], parameters: Mapping[str, Json], result: Json
    ) -> ProposalRow:
        """Keep what the program proposes for a lot. It never touches an attribution.

        Parameters
        ----------
        lot
            Must be there.
        kind
            What is proposed, e.g. "sort".
        encoder_tags
            Of the vectors it rests on.
        parameters, result
            Any JSON, by catalogue number rather than by position.

        Raises
        ------
        UnknownName
            No such lot.
        """
        lot_id = lot_id_of(self._work.connection, lot)
        values = {
            "lot_id": lot_id,
            "kind": check_note(kind, "kind"),
            "encoder_tags": list(encoder_tags),
            "parameters": dict(parameters),
            "result": result,
            "lot_version": self.version(lot),
        }
        edit = Edit(self._work)
        proposal_id = edit.insert(t.proposal, values)
        edit.log(PROPOSED, lot_id, kind, is_undoable=False)
        query = _proposal_query().where(t.proposal.c.id == proposal_id)
        return self._proposal_row(self._work.connection.execute(query).mappings().one())

    def latest_proposal(self, lot: str, kind: str) -> ProposalRow | None:
        """Return the newest proposal of a kind for a lot, or None; UnknownName for the lot."""
        with self._reading() as connection:
            query = _proposal_query().where(
                t.proposal.c.lot_id == lot_id_of(connection, lot), t.proposal.c.kind == kind
            )
            newest = query.order_by(t.proposal.c.id.desc()).limit(1)
            found = connection.execute(newest).mappings().one_or_none()
            return None if found is None else self._proposal_row(found)

    def has_proposal(self, lot: str, kind: str) -> bool:
        """Whether there is a proposal of a kind for a lot, without reading it; UnknownName for the lot."""
        with self._reading() as connection:
            query = select(t.proposal.c.id).where(
                t.proposal.c.lot_id == lot_id_of(connection, lot), t.proposal.c.kind == kind
            )
            return connection.scalar(query.limit(1)) is not None

    def _proposal_row(self, row: RowMapping) -> ProposalRow:
        later = select(func.count()).where(
            t.event.c.lot_id == row["lot_id"],
            t.event.c.id > row["lot_version"],
            t.event.c.verb.not_in(
                [
                    PROPOSED,
                    MEASURED,
                    RIM_UP_SET,
                    OUTLINE_ACCEPTED,
                    *VIEW_VERBS,
                    *LABEL_VERBS,
                    *LIST_VERBS,
                    *RECORD_VERBS,
                ]
            ),
        )
        with self._reading() as connection:
            is_current = connection.scalar(later) == 0
        return ProposalRow(
            proposal_id=row["id"],
            lot=row["lot"],
            kind=row["kind"],
            encoder_tags=tuple(row["encoder_tags"]),
            parameters=row["parameters"],
            result=row["result"],
            lot_version=row["lot_version"],
            is_current=is_current,
            by=row["made_by"],
            at=row["made_at"],
        )


def _proposal_query() -> Select[Any]:
    return select(t.proposal, t.lot.c.name.label("lot")).select_from(t.proposal.join(t.lot))


def _tag_query() -> Select[Any]:
    source = t.tag.join(t.sherd)
    return select(t.tag, t.sherd.c.number).select_from(source).where(t.tag.c.is_active).order_by(t.tag.c.id)


def _tag_row(row: RowMapping) -> TagRow:
    box = None if row["box_px"] is None else _box(row["box_px"])
    return TagRow(
        row["id"], row["number"], row["term"], row["kind"], box, row["confidence"], row["made_by"], row["made_at"]
    )


def _box(stored: Sequence[int]) -> BoxPx:
    x, y, width, height = stored
    return x, y, width, height


def _checked_box(box_px: BoxPx | None) -> list[int] | None:
    if box_px is None:
        return None
    if len(box_px) != 4 or not all(math.isfinite(side) for side in box_px) or min(box_px[2:]) <= 0 or min(box_px) < 0:
        raise InputError(f"the box {box_px} has no area on the crop; give x, y, width, height in px")
    return [int(side) for side in box_px]
