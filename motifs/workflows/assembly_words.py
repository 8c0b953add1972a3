"""Steps of an assembly as an analyst reads them at the sand box: what, onto what, from where, and what to watch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.joins.clearance import LEAST_CONTACT_MM

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.joins.assembly import AssemblyPlan, LockedPiece, Step
    from motifs.joins.clearance import Blocking

DRIFT_MM: Final = 1.0
"""An error of this much at the start grows round the pot (common practice)."""
STEP_MM: Final = 0.8
"""Joins that leave more open than this are looked at under raking light before they set."""
LEAN_SHARE: Final = 0.5
_WAYS: Final = ("right", "lower right", "below", "lower left", "left", "upper left", "above", "upper right")


@dataclass(frozen=True, slots=True)
class StepLine:
    """One step in words.

    step: from 1. add: the sherd, or the first of a group; adds: all of them. to: sherds it touches, longest contact first. block: letter of
    the group being built. from_side: the side from which it slides in, or None for a first piece. box_turn_deg: turn the group so far
    clockwise in the sand box, and the new piece stands on top. warning: what to watch, or None.
    """

    step: int
    add: str
    adds: tuple[str, ...]
    to: tuple[str, ...]
    block: str
    from_side: str | None
    box_turn_deg: float | None
    is_locked: bool
    warning: str | None


def step_lines(
    plan: AssemblyPlan,
    blocking: Blocking,
    names: Sequence[str],
    residuals_mm: Sequence[float | None],
    *,
    first: int = 1,
    first_block: int = 0,
) -> list[StepLine]:
    """Put a plan into words.

    Parameters
    ----------
    plan, blocking : of the pieces.
    names : of the pieces, in their order.
    residuals_mm : what the joins of each piece leave open, None where nothing joins it.
    first, first_block : number of the first step and of the first block.
    """
    drift: dict[int, float] = {}
    held = {one.piece: one for one in plan.locked}
    lines = []
    for number, step in enumerate(plan.steps, start=first):
        _drifted(step, residuals_mm, drift)
        warnings = _warnings(step, blocking, names, residuals_mm, drift, held, first_block)
        turn = _box_turn(step, blocking) if step.to else None
        lines.append(
            StepLine(
                number,
                names[step.adds[0]],
                tuple(names[k] for k in step.adds),
                tuple(names[k] for k in step.to),
                block_letter(first_block + step.block),
                None if step.slide_deg is None else side_of(step.slide_deg),
                turn,
                step.is_locked,
                "; ".join(warnings) or None,
            )
        )
    return lines


def block_letter(block: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    letters = ""
    block += 1
    while block:
        block, rest = divmod(block - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def side_of(slide_deg: float) -> str:
    """The side a piece comes from when it moves that way (0 to the right, 90 down)."""
    return _WAYS[round(((slide_deg + 180.0) % 360.0) / 45.0) % 8]


def _drifted(step: Step, residuals_mm: Sequence[float | None], drift: dict[int, float]) -> None:
    """Errors add up from the start, as independent ones do: by their squares."""
    before = min((drift.get(k, 0.0) for k in step.to), default=0.0)
    for piece in step.adds:
        own = residuals_mm[piece] or 0.0
        drift[piece] = float(np.hypot(drift.get(piece, before), own)) if step.to else own


def _warnings(
    step: Step,
    blocking: Blocking,
    names: Sequence[str],
    residuals_mm: Sequence[float | None],
    drift: dict[int, float],
    held: dict[int, LockedPiece],
    first_block: int,
) -> list[str]:
    if not step.adds or (not step.to and not step.is_locked):
        return []
    out = []
    if step.is_locked:
        by = " and ".join(names[k] for piece in step.adds if piece in held for k in held[piece].by) or "its neighbours"
        out.append(
            f"locked out: no way in along the wall is left, {by} hold it; set it in from the face before they are fixed, or leave it out"
        )
    if len(step.adds) > 1:
        out.append(
            f"close group {block_letter(first_block + (step.from_block or 0))} onto it in one: try it with tape first, all joins at once"
        )
    if step.is_tight and not step.is_locked:
        out.append("sides run parallel: it slides in, but with no clearance; clean edges, and try it dry")
    if len(step.adds) == 1 and len(step.to) == 1:
        out.append("held by one edge only: a second contact or a fill, or it fails first")
    worst = max((residuals_mm[k] or 0.0 for k in step.adds), default=0.0)
    if worst > STEP_MM:
        out.append(f"its joins leave {worst:.1f} mm open: look under raking light, do not force it")
    if max(drift[k] for k in step.adds) > 2 * DRIFT_MM and len(step.to) > 1:
        out.append("errors have added up to here: check the curve and the far side before this sets")
    if _leans(step, blocking):
        out.append("stands over its joint: prop it in the sand")
    return out


def _box_turn(step: Step, blocking: Blocking) -> float:
    """Clockwise turn after which the new piece stands above what it touches, so that its weight closes the join."""
    moving = _middle(blocking, step.adds)
    away = moving - _middle(blocking, step.to)
    return round(float(-90.0 - np.degrees(np.arctan2(away[1], away[0]))) % 360.0, 0)


def _leans(step: Step, blocking: Blocking) -> bool:
    """Whether the new piece's middle lies beyond the ends of its contact, seen from the contact."""
    contact = sum(
        float(blocking.contact_mm[k, other])
        for k in step.adds
        for other in step.to
        if blocking.contact_mm[k, other] >= LEAST_CONTACT_MM
    )
    size = float(np.sqrt(sum(blocking.areas_mm2[k] for k in step.adds)))
    return contact < LEAN_SHARE * size


def _middle(blocking: Blocking, pieces: Sequence[int]) -> np.ndarray:
    weight = blocking.areas_mm2[list(pieces)]
    return np.asarray((blocking.middles_mm[list(pieces)] * weight[:, None]).sum(axis=0) / weight.sum())
