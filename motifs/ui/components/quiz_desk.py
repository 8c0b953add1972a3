"""The quiz: one sherd, a question, up to four answers, each with a key; and all questions as files."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui import jobs
from motifs.ui.actions import practice as actions
from motifs.ui.components.crop_wall import pictures_of
from motifs.ui.components.markup import show
from motifs.ui.frame import empty_state
from motifs.ui.presenters.figures import Figure, figures_html
from motifs.ui.presenters.text import notice, safe
from motifs.ui.session import analyst
from motifs.workflows.quiz import KINDS, next_question

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.quiz import QuizQuestion

ANYTHING = "anything"
SIDE_PX = 420


def draw_quiz(cat: Catalogue) -> None:
    """The next question, with its picture."""
    asked = st.selectbox("Ask about", [ANYTHING, *KINDS], key="quiz_kind", bind="query-params")
    kind = None if asked == ANYTHING else asked
    learner = analyst()
    if not learner:
        show(notice("note", "type your name at the top of the page: the quiz keeps where you stand"))
        return
    try:
        question = next_question(cat, learner, kind=kind)
    except InputError as reason:
        empty_state(str(reason), page_file="motifs/ui/pages/tagging.py", label="Tag sherds")
        return
    if question is None:
        show('<p class="m-say">Nothing is due today. Come back tomorrow.</p>')
    else:
        draw_question(cat, question)
    with st.expander("All questions as files"):
        show('<p class="m-say">Tables (CSV, JSON) and pictures of every question, to print or to use elsewhere.</p>')
        st.button("Write the question bank", on_click=jobs.ask_for, args=(actions.BANK,))
        jobs.do_waiting(actions.BANK, partial(actions.bank, kind))


def draw_question(cat: Catalogue, question: QuizQuestion) -> None:
    """The picture on the left, answers on the right."""
    left, right = st.columns(2)
    with left:
        shown = pictures_of(cat, [cat.sherd(question.sherd)], "quiz")[question.sherd]
        show(figures_html([Figure("", shown.url, shown.width_mm, shown.height_mm)], SIDE_PX))
    with right:
        place = "new" if question.box == 0 else f"box {question.box}"
        show(f'<p class="m-number">{safe(question.words)} ({place})</p>')
        entries = "".join(f"<li>{safe(option)}</li>" for option in question.options)
        show(f'<ol class="m-plain">{entries}</ol>')
        with st.container(horizontal=True):
            for number, option in enumerate(question.options, start=1):
                st.button(
                    str(number),
                    key=f"quiz_key_{number}",
                    on_click=actions.answer,
                    args=(question.sherd, question.kind, option),
                    shortcut=f"Alt+{number}",
                )
        # A list shows terms exactly as they are; radio buttons would read them as markup.
        term = st.selectbox(
            "Your answer",
            question.options,
            index=None,
            placeholder="choose",
            key=f"quiz_{question.sherd}_{question.kind}_{question.box}",
        )
        st.button(
            "Answer",
            type="primary",
            on_click=actions.answer,
            args=(question.sherd, question.kind, term or ""),
            disabled=term is None,
        )
