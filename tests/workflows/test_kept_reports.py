"""Reports kept from the page: made once, offered until something is changed or kept back, never kept where it was unlocked."""

import io
import zipfile

import numpy as np
import pytest

from motifs.errors import UnknownName
from motifs.workflows import kept_reports
from motifs.workflows.kept_reports import keep_report, kept_report, report_mark
from motifs.workflows.vectors import comparanda_encoder, vector_key
from tests.workflows.conftest import LOT, OTHER

BY = "M. Oduya"


@pytest.fixture
def ready(cat):
    """Vectors are there, so that nothing is encoded."""
    spec = comparanda_encoder()
    numbers = [sherd.number for lot in (LOT, OTHER) for sherd in cat.sherds(lot)]
    rows = np.random.default_rng(5).normal(size=(len(numbers), spec.dim)).astype(np.float32)
    with cat.transaction(by=BY):
        cat.save_vectors(
            vector_key(spec), dict(zip(numbers, rows / np.linalg.norm(rows, axis=1, keepdims=True), strict=True))
        )
    return cat


def test_none_before_one_is_made(ready):
    assert kept_report(ready, lot=LOT) is None
    assert report_mark(ready, lot=LOT) is None


def test_kept_and_offered_again(ready):
    made = keep_report(ready, lot=LOT, by=BY)
    again = kept_report(ready, lot=LOT)
    assert again == made
    assert made.is_kept
    assert made.is_current
    assert made.pdf.startswith(b"%PDF")
    assert made.mark.sherds == len(ready.sherds(LOT))
    assert kept_report(ready, lot=OTHER) is None


def test_the_zip_holds_the_page_alone_and_is_the_same_twice(ready):
    made = keep_report(ready, lot=LOT, by=BY)
    with zipfile.ZipFile(io.BytesIO(made.html_zip)) as archive:
        assert archive.testzip() is None
        (name,) = archive.namelist()
        assert name == f"{made.stem}.html"
        assert archive.read(name) == made.html
    assert made.html_zip == made.html_zip


def test_a_change_in_the_lot_makes_it_stale_and_a_change_elsewhere_does_not(ready):
    keep_report(ready, lot=LOT, by=BY)
    with ready.transaction(by=BY):
        ready.add_tag(ready.sherds(OTHER)[0].number, "scroll", "motif")
    assert kept_report(ready, lot=LOT).is_current
    with ready.transaction(by=BY):
        ready.add_tag(ready.sherds(LOT)[0].number, "scroll", "motif")
    assert not kept_report(ready, lot=LOT).is_current


def test_a_report_of_a_site_goes_by_all_its_lots(ready):
    site = ready.lot(LOT).site
    assert kept_report(ready, site=site) is None
    made = keep_report(ready, site=site, by=BY)
    assert kept_report(ready, site=site) == made
    with ready.transaction(by=BY):
        ready.add_tag(ready.sherds(LOT)[0].number, "scroll", "motif")
    assert not kept_report(ready, site=site).is_current
    with pytest.raises(UnknownName, match="nowhere"):
        keep_report(ready, site="nowhere", by=BY)


def test_what_is_kept_back_later_takes_the_report_away(ready):
    keep_report(ready, lot=LOT, by=BY)
    elsewhere = ready.sherds(OTHER)[0].number
    with ready.transaction(by=BY):
        ready.restrict("sherd", elsewhere, "sacred")
    # Its picture may be among the comparanda.
    assert kept_report(ready, lot=LOT) is None
    with ready.transaction(by=BY):
        ready.lift_restriction("sherd", elsewhere, reason="entered by mistake")
    assert kept_report(ready, lot=LOT) is not None


def test_an_unlocked_report_is_handed_over_and_never_kept(ready):
    hidden = ready.sherds(LOT)[0].number
    with ready.transaction(by=BY):
        ready.restrict("sherd", hidden, "burial")
    made = keep_report(ready.seeing_all(), lot=LOT, by=BY)
    assert not made.is_kept
    assert hidden.encode() in made.html
    assert kept_report(ready, lot=LOT) is None
    assert not list(ready.exports_folder.rglob("*.pdf"))
    assert hidden.encode() not in keep_report(ready, lot=LOT, by=BY).html


def test_a_report_that_is_stopped_leaves_nothing_and_keeps_the_one_before(ready):
    before = keep_report(ready, lot=LOT, by=BY)

    def stop(stage, done, total):
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        keep_report(ready, lot=LOT, reduction=1.0, by=BY, progress=stop)
    assert kept_report(ready, lot=LOT) == before
    assert len(list((ready.exports_folder / kept_reports.FOLDER).iterdir())) == 3


def test_progress_tells_every_step_once(ready):
    told = []
    keep_report(ready, lot=LOT, by=BY, progress=lambda stage, done, total: told.append((stage, done, total)))
    mine = [(done, total) for stage, done, total in told if stage == "putting the report together"]
    assert [done for done, _ in mine] == list(range(mine[0][1] + 1))


@pytest.mark.parametrize("broken", ["", "{}", "[1]", '{"lot": 3}'])
def test_a_mark_that_cannot_be_read_is_no_report(ready, broken):
    keep_report(ready, lot=LOT, by=BY)
    (mark,) = (ready.exports_folder / kept_reports.FOLDER).glob("*.json")
    mark.write_text(broken, encoding="utf-8")
    assert kept_report(ready, lot=LOT) is None


def test_names_that_a_file_system_takes_for_one_are_two_reports(ready):
    first = kept_reports._files(ready, "a/b", None)
    assert len({*first, *kept_reports._files(ready, "a?b", None), *kept_reports._files(ready, None, "a/b")}) == 9
    assert {file.parent for file in first} == {ready.exports_folder / kept_reports.FOLDER}
