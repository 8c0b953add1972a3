"""The map of a lot: every sherd a point, round which a lasso is drawn to pick what is to be moved."""

from __future__ import annotations

from typing import TYPE_CHECKING

import plotly.graph_objects as go
import streamlit as st

from motifs.catalogue import TAG_KINDS
from motifs.ui import jobs
from motifs.ui.actions import sorting as actions
from motifs.ui.choosing import SHERD, open_sherd, opened
from motifs.ui.components.crop_wall import pictures_of, show_wall
from motifs.ui.components.markup import show
from motifs.ui.components.vessel_desk import draw_places
from motifs.ui.presenters.sorting import picked_wall
from motifs.ui.presenters.table_views import Cloud, axis_title, clouds, picked_numbers
from motifs.ui.presenters.text import counted, listed, safe
from motifs.ui.session import NAMELESS, analyst
from motifs.workflows.evidence_map import LotMap, map_lot
from motifs.workflows.vocabulary import terms_of

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.table import LotTable

HEIGHT_PX = 560
LOOK = "map_look"
POINTS, PICTURES = LOOKS = ("points", "pictures")
MOST_PICTURES = 400
"""More than these would lie over each other; such a lot is shown as points."""

PICTURE_SHARE, WIDE = 0.15, 2.0
"""Longest side of the largest sherd, of the map's height; how many times wider than high a map may be."""

LEAD = (
    "Sherds lie close where the evidence for one vessel is strong. Drag a lasso round some, or choose them in the list, and move or "
    "tag them together; wheel to come nearer, and the hand of the chart's own bar to shift it. The map shows two axes of many: what "
    "overlaps here may still be told apart."
)


def draw_map(cat: Catalogue, lot_table: LotTable) -> None:
    """The chart, and beside it what was picked on it."""
    lot, by = lot_table.lot, analyst() or NAMELESS
    stamp = (str(cat.folder), lot, cat.version(lot), cat.is_unlocked)
    lot_map = jobs.prepared("map", stamp, lambda progress: map_lot(cat, lot, by=by, progress=progress))
    if lot_map is None:
        return
    show(f'<p class="m-say">{LEAD}</p>')
    if not lot_map.points:
        show('<p class="m-say">No cue could be measured on any sherd of this lot, so there is nothing to map.</p>')
        return
    chart, side = st.columns([7, 4])
    with chart:
        look = st.segmented_control("Show sherds as", LOOKS, default=POINTS, key=LOOK, bind="query-params")
        figure = _figure(clouds(lot_map, lot_table), lot_map)
        if look == PICTURES:
            _add_pictures(cat, figure, lot_map)
        event = st.plotly_chart(
            figure,
            key=f"map_{lot_table.lot}",
            on_select="rerun",
            selection_mode=("points", "box", "lasso"),
            config={"displaylogo": False, "scrollZoom": True},
        )
        if lot_map.without:
            show(
                f'<p class="m-say">Not on the map, since nothing could be measured: {safe(listed(lot_map.without))}.</p>'
            )
    with side, st.container(key="side"):
        _draw_picked(cat, lot_table, picked_numbers(event))


def _draw_picked(cat: Catalogue, lot_table: LotTable, picked: list[str]) -> None:
    there = {sherd.number for sherd in lot_table.sherds}
    lassoed = [number for number in picked if number in there]
    key = "map_picked"
    if st.session_state.get("map_lassoed") != lassoed:
        st.session_state["map_lassoed"] = lassoed
        st.session_state[key] = lassoed
    st.session_state[key] = [number for number in st.session_state.get(key, []) if number in there]
    numbers = st.multiselect("Picked sherds", sorted(there), key=key, placeholder="draw a lasso, or choose here")
    if not numbers:
        return
    show(f'<p class="m-say m-strong">{counted(len(numbers), "sherd")} picked</p>')
    draw_places(lot_table, numbers, key="_map")
    with st.expander("Tag them"):
        _draw_tags(cat, numbers)
    show_wall(
        picked_wall(lot_table, numbers, chosen=opened(SHERD)),
        pictures_of(cat, [cat.sherd(number) for number in numbers], "picked"),
        key="picked",
        on_pick=open_sherd,
    )


def _draw_tags(cat: Catalogue, numbers: list[str]) -> None:
    kind = st.selectbox("Kind of tag", TAG_KINDS, key=actions.TAG_KIND)
    labels = [term.label for term in terms_of(cat, kind)]
    st.selectbox("Term", labels, index=None, key=actions.TAG_TERM, placeholder="type to search")
    st.button("Put on the picked sherds", on_click=actions.tag_picked, args=(numbers,))


def _add_pictures(cat: Catalogue, figure: go.Figure, lot_map: LotMap) -> None:
    """Small pictures at one scale under the points, which stay to be lassoed."""
    if len(lot_map.points) > MOST_PICTURES:
        show(f'<p class="m-say">A lot of more than {MOST_PICTURES} sherds is shown as points.</p>')
        return
    pictures = pictures_of(cat, [cat.sherd(point.sherd) for point in lot_map.points], "map")
    xs, ys = [point.x for point in lot_map.points], [point.y for point in lot_map.points]
    span = max((max(xs) - min(xs)) / WIDE, max(ys) - min(ys), 1.0)
    longest_mm = max(max(picture.width_mm, picture.height_mm) for picture in pictures.values())
    unit = span * PICTURE_SHARE / longest_mm
    for point in lot_map.points:
        picture = pictures[point.sherd]
        figure.add_layout_image(
            source=picture.url,
            x=point.x,
            y=point.y,
            sizex=picture.width_mm * unit,
            sizey=picture.height_mm * unit,
            xref="x",
            yref="y",
            xanchor="center",
            yanchor="middle",
            layer="below",
        )
    figure.update_traces(marker={"size": 8})
    figure.update_xaxes(showgrid=False)
    figure.update_yaxes(showgrid=False)


def _figure(shown: tuple[Cloud, ...], lot_map: LotMap) -> go.Figure:
    figure = go.Figure(
        [
            go.Scatter(
                x=cloud.x,
                y=cloud.y,
                mode="markers",
                name=cloud.name,
                customdata=cloud.sherds,
                text=cloud.told,
                hovertemplate="%{text}<extra></extra>",
                marker={
                    "color": cloud.colour,
                    "symbol": cloud.sign,
                    "size": 9,
                    "opacity": 0.8,
                    "line": {"width": 1, "color": "#1d242b"},
                },
            )
            for cloud in shown
        ]
    )
    figure.update_layout(
        height=HEIGHT_PX,
        dragmode="lasso",
        margin={"l": 10, "r": 10, "t": 30, "b": 10},
        legend={"orientation": "h", "y": 1.08},
        xaxis={"title": axis_title(lot_map.axes[0]), "zeroline": False},
        yaxis={"title": axis_title(lot_map.axes[1]), "zeroline": False, "scaleanchor": "x"},
    )
    return figure
