"""Tags proposed for a sherd, with what speaks for them as pictures, to accept or refuse."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui import jobs
from motifs.ui.actions import tag_proposals as actions
from motifs.ui.actions.tagging import undo
from motifs.ui.components.crop_wall import pictures_of
from motifs.ui.components.markup import show
from motifs.ui.presenters.comparanda import proposal_words, shown_witnesses
from motifs.ui.presenters.figures import Figure, figures_html
from motifs.ui.presenters.text import lines, safe

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, SherdRow
    from motifs.workflows.tag_proposals import TagProposal

SIDE_PX = 130


def draw_proposals(cat: Catalogue, sherd: SherdRow) -> None:
    """The tags it has, the tags proposed for it, and a yes or no for each."""
    tags = [f"{tag.kind}: {tag.term} ({tag.by})" for tag in cat.tags(sherd.number)]
    show(lines(tags) or '<p class="m-say">Nothing is tagged on it yet.</p>')
    with st.container(horizontal=True):
        st.button("Propose tags from its neighbours", on_click=jobs.ask_for, args=(actions.PROPOSE,))
        if st.session_state.get(actions.SETTLED) == sherd.number and cat.next_undo(sherd.lot):
            st.button("Undo", key="undo_settled", on_click=undo, args=(sherd.lot,))
    jobs.do_waiting(actions.PROPOSE, lambda by, progress: actions.propose(sherd.number, by, progress))
    proposals = actions.open_proposals(cat, sherd.number)
    if proposals is None:
        return
    if not proposals:
        show('<p class="m-say">Nothing to propose: no tagged sherd is near enough, or all was settled.</p>')
    for place, proposal in enumerate(proposals):
        with st.container(border=True):
            draw_proposal(cat, proposal, place)


def draw_proposal(cat: Catalogue, proposal: TagProposal, place: int) -> None:
    """One term: how sure, the sherds that speak for it, yes and no. The first one has keys."""
    show(f'<p class="m-say">{safe(proposal_words(proposal))}</p>')
    witnesses = [cat.sherd(one.sherd) for one in shown_witnesses(proposal)]
    pictures = pictures_of(cat, witnesses, f"witness-{place}")
    figures = [Figure(number, one.url, one.width_mm, one.height_mm) for number, one in pictures.items()]
    show(figures_html(figures, SIDE_PX))
    with st.container(horizontal=True):
        yes, no = ("Alt+Y", "Alt+X") if place == 0 else (None, None)
        st.button("Accept", key=f"accept_{place}", on_click=actions.accept, args=(proposal,), shortcut=yes)
        st.button("Refuse", key=f"refuse_{place}", on_click=actions.refuse, args=(proposal,), shortcut=no)
