"""The page of sites: nothing tagged, every view with its table, hostile names shown as they are."""

import html

import pytest

from tests.ui.conftest import LOT, OTHER, OTHER_SITE, SITE, shown

VIEWS = ("Motifs", "Similarity", "Order", "Diversity", "Axes", "Ties")
TERM = "<scroll> *a*"


@pytest.fixture
def tagged(cat):
    with cat.transaction(by="test"):
        for place, sherd in enumerate(cat.sherds(LOT)):
            cat.add_tag(sherd.number, TERM if place % 2 else "comb", "motif")
        for sherd in cat.sherds(OTHER):
            cat.add_tag(sherd.number, "comb", "motif")
        cat.add_tag(cat.sherds(OTHER)[0].number, "fret", "motif")
    return cat


def test_without_tags_the_page_says_what_to_do(cat, page):
    at = page("sites")
    assert not at.exception
    assert "tag some" in shown(at)


def test_every_view_has_its_table_and_shows_names_as_they_are(tagged, page):
    at = page("sites")
    for view in VIEWS:
        at.session_state["sites_view"] = view
        at.run()
        assert not at.exception
        body = shown(at)
        assert "<table" in body
        assert 'class="m-notice m-wrong"' not in body
        assert "<scroll>" not in body
        assert html.escape(SITE) in body or html.escape(OTHER_SITE) in body
    assert "Counted: vessels (minimum number)" in shown(at)


def test_the_unit_is_named_with_every_table(tagged, page):
    at = page("sites")
    at.selectbox(key="sites_unit").set_value("sherds").run()
    assert "Motifs at each site (sherds)" in shown(at)
    assert html.escape(TERM) in shown(at)
