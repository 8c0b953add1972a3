"""Tags proposed for a sherd, with what speaks for them, to accept or refuse."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui import jobs
from motifs.ui.actions import tag_proposals as actions
from motifs.ui.components.markup import show
from motifs.ui.presenters.comparanda import proposal_words
from motifs.ui.presenters.text import lines, safe

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, SherdRow


def draw_proposals(cat: Catalogue, sherd: SherdRow) -> None:
    """The tags it has, the tags proposed for it, and a yes or no for each."""
    tags = [f"{tag.kind}: {tag.term} ({tag.by})" for tag in cat.tags(sherd.number)]
    show(lines(tags) or '<p class="m-say">Nothing is tagged on it yet.</p>')
    st.button("Propose tags from its neighbours", on_click=jobs.ask_for, args=(actions.PROPOSE,))
    jobs.do_waiting(actions.PROPOSE, lambda by, progress: actions.propose(sherd.number, by, progress))
    proposals = actions.open_proposals(cat, sherd.number)
    if proposals is None:
        return
    if not proposals:
        show('<p class="m-say">Nothing to propose: no tagged sherd is near enough, or all was settled.</p>')
    for place, proposal in enumerate(proposals):
        show(f'<p class="m-say">{safe(proposal_words(proposal))}</p>')
        with st.container(horizontal=True):
            st.button("Accept", key=f"accept_{place}", on_click=actions.accept, args=(proposal,))
            st.button("Refuse", key=f"refuse_{place}", on_click=actions.refuse, args=(proposal,))
