"""What the layout page shows: sherds on a grid, places to snap to, joins, steps and the record in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from motifs.ui.presenters.sieves import Sieve
from motifs.ui.presenters.text import counted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import TreatmentRow
    from motifs.ui.presenters.wall import Picture
    from motifs.workflows.layout import LaidJoin, LaidSherd, VesselLayout
    from motifs.workflows.snapping import SnapPlace

BY_WORDS = {"joins": "by its joins", "band": "by band only, beside the others", "loose": "loose, place unknown"}
MOST_POINTS = 60


@dataclass(frozen=True, slots=True)
class PictureFit:
    """From the middle of an outline to the middle of its picture, unturned, mm; and how much wider the layout draws it."""

    dx_mm: float
    dy_mm: float
    widened: float


def layout_json(
    laid: VesselLayout,
    pictures: Mapping[str, Picture],
    fits: Mapping[str, PictureFit],
    snaps: Sequence[SnapPlace],
    chosen: str | None,
) -> dict[str, Any]:
    """What the component takes."""
    return {
        "label": f"Layout of vessel {laid.vessel}: {counted(len(laid.sherds), 'sherd')}",
        "chosen": chosen,
        "sherds": [
            _sherd_json(one, pictures.get(one.sherd), fits.get(one.sherd, PictureFit(0.0, 0.0, 1.0)), laid)
            for one in laid.sherds
        ],
        "snaps": [
            {"sherd": one.sherd, "beside": one.beside, "x": one.x_mm, "y": one.y_mm, "turn": one.turn_deg}
            for one in snaps
        ],
    }


def _sherd_json(one: LaidSherd, picture: Picture | None, fit: PictureFit, laid: VesselLayout) -> dict[str, Any]:
    turn = np.radians(one.turn_deg)
    c, s = np.cos(turn), np.sin(turn)
    every = max(1, len(one.outline_mm) // MOST_POINTS)
    local = (one.outline_mm[::every] - [one.x_mm, one.y_mm]) @ np.array([[c, -s], [s, c]])
    step = next((line.step for line in laid.steps if line.adds == (one.sherd,)), None)
    return {
        "sherd": one.sherd,
        "x": one.x_mm,
        "y": one.y_mm,
        "turn": one.turn_deg,
        "by": one.by,
        "locked": one.is_locked,
        "step": step,
        "url": "" if picture is None else picture.url,
        "width": 0.0 if picture is None else round(picture.width_mm, 2),
        "height": 0.0 if picture is None else round(picture.height_mm, 2),
        "dx": round(fit.dx_mm, 2),
        "dy": round(fit.dy_mm, 2),
        "widened": round(fit.widened, 4),
        "points": [[round(float(x), 1), round(float(y), 1)] for x, y in local],
        "alt": sherd_words(one),
    }


def sherd_words(one: LaidSherd) -> str:
    """A sherd of the layout in one line."""
    open_ = "" if one.residual_mm is None else f", its joins leave {one.residual_mm:.2f} mm open"
    locked = ", locked by hand" if one.is_locked else ""
    return f"sherd {one.sherd}, {BY_WORDS[one.by]}{open_}{locked}"


def standing_words(laid: VesselLayout) -> str:
    """The layout in one sentence."""
    joined = sum(one.by == "joins" for one in laid.sherds)
    missing = "" if laid.missing_share is None else f" Missing: {laid.missing_share:.0%} of {laid.missing_of}."
    upright = "" if laid.is_upright else " Which way is up is not known."
    return f"{joined} of {counted(len(laid.sherds), 'sherd')} lie by their joins; {laid.wall}.{missing}{upright}"


def step_rows(laid: VesselLayout) -> list[tuple[str, ...]]:
    """The order of assembly as rows."""
    return [
        (
            f"{line.block}{line.step}",
            ", ".join(line.adds),
            ", ".join(line.to) or "first",
            line.from_side or "",
            "" if line.box_turn_deg is None else f"{line.box_turn_deg:.0f}°",
            line.warning or "",
        )
        for line in laid.steps
    ]


def join_words(join: LaidJoin) -> str:
    """A join in one line, as an entry to choose."""
    said = "" if join.word is None else f", {join.word}"
    stand = f"{join.residual_mm:.2f} mm open" if join.refused is None else f"not used: {join.refused}"
    return f"{join.a} to {join.b}: fit {join.fit:.2f}, {join.length_mm:.0f} mm{said}; {stand}"


def join_sieve() -> Sieve[LaidJoin]:
    """How the list of joins can be sifted."""
    return Sieve(
        text=lambda join: f"{join.a} {join.b}",
        kinds={
            "not judged": lambda join: join.word is None,
            "accepted": lambda join: join.word == "accepted",
            "not used": lambda join: join.refused is not None,
        },
        orders={
            "best fit first": lambda join: -join.fit,
            "longest first": lambda join: -join.length_mm,
            "widest open first": lambda join: -join.residual_mm,
        },
    )


def record_rows(rows: Sequence[TreatmentRow]) -> list[tuple[str, ...]]:
    """The treatment record, newest first."""
    return [
        (
            str(row.treatment_id),
            row.done_on,
            row.kind,
            row.person,
            "; ".join(f"{name}: {value}" for name, value in row.fields.items()),
            row.note,
        )
        for row in reversed(rows)
    ]
