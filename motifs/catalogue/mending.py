"""Where people laid sherds, what was decided and done to vessels, and their forms as recorded."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sqlalchemy import select

from motifs.catalogue import tables as t
from motifs.catalogue.lookup import find_kept_sherd, lot_id_of
from motifs.catalogue.names import check_name, check_note
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError, UnknownName

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy import RowMapping

TREATMENT_KINDS = (
    "decision",
    "condition",
    "cleaning",
    "marking",
    "joining",
    "fill",
    "photographs",
    "taking apart",
)


@dataclass(frozen=True, slots=True)
class PlacementRow:
    """Where a person laid a sherd: middle of its outline, mm, and clockwise turn of its photograph."""

    sherd: str
    x_mm: float
    y_mm: float
    turn_deg: float
    is_locked: bool
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class TreatmentRow:
    """One entry of a vessel's treatment record. done_on: ISO date; person: who did it; fields: what the kind asks for."""

    treatment_id: int
    lot: str
    vessel: str
    kind: str
    done_on: str
    person: str
    fields: Mapping[str, str]
    note: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class FormRow:
    """The form of a vessel.

    profile_mm: (drop below the rim, radius of the outside), rim first. wall_mm, repeats (of the decoration around the vessel): None
    unknown. sure_to_mm: down to here below the rim the profile was measured, None: all of it.
    """

    lot: str
    vessel: str
    profile_mm: tuple[tuple[float, float], ...]
    wall_mm: float | None = None
    repeats: int | None = None
    sure_to_mm: float | None = None
    note: str = ""
    by: str = field(default="", compare=False)
    at: str = field(default="", compare=False)


