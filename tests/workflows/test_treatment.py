"""Recipe arithmetic against worked figures, and the treatment record: nothing without its basis, date and person."""

import pytest

from motifs.errors import InputError
from motifs.workflows.recipes import BY_MASS, IN_SOLUTION, ON_SOLVENT, mass_share, recipe
from motifs.workflows.treatment import add_entry, missing_kinds, take_out, warnings_of

LOT = "B-03"


@pytest.mark.parametrize(("percent", "resin_g"), [(5, 4.13), (10, 8.71), (25, 26.1), (50, 78.4)])
def test_resin_for_100_ml_of_acetone(percent, resin_g):
    # Arithmetic of mass fractions, densities from memory (acetone 0.784 g/mL): 25 % w/w is 1 part of resin to 3 of acetone.
    assert recipe(percent, BY_MASS, 100).resin_g == pytest.approx(resin_g, rel=2e-3)


def test_25_percent_means_three_things():
    # Worked with the same densities: 24.2 % and 28.9 % by mass.
    assert mass_share(25, BY_MASS) == 0.25
    assert 100 * mass_share(25, ON_SOLVENT) == pytest.approx(24.2, abs=0.05)
    assert 100 * mass_share(25, IN_SOLUTION) == pytest.approx(28.9, abs=0.1)
    assert recipe(25, ON_SOLVENT, 200).resin_g == pytest.approx(50.0)


def test_never_a_recipe_without_its_cautions():
    told = " ".join(recipe(10, BY_MASS, 50).cautions)
    for word in ("conservator", "local rules", "flash point", "ventilation", "gloves", "no flame"):
        assert word in told


@pytest.mark.parametrize(
    ("percent", "basis", "ml"),
    [(0, BY_MASS, 100), (25, "%", 100), (25, BY_MASS, -1), (float("nan"), BY_MASS, 1), (99, BY_MASS, 1)],
)
def test_a_recipe_that_cannot_be(percent, basis, ml):
    with pytest.raises(InputError):
        recipe(percent, basis, ml)


JOINING = {
    "adhesive": "B-72",
    "solvent": "acetone",
    "percent": "40",
    "basis": BY_MASS,
    "batch": "0012",
    "joins": "B-03-001 to B-03-002",
}


def enter(cat, kind="joining", fields=JOINING, **more):
    settings = {"done_on": "2026-03-05", "person": "A. Reed", "by": "M. Oduya", **more}
    return add_entry(cat, LOT, "1", kind, fields, **settings)


def test_an_entry_is_kept_with_its_warnings_and_corrected_with_history(cat):
    entered = enter(cat)
    assert entered.row.fields == JOINING
    assert (entered.row.person, entered.row.by) == ("A. Reed", "M. Oduya")
    told = " ".join(entered.warnings)
    assert "conservator" in told
    assert "flash point" in told
    enter(cat, fields={**JOINING, "batch": "0013"}, replaces=entered.row.treatment_id)
    (row,) = cat.treatments(LOT, "1")
    assert row.fields["batch"] == "0013"
    take_out(cat, LOT, row.treatment_id, by="M. Oduya")
    assert cat.treatments(LOT) == ()
    assert len([event for event in cat.history(LOT) if event.verb.startswith("treatment")]) == 3


def test_what_a_mended_record_lacks_is_named(cat):
    assert missing_kinds(cat.treatments(LOT)) == ("decision",)
    enter(cat)
    assert missing_kinds(cat.treatments(LOT)) == ("decision", "condition", "photographs", "taking apart")
    enter(cat, "decision", {"answer": "mend in part"})
    assert "decision" not in missing_kinds(cat.treatments(LOT))


@pytest.mark.parametrize(
    ("adhesive", "word"),
    [("two-part epoxy", "not reversible"), ("PVAC emulsion", "yellow"), ("cellulose nitrate", "embrittles")],
)
def test_adhesives_that_are_hard_to_undo_are_told(adhesive, word):
    assert word in " ".join(warnings_of("joining", {"adhesive": adhesive, "joins": "x"}))


@pytest.mark.parametrize(
    ("kind", "fields", "more", "told"),
    [
        ("glueing", {}, {}, "no kind"),
        ("joining", {"glue": "x"}, {}, "no field"),
        ("joining", {"adhesive": "B-72"}, {}, "joins missing"),
        ("joining", {**JOINING, "basis": ""}, {}, "basis"),
        ("joining", {**JOINING, "percent": "strong"}, {}, "no number"),
        ("decision", {"answer": "yes"}, {}, "one of"),
        ("joining", JOINING, {"done_on": "5 March"}, "no date"),
        ("joining", JOINING, {"person": " "}, "person"),
    ],
)
def test_what_cannot_be_is_one_line_and_keeps_nothing(cat, kind, fields, more, told):
    with pytest.raises(InputError, match=told):
        enter(cat, kind, fields, **more)
    assert cat.treatments(LOT) == ()
