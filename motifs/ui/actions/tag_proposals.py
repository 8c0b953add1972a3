"""Asking for proposed tags, and settling them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.session import act, open_collection
from motifs.workflows.tag_proposals import TagProposal, accept_proposal, propose_tags, refuse_proposal

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows import Progress

PROPOSE = "propose_tags"
PROPOSED, PROPOSED_FOR = "proposed_tags", "proposed_tags_for"
SETTLED = "settled_tags_of"
"""The sherd whose proposal was settled last, to undo that."""


def propose(number: str, by: str, progress: Progress) -> None:
    """The job: ask, and keep the proposals."""
    cat = open_collection()
    if cat is None:
        raise InputError("there is no collection yet; add photographs first")
    st.session_state[PROPOSED] = propose_tags(cat, [cat.sherd(number)], by=by, progress=progress)[number]
    st.session_state[PROPOSED_FOR] = number


def open_proposals(cat: Catalogue, number: str) -> tuple[TagProposal, ...] | None:
    """Proposals for this sherd that nobody has settled since; None where none were asked for."""
    if st.session_state.get(PROPOSED_FOR) != number:
        return None
    settled = {(tag.kind, tag.term) for tag in cat.tags(number)} | cat.refused_tags_of([number])[number]
    return tuple(one for one in st.session_state[PROPOSED] if (one.kind, one.term) not in settled)


def accept(proposal: TagProposal) -> None:
    """Callback: put the tag on."""

    def work(cat: Catalogue, by: str) -> str:
        accept_proposal(cat, proposal, by=by)
        st.session_state[SETTLED] = proposal.sherd
        return f"{proposal.sherd} is tagged {proposal.kind} {proposal.term}"

    act(work)


def refuse(proposal: TagProposal) -> None:
    """Callback: remember the refusal."""

    def work(cat: Catalogue, by: str) -> str:
        refuse_proposal(cat, proposal.sherd, proposal.kind, proposal.term, by=by)
        st.session_state[SETTLED] = proposal.sherd
        return f"{proposal.kind} {proposal.term} is not proposed for {proposal.sherd} again"

    act(work)
