"""The layout, drawn in the browser: sherds moved and turned by mouse and keys over a grid of centimetres."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import streamlit as st

from motifs.joins.pieces import middle_mm
from motifs.ui.components.browser_code import component_named
from motifs.ui.components.crop_wall import pictures_of
from motifs.ui.presenters.layout import PictureFit, layout_json
from motifs.workflows.joins import outlines_mm

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from motifs.catalogue import Catalogue
    from motifs.workflows.layout import VesselLayout
    from motifs.workflows.snapping import SnapPlace


@dataclass(frozen=True, slots=True)
class Laying:
    """What a person did: a sherd laid at x_mm, y_mm, turned by turn_deg."""

    sherd: str
    x_mm: float
    y_mm: float
    turn_deg: float


def show_layout(
    cat: Catalogue,
    laid: VesselLayout,
    snaps: Sequence[SnapPlace],
    chosen: str | None,
    *,
    key: str,
    on_pick: Callable[[str], None],
    on_laid: Callable[[Laying], None],
    on_lock: Callable[[str], None],
) -> None:
    """Mount it. on_pick(sherd), on_laid(laying), on_lock(sherd) run before the page is drawn again."""
    there = {one.sherd for one in laid.sherds}

    def picked() -> None:
        sherd = _sent(key, "picked")
        if sherd in there:
            on_pick(str(sherd))

    def moved() -> None:
        laying = read_laying(_sent(key, "moved"), there)
        if laying is not None:
            on_laid(laying)

    def locked() -> None:
        sherd = _sent(key, "locked")
        if sherd in there:
            on_lock(str(sherd))

    # As photographed: the layout turns them itself.
    sherds = [replace(cat.sherd(number), rim_up_deg=None) for number in sorted(there)]
    pictures = pictures_of(cat, sherds, key)
    mount = component_named("layout_table", '<div class="layout"></div>', "sheet_window")
    mount(
        key=key,
        data=layout_json(laid, pictures, _fits(cat, laid), snaps, chosen),
        on_picked_change=picked,
        on_moved_change=moved,
        on_locked_change=locked,
    )


def read_laying(sent: object, there: set[str]) -> Laying | None:
    """What the browser sent, if it has the shape of a laying."""
    if not isinstance(sent, dict) or sent.get("sherd") not in there:
        return None
    values = [sent.get(name) for name in ("x", "y", "turn")]
    if not all(isinstance(value, int | float) and math.isfinite(value) for value in values):
        return None
    x, y, turn = (float(value) for value in values if value is not None)
    return Laying(str(sent["sherd"]), x, y, turn)


def _fits(cat: Catalogue, laid: VesselLayout) -> dict[str, PictureFit]:
    """How the picture of each sherd is laid on its outline."""
    outlines = outlines_mm(cat, [cat.sherd(one.sherd) for one in laid.sherds])
    out = {}
    for one in laid.sherds:
        points = np.asarray(outlines[one.sherd], np.float64)
        middle = middle_mm(points)
        turn = np.radians(one.turn_deg)
        across = (points - middle) @ [np.cos(turn), -np.sin(turn)]
        centre = (points.min(axis=0) + points.max(axis=0)) / 2 - middle
        # Above and below the widest place the girth is shorter, so that a sherd is drawn wider than it is.
        widened = float(np.ptp(one.outline_mm[:, 0]) / max(float(np.ptp(across)), 1e-6))
        out[one.sherd] = PictureFit(float(centre[0]), float(centre[1]), widened)
    return out


def _sent(key: str, name: str) -> object:
    return st.session_state.get(key, {}).get(name)
