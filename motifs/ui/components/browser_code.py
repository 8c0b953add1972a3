"""Components written for the browser: their files, and how a picture gets an address there."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st
from streamlit import runtime

if TYPE_CHECKING:
    from streamlit.components.v2.types import ComponentRenderer

HERE = Path(__file__).resolve().parent


@cache
def component_named(name: str, html: str, *before: str) -> ComponentRenderer:
    """Register NAME.js and NAME.css once; html: the element that they fill.

    before: names of further scripts, put in front of it as they are.
    """
    scripts = [(HERE / f"{script}.js").read_text(encoding="utf-8") for script in (*before, name)]
    return st.components.v2.component(
        f"motifs_{name}",
        html=html,
        css=(HERE / f"{name}.css").read_text(encoding="utf-8"),
        js="\n".join(scripts),
    )


def address_of(content: bytes, mimetype: str, place: str) -> str:
    """Serve a picture to this visitor as long as the page shows it; the same content keeps its address.

    place: where on the page it is shown, unique there.
    """
    if not runtime.exists():
        return ""
    return str(runtime.get_instance().media_file_mgr.add(content, mimetype, place))
