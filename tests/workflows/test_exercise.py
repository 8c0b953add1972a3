"""Exercises: made, sorted by hand, marked against the answer, and what was missed; without the program's own sorting."""

import numpy as np
import pypdfium2 as pdfium
import pytest
from reportlab.lib.units import mm
from sklearn.metrics import adjusted_rand_score

from motifs.errors import InputError, NameRefused, UnknownName
from motifs.workflows.cut_out import piece_pictures
from motifs.workflows.exercise import (
    exercises_in,
    hint,
    machine_piles,
    mark_exercise,
    open_exercise,
    read_piles,
    write_piles,
)
from motifs.workflows.learning import class_summary, keep_turn
from motifs.workflows.practice import ExerciseSettings, prepare_exercise
from motifs.workflows.telling_cues import telling_cues


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("practice")
    prepare_exercise(folder, "first", settings=ExerciseSettings(2, 0.3, 4, sherds=12, technique="painted", lost=0.3))
    return folder / "first"


@pytest.fixture(scope="module")
def exercise(made):
    return open_exercise(made)


@pytest.fixture
def truth(exercise):
    keys = {(piece.photo, piece.number): piece.key for piece in exercise.pieces}
    return {
        keys[place, sherd["number"]]: f"P{sherd['pot']}"
        for place, photo in enumerate(exercise.answer["photos"], start=1)
        for sherd in photo["sherds"]
    }


def test_an_exercise_is_what_was_asked_for(exercise, made):
    assert exercise.pots == 2
    assert {pot["technique"] for pot in exercise.answer["pots"]} == {"painted"}
    assert exercises_in(made.parent) == ("first",)
    assert machine_piles(exercise) is None


def test_right_piles_are_marked_right_whatever_they_are_called(exercise, truth):
    mark = mark_exercise(exercise, truth)
    assert mark.own.adjusted_rand == 1.0
    assert (mark.own.joined_wrongly, mark.own.split_wrongly, mark.missed, mark.split) == (0, 0, (), ())
    assert mark.explained[0] == "Nothing was mixed, and no pot was split."


def test_the_mark_is_the_adjusted_rand_index_of_scikit_learn(exercise, truth):
    rng = np.random.default_rng(1)
    piles = {key: str(rng.integers(3)) for key in truth}
    mark = mark_exercise(exercise, piles)
    assert mark.own.adjusted_rand == pytest.approx(adjusted_rand_score(list(truth.values()), list(piles.values())))


def test_one_pile_misses_the_cue_that_tells_most(exercise, truth):
    mark = mark_exercise(exercise, dict.fromkeys(truth, "all"))
    sizes = [sum(pot == name for pot in truth.values()) for name in ("P0", "P1")]
    assert mark.missed[0].pairs == sizes[0] * sizes[1]
    assert mark.missed[0].cue == telling_cues(exercise.answer["pots"])[0, 1][0]
    assert mark.own.joined_wrongly == sizes[0] * sizes[1]
    assert hint(exercise, dict.fromkeys(truth, "all"), 2) == "Pile all holds sherds of 2 pots."


def test_every_sherd_on_its_own_splits_the_pots(exercise, truth):
    mark = mark_exercise(exercise, {key: key for key in truth})
    assert mark.own.adjusted_rand == 0.0
    assert {pot for pot, _ in mark.split} == {0, 1}
    assert hint(exercise, {key: key for key in truth}, 3).startswith("Every pile is of one pot, but a pot lies in")


def test_left_aside_is_no_mistake_but_counts(exercise, truth):
    aside = {**truth, next(iter(truth)): None}
    mark = mark_exercise(exercise, aside)
    assert (mark.own.unassigned, mark.own.joined_wrongly, mark.own.split_wrongly) == (1, 0, 0)
    assert mark.own.adjusted_rand < 1.0


def test_telling_cues_of_alike_and_unlike_pots():
    pot = {"paste_lab": [60.0, 12.0, 20.0], "line_width_mm": 1.0, "wall_mm": 6.0, "girth_mm": 500.0, "families": ["a"], "technique": "painted", "groups": ["p1m1"]}  # fmt: skip
    assert telling_cues([pot, pot])[0, 1] == ()
    other = {**pot, "line_width_mm": 1.5, "technique": "incised"}
    assert [cue.name for cue in telling_cues([pot, other])[0, 1]] == ["technique", "line"]
    assert "line 1.0 mm against 1.5 mm" in telling_cues([pot, other])[0, 1][1].words


def test_the_sheet_to_cut_out_is_true_to_size(exercise, made):
    """pdfium, an outside reader, finds every piece as large as it is on the photograph at its scale."""
    document = pdfium.PdfDocument(made / "cut_out.pdf")
    printed = []
    for page in document:
        for found in page.get_objects(filter=[pdfium.raw.FPDF_PAGEOBJ_IMAGE]):
            left, bottom, right, top = found.get_bounds()
            printed.append(((right - left) / mm, (top - bottom) / mm))
    sizes = [(shown.width_mm, shown.height_mm) for _, shown in piece_pictures(exercise)]
    assert len(printed) == len(sizes) == len(exercise.pieces)
    assert np.allclose(sorted(printed), sorted(sizes), atol=0.1)
    text = "".join(page.get_textpage().get_text_range() for page in document)
    for words in ("Never artefacts", "cloth bag", "eye protection", "washable"):
        assert words in text


def test_piles_go_out_and_come_back(tmp_path, truth):
    write_piles(tmp_path / "p.csv", truth)
    assert read_piles(tmp_path / "p.csv") == truth


@pytest.mark.parametrize(
    ("text", "word"),
    [("a,b\n1,2\n", "no columns"), ("sherd,pile\n1-01,A\n1-01,B\n", "listed twice"), ("sherd,pile\n1-01,\n", "no sherd on any pile")],
)  # fmt: skip
def test_a_bad_list_is_refused(tmp_path, text, word):
    (tmp_path / "p.csv").write_text(text)
    with pytest.raises(InputError, match=word):
        read_piles(tmp_path / "p.csv")


def test_strange_sherds_folders_and_settings_are_refused(exercise, made, tmp_path):
    with pytest.raises(UnknownName, match="no sherd '9-99'"):
        mark_exercise(exercise, {"9-99": "A"})
    with pytest.raises(UnknownName, match="no exercise"):
        open_exercise(tmp_path)
    with pytest.raises(NameRefused):
        prepare_exercise(made.parent, "first")
    with pytest.raises(InputError, match="no technique"):
        prepare_exercise(tmp_path, "x", settings=ExerciseSettings(technique="glazed"))
    with pytest.raises(InputError, match="cannot have lost"):
        prepare_exercise(tmp_path, "x", settings=ExerciseSettings(lost=0.95))
    assert not (tmp_path / "x").exists()


def test_a_class_is_summed_up(cat, exercise, truth):
    assert class_summary(cat).learners == ()
    for learner, piles in (("T. Arden", truth), ("S. Vane", dict.fromkeys(truth, "all"))):
        keep_turn(cat, exercise, piles, mark_exercise(exercise, piles, seconds=60.0), learner=learner)
    summary = class_summary(cat)
    assert [(one.learner, one.exercises) for one in summary.learners] == [("S. Vane", 1), ("T. Arden", 1)]
    assert summary.learners[1].mean_adjusted_rand == 1.0
    assert summary.missed[0][1] == 1
