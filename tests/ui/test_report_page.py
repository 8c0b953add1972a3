"""The report page: made by a button, saved as PDF and HTML; deep links; what is restricted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.ui.presenters.report import made_words, unfinished
from motifs.workflows.kept_reports import ReportMark, kept_report, report_mark
from motifs.workflows.overview import lots_at_a_glance
from motifs.workflows.vectors import comparanda_encoder, vector_key
from tests.ui.conftest import LOT, OTHER, SITE, press, propose, shown

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue


@pytest.fixture
def encoded(cat: Catalogue) -> Catalogue:
    """Vectors are there, so that nothing is encoded here."""
    spec = comparanda_encoder()
    numbers = [sherd.number for lot in (LOT, OTHER) for sherd in cat.sherds(lot)]
    rows = np.random.default_rng(5).normal(size=(len(numbers), spec.dim)).astype(np.float32)
    with cat.transaction(by="test"):
        cat.save_vectors(
            vector_key(spec), dict(zip(numbers, rows / np.linalg.norm(rows, axis=1, keepdims=True), strict=True))
        )
    return cat


def test_a_report_is_made_and_can_be_saved(page, encoded):
    at = page("report", lot=LOT)
    assert "No report yet." in shown(at)
    assert "not sorted into vessels" in shown(at)
    press(at, "Make the report")
    assert "is made and kept" in shown(at)
    assert "Up to date." in shown(at)
    made = kept_report(encoded, lot=LOT)
    assert made is not None
    assert made.mark.by == "M. Oduya"
    assert [button.proto.label for button in at.get("download_button")] == ["Save the PDF", "Save the HTML (zip)"]
    with encoded.transaction(by="test"):
        encoded.add_tag(encoded.sherds(LOT)[0].number, "scroll", "motif")
    assert "Something was changed since" in shown(at.run())
    assert any(button.label == "Make it again" for button in at.button)


def test_without_a_name_nothing_is_made(page, encoded):
    at = press(page("report", by=None, lot=LOT), "Make the report")
    assert "your name is missing" in shown(at)
    assert report_mark(encoded, lot=LOT) is None


def test_the_address_opens_a_site(page, encoded):
    at = page("report", site=SITE)
    assert at.selectbox(key="choose_site").value == SITE
    press(at, "Make the report")
    assert kept_report(encoded, site=SITE) is not None
    assert kept_report(encoded, lot=LOT) is None


def test_nothing_to_report_on(page, collection, monkeypatch, tmp_path):
    monkeypatch.setenv("MOTIFS_COLLECTION", str(tmp_path / "none yet"))
    at = page("report")
    assert "Nothing to report on yet." in shown(at)


def test_restricted_sherds_are_counted_and_the_old_report_is_gone(page, encoded):
    press(page("report", lot=LOT), "Make the report")
    with encoded.transaction(by="test"):
        encoded.restrict("sherd", encoded.sherds(LOT)[0].number, "burial")
    at = page("report", lot=LOT)
    assert "Restricted: 1 of the sherds" in shown(at)
    assert "No report yet." in shown(at)
    assert not at.get("download_button")


def test_what_is_open_is_said(cat):
    propose(cat, LOT, [0] * 8)
    (standing,) = lots_at_a_glance(cat, [cat.lot(LOT)])
    assert "8 of 8 sherds only proposed" in unfinished(standing)
    assert not any("not sorted" in words for words in unfinished(standing))


def test_true_size_is_called_so():
    mark = ReportMark("a", None, 1.0, "A. Reed", "2026-03-05T14:07:00+00:00", {"a": 1}, "", 2)
    assert made_words(mark) == "Made 2026-03-05 14:07 UTC by A. Reed; 2 sherds, plates at true size."