class Mending(Store):
    """Placements, treatments and forms of a collection."""

    def place_sherd(
        self, number: str, x_mm: float, y_mm: float, turn_deg: float, *, is_locked: bool = True
    ) -> PlacementRow:
        """Record where a person laid a sherd; it replaces the earlier place. Undoable.

        Raises
        ------
        UnknownName, InputError
            No such kept sherd; a number that is none.
        """
        sherd = find_kept_sherd(self._work.connection, number)
        if not all(math.isfinite(value) for value in (x_mm, y_mm, turn_deg)) or max(abs(x_mm), abs(y_mm)) > 1e5:
            raise InputError(
                f"'{number}' cannot be laid at {x_mm:g}, {y_mm:g} mm, {turn_deg:g} degrees; give plain numbers"
            )
        values = {
            "x_mm": round(float(x_mm), 3),
            "y_mm": round(float(y_mm), 3),
            "turn_deg": round(float(turn_deg) % 360.0, 3),
            "is_locked": is_locked,
        }
        present = self._active_placement(sherd["id"])
        if present is None or any(present[name] != value for name, value in values.items()):
            edit = Edit(self._work)
            if present is not None:
                edit.update(t.placement, present["id"], is_active=False)
            edit.insert(t.placement, {"lot_id": sherd["lot_id"], "sherd_id": sherd["id"], **values, "is_active": True})
            edit.log("laid", sherd["lot_id"], number, is_undoable=True)
        return self.placements(sherd["lot"])[number]

    def withdraw_placement(self, number: str) -> None:
        """Leave a sherd to its joins again. Undoable. UnknownName for the sherd, or where nobody laid it."""
        sherd = find_kept_sherd(self._work.connection, number)
        present = self._active_placement(sherd["id"])
        if present is None:
            raise UnknownName(f"nobody laid '{number}' by hand; it lies where its joins put it")
        edit = Edit(self._work)
        edit.update(t.placement, present["id"], is_active=False)
        edit.log("place withdrawn", sherd["lot_id"], number, is_undoable=True)

    def placements(self, lot: str) -> dict[str, PlacementRow]:
        """Return where people laid kept sherds of a lot, by number; UnknownName for the lot."""
        query = (
            select(t.placement, t.sherd.c.number)
            .select_from(t.placement.join(t.sherd, t.placement.c.sherd_id == t.sherd.c.id))
            .where(t.placement.c.is_active, t.sherd.c.state == "kept")
            .order_by(t.sherd.c.id)
        )
        with self._reading() as connection:
            query = query.where(t.placement.c.lot_id == lot_id_of(connection, lot), self._shown(connection))
            rows = connection.execute(query).mappings().all()
        return {
            row["number"]: PlacementRow(
                row["number"],
                row["x_mm"],
                row["y_mm"],
                row["turn_deg"],
                row["is_locked"],
                row["made_by"],
                row["made_at"],
            )
            for row in rows
        }

    def add_treatment(
        self,
        lot: str,
        vessel: str,
        kind: str,
        *,
        done_on: str,
        person: str,
        fields: Mapping[str, str],
        note: str = "",
        replaces: int | None = None,
    ) -> TreatmentRow:
        """Add an entry to a vessel's record, or put it in place of one, which the history keeps. Undoable.

        Raises
        ------
        UnknownName, InputError, NameRefused
            No such lot or entry; no such kind; a vessel, a person or a text that cannot be one.
        """
        connection = self._work.connection
        lot_id = lot_id_of(connection, lot)
        if kind not in TREATMENT_KINDS:
            raise InputError(f"'{kind}' is no kind of treatment entry; the kinds are {', '.join(TREATMENT_KINDS)}")
        values = {
            "lot_id": lot_id,
            "vessel": check_name(vessel, "vessel"),
            "kind": kind,
            "done_on": check_note(done_on),
            "person": check_note(person),
            "fields": {check_note(name): check_note(value) for name, value in fields.items()},
            "note": check_note(note),
            "is_active": True,
        }
        edit = Edit(self._work)
        if replaces is not None:
            self._known_treatment(lot, replaces)
            edit.update(t.treatment, replaces, is_active=False)
        row_id = edit.insert(t.treatment, values)
        edit.log(f"treatment: {kind}", lot_id, f"vessel {vessel}", is_undoable=True)
        return next(row for row in self.treatments(lot) if row.treatment_id == row_id)

    def withdraw_treatment(self, lot: str, treatment_id: int) -> None:
        """Take an entry out of the record; the history keeps it. Undoable. UnknownName for lot and entry."""
        row = self._known_treatment(lot, treatment_id)
        edit = Edit(self._work)
        edit.update(t.treatment, treatment_id, is_active=False)
        edit.log("treatment withdrawn", lot_id_of(self._work.connection, lot), f"vessel {row.vessel}", is_undoable=True)

    def treatments(self, lot: str, vessel: str | None = None) -> tuple[TreatmentRow, ...]:
        """Return the record of a lot's vessels, or of one, oldest first; UnknownName for the lot."""
        query = select(t.treatment).where(t.treatment.c.is_active).order_by(t.treatment.c.id)
        if vessel is not None:
            query = query.where(t.treatment.c.vessel == vessel)
        with self._reading() as connection:
            rows = connection.execute(query.where(t.treatment.c.lot_id == lot_id_of(connection, lot))).mappings().all()
        return tuple(_treatment_row(lot, row) for row in rows)

    def record_form(self, form: FormRow) -> FormRow:
        """Record the form of a vessel; it replaces the earlier one. Undoable. UnknownName for the lot; InputError for its numbers."""
        connection = self._work.connection
        lot_id = lot_id_of(connection, form.lot)
        values = {
            "vessel": check_name(form.vessel, "vessel"),
            "profile": [[float(drop), float(radius)] for drop, radius in checked_profile(form.profile_mm)],
            "wall_mm": form.wall_mm,
            "repeats": form.repeats,
            "sure_to_mm": form.sure_to_mm,
            "note": check_note(form.note),
        }
        present = self._active_form(form.lot, form.vessel)
        edit = Edit(self._work)
        if present is not None:
            edit.update(t.vessel_form, present["id"], is_active=False)
        edit.insert(t.vessel_form, {"lot_id": lot_id, **values, "is_active": True})
        edit.log("form recorded", lot_id, f"vessel {form.vessel}", is_undoable=True)
        kept = self.vessel_form(form.lot, form.vessel)
        if kept is None:
            raise RuntimeError("a form that was just written is not there")
        return kept

    def withdraw_form(self, lot: str, vessel: str) -> None:
        """Take the form of a vessel back. Undoable. UnknownName for the lot, or where none is recorded."""
        present = self._active_form(lot, vessel)
        if present is None:
            raise UnknownName(f"no form of vessel '{vessel}' is recorded in lot '{lot}'")
        edit = Edit(self._work)
        edit.update(t.vessel_form, present["id"], is_active=False)
        edit.log("form withdrawn", present["lot_id"], f"vessel {vessel}", is_undoable=True)

    def vessel_form(self, lot: str, vessel: str) -> FormRow | None:
        """Return the form of a vessel, None where none is recorded; UnknownName for the lot."""
        row = self._active_form(lot, vessel)
        if row is None:
            return None
        profile = tuple((float(drop), float(radius)) for drop, radius in row["profile"])
        return FormRow(
            lot,
            vessel,
            profile,
            row["wall_mm"],
            row["repeats"],
            row["sure_to_mm"],
            row["note"],
            row["made_by"],
            row["made_at"],
        )

    def _active_placement(self, sherd_id: int) -> RowMapping | None:
        query = select(t.placement).where(t.placement.c.sherd_id == sherd_id, t.placement.c.is_active)
        return self._work.connection.execute(query).mappings().one_or_none()

    def _active_form(self, lot: str, vessel: str) -> RowMapping | None:
        query = select(t.vessel_form).where(t.vessel_form.c.vessel == vessel, t.vessel_form.c.is_active)
        with self._reading() as connection:
            rows = connection.execute(query.where(t.vessel_form.c.lot_id == lot_id_of(connection, lot)))
            return rows.mappings().one_or_none()

    def _known_treatment(self, lot: str, treatment_id: int) -> TreatmentRow:
        for row in self.treatments(lot):
            if row.treatment_id == treatment_id:
                return row
        raise UnknownName(f"no treatment entry {treatment_id} in lot '{lot}'; list the entries to see which there are")


def checked_profile(profile_mm: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Return the points as floats; InputError where they make no profile."""
    points = tuple((float(drop), float(radius)) for drop, radius in profile_mm)
    if len(points) < 2:
        raise InputError("a profile needs two points or more, rim first: drop below the rim and radius, in mm")
    for drop, radius in points:
        if not (math.isfinite(drop) and math.isfinite(radius) and 0 < radius < 5000 and -100 <= drop < 5000):
            raise InputError(
                f"the profile point {drop:g}, {radius:g} mm cannot be; give drop below the rim and radius in mm"
            )
    if any(math.dist(a, b) < 0.5 for a, b in itertools.pairwise(points)):
        raise InputError("two points of the profile coincide; leave one out")
    return points


def _treatment_row(lot: str, row: RowMapping) -> TreatmentRow:
    return TreatmentRow(
        row["id"],
        lot,
        row["vessel"],
        row["kind"],
        row["done_on"],
        row["person"],
        row["fields"],
        row["note"],
        row["made_by"],
        row["made_at"],
    )
