"""How far each lot has got, read off the catalogue."""

from motifs.workflows.joins import KIND as JOINS
from motifs.workflows.kept_reports import keep_report
from motifs.workflows.overview import CURRENT, NO_REPORT, STALE, lots_at_a_glance
from tests.workflows.conftest import LOT, OTHER


def standing(cat, lot=LOT):
    (one,) = lots_at_a_glance(cat, [cat.lot(lot)])
    return one


def test_no_lots_is_nothing(cat):
    assert lots_at_a_glance(cat, []) == ()
    assert [one.lot for one in lots_at_a_glance(cat)] == [LOT, OTHER]


def test_each_kind_of_work_shows(cat):
    before = standing(cat)
    assert (before.compared, before.joins_matched, before.joins_judged, before.laid) == (0, False, 0, 0)
    a, b = [sherd.number for sherd in cat.sherds(LOT)][:2]
    with cat.transaction(by="M. Oduya"):
        cat.save_proposal(LOT, JOINS, encoder_tags=[], parameters={}, result={})
        cat.place_sherd(a, 1.0, 2.0, 0.0)
        cat.add_tag(a, "scroll", "motif")
        cat.keep_comparandum("list", a, cat.sherds(OTHER)[0].number, "same hand")
        cat.judge_join(LOT, a, b, "accepted")
    after = standing(cat)
    assert (after.compared, after.joins_matched, after.joins_judged, after.laid, after.tagged) == (1, True, 1, 1, 1)
    assert standing(cat, OTHER).compared == 0


def test_a_report_is_none_then_up_to_date_then_older_than_the_record(cat, monkeypatch):
    monkeypatch.setattr("motifs.workflows.kept_reports.write_report", _small_report)
    assert standing(cat).report == NO_REPORT
    keep_report(cat, lot=LOT, by="M. Oduya")
    assert standing(cat).report == CURRENT
    with cat.transaction(by="M. Oduya"):
        cat.add_tag(cat.sherds(LOT)[0].number, "scroll", "motif")
    assert standing(cat).report == STALE
    assert standing(cat, OTHER).report == NO_REPORT


def _small_report(_cat, folder, **_asked):
    """Two files as a report writes them, without its pictures."""
    from motifs.workflows.report import WrittenReport

    files = folder / "a.pdf", folder / "a.html"
    for file in files:
        file.write_bytes(b"x")
    return WrittenReport(*files, 1, (LOT,))
