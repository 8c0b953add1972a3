"""Long work on the page: what is told of work that was stopped, and things that are prepared once for everybody."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from motifs.ui import jobs
from motifs.ui.presenters.progress import share_done, stage_words, stopped_words
from tests.ui.conftest import LOT, propose, shown


@pytest.mark.parametrize(
    ("verbs", "told"),
    [
        ((), "The catalogue is as it was."),
        (("measured", "measured"), "but for measurements"),
        (("measured", "photo added"), "Undo takes them back"),
    ],
)
def test_what_is_left_of_stopped_work_is_told(verbs, told):
    assert told in stopped_words(verbs)


def test_a_job_that_did_not_end_is_told_of_once(page, cat):
    at = page("sorting_table", lot=LOT)
    at.session_state[jobs.RUNNING] = cat.version()
    at.run()
    assert "Stopped. The catalogue is as it was." in shown(at)
    assert "Stopped" not in shown(at.run())


def test_only_ones_own_changes_count(cat):
    before = cat.version()
    propose(cat, LOT, [0] * 8)
    assert jobs.verbs_since(cat, before, "test") == ("proposed",)
    assert jobs.verbs_since(cat, before, "somebody else") == ()
    assert jobs.verbs_since(cat, cat.version(), "test") == ()


def _prepared_page() -> None:
    import streamlit as st

    from motifs.ui import jobs

    def work(progress):
        st.session_state["made"] = st.session_state.get("made", 0) + 1
        progress("laying out", 0, 2)
        return "thing"

    st.text(str(jobs.prepared("trial", ("a", 1), work)))


def test_a_thing_is_prepared_once_and_held_where_it_was_stopped():
    st.cache_resource.clear()
    at = AppTest.from_function(_prepared_page).run()
    assert (at.text[0].value, at.session_state["made"]) == ("thing", 1)
    assert at.run().session_state["made"] == 1
    other = AppTest.from_function(_prepared_page).run()
    assert "made" not in other.session_state
    st.cache_resource.clear()
    held = AppTest.from_function(_prepared_page)
    held.session_state[jobs.HELD] = ("trial", ("a", 1))
    held.run()
    assert held.text[0].value == "None"
    assert "made" not in held.session_state
    next(button for button in held.button if button.label == "Go on").click()
    assert held.run().text[0].value == "thing"


@pytest.mark.parametrize(("done", "total", "share"), [(0, 0, 0.0), (1, 2, 0.5), (5, 2, 1.0), (-1, 2, 0.0)])
def test_shares_stay_between_nothing_and_all(done, total, share):
    assert share_done(done, total) == share


def test_every_stage_that_the_workflows_tell_has_words():
    sources = [path.read_text(encoding="utf-8") for path in Path(jobs.__file__).parents[1].rglob("*.py")]
    told = {stage for source in sources for stage in re.findall(r'progress\(\s*f?"([^"{]+)', source)}
    assert len(told) > 10
    assert {stage for stage in told if stage_words(stage, 1, 2).startswith("Working")} == set()


def test_a_stage_nobody_knows_is_told_without_its_name():
    assert stage_words("<b>$x$", 1, 4) == "Working: 1 of 4"
