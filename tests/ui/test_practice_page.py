"""The page of practice: an exercise sorted by list, hinted, marked and kept; a quiz answered; the class."""

import html

import pytest

from motifs.catalogue import Catalogue
from motifs.ui.actions.practice import exercise_folder
from motifs.workflows.exercise import exercises_in, open_exercise
from motifs.workflows.practice import ExerciseSettings, prepare_exercise
from tests.ui.conftest import LOT, press, shown


@pytest.fixture(scope="module")
def rendered(tmp_path_factory):
    folder = tmp_path_factory.mktemp("rendered")
    prepare_exercise(folder, "first", settings=ExerciseSettings(2, 0.3, 4, sherds=8))
    return folder / "first"


@pytest.fixture
def exercise(cat, rendered):
    place = exercise_folder(cat) / "first"
    place.mkdir(parents=True)
    for file in rendered.iterdir():
        (place / file.name).write_bytes(file.read_bytes())
    return open_exercise(place)


def test_without_an_exercise_the_page_says_so(cat, page):
    at = page("practice")
    assert not at.exception
    assert "no exercise in this collection yet" in shown(at)


def test_sherds_are_sorted_hinted_and_marked_and_the_mark_is_kept(cat, exercise, page):
    at = page("practice")
    pot_of = {f"1-{sherd['number']:02d}": sherd["pot"] for sherd in exercise.answer["photos"][0]["sherds"]}
    press(at, "A hint")
    assert "2 pots were broken." in shown(at)
    press(at, "Mark it")
    assert "no sherd lies on a pile yet" in shown(at)
    assert cat.turns() == ()
    for pot, pile in ((0, "A"), (1, "B")):
        chosen = [key for key, of in pot_of.items() if of == pot]
        at.multiselect(key="exercise_chosen_").set_value(chosen)
        at.selectbox(key="exercise_target").set_value(pile)
        at.run()
        press(at, "Move them")
    press(at, "Mark it")
    assert not at.exception
    assert "<td>1.00</td>" in shown(at)
    assert "Nothing was mixed" in shown(at)
    turn = cat.turns("M. Oduya")[0]
    assert (turn.exercise, turn.adjusted_rand, turn.hints) == ("first", 1.0, 1)
    at.session_state["practice_view"] = "The class"
    at.run()
    assert "M. Oduya" in shown(at)


def test_a_mark_needs_a_name(cat, exercise, page):
    at = page("practice", by=None)
    press(at, "Mark it")
    assert "your name is missing" in shown(at)
    assert cat.turns() == ()


def test_a_quiz_question_is_answered(cat, page):
    terms = ("slip:red", "5*3*2")
    with cat.transaction(by="test"):
        for sherd, term in zip(cat.sherds(LOT), terms, strict=False):
            cat.add_tag(sherd.number, term, "motif")
    at = page("practice")
    at.session_state["practice_view"] = "Quiz"
    at.run()
    box = next(one for one in at.selectbox if one.label == "Your answer")
    assert set(terms) <= set(box.options)
    box.set_value(terms[0])
    at.run()
    press(at, "Answer")
    assert not at.exception
    assert len(cat.quiz_answers("M. Oduya")) == 1
    assert html.escape("asked again on") in shown(at)


def test_a_quiz_without_tags_says_what_to_do(cat, page):
    at = page("practice")
    at.session_state["practice_view"] = "Quiz"
    at.run()
    assert "nothing can be asked yet" in shown(at)


def test_how_an_exercise_lies_survives_a_reload(cat, exercise, page):
    at = page("practice")
    keys = [piece.key for piece in exercise.pieces]
    at.multiselect(key="exercise_chosen_").set_value(keys[:2])
    at.selectbox(key="exercise_target").set_value("B")
    at.run()
    press(at, "Move them")
    press(at, "A hint")
    address = dict(at.query_params)
    assert address["piles"] == "BB" + "-" * (len(keys) - 2)
    anew = page("practice", **address)
    assert anew.session_state["piles_of"]["first"] == {key: "B" if key in keys[:2] else None for key in keys}
    assert len(anew.session_state["hints_given"]) == 1
    other = page("practice", **{**address, "piles": "Z" * len(keys)})
    assert set(other.session_state["piles_of"]["first"].values()) == {None}


def test_a_key_puts_what_is_picked_on_a_pile(cat, exercise, page):
    at = page("practice")
    key = exercise.pieces[0].key
    at.session_state["picked_pieces"] = [key]
    at.run()
    at.button(key="to_C").click()
    at.run()
    assert at.session_state["piles_of"]["first"][key] == "C"


def test_the_answer_is_shown_after_the_mark_and_not_before(cat, exercise, page):
    at = page("practice")
    assert "The pots as they were" not in [header.value for header in at.subheader]
    at.multiselect(key="exercise_chosen_").set_value([piece.key for piece in exercise.pieces])
    at.run()
    press(at, "Move them")
    press(at, "Mark it")
    assert "The pots as they were" in [header.value for header in at.subheader]
    assert any("put with pot" in str(element.proto) for element in at.get("bidi_component"))


def test_a_first_exercise_begins_the_collection(page, tmp_path, monkeypatch):
    monkeypatch.setenv("MOTIFS_COLLECTION", str(tmp_path / "none"))
    at = page("practice")
    at.number_input(key="exercise_sherds").set_value(8)
    at.run()
    press(at, "Make it")
    assert not at.exception
    assert "exercise &#x27;exercise 1&#x27;" in shown(at)
    with Catalogue.open(tmp_path / "none") as made:
        assert exercises_in(exercise_folder(made)) == ("exercise 1",)
        assert made.lots() == ()
    assert at.session_state["exercise_open"] == "exercise 1"


def test_a_quiz_is_answered_by_a_key(cat, page):
    terms = ("slip:red", "5*3*2")
    with cat.transaction(by="test"):
        for sherd, term in zip(cat.sherds(LOT), terms, strict=False):
            cat.add_tag(sherd.number, term, "motif")
    at = page("practice", practice_view="Quiz")
    at.button(key="quiz_key_2").click()
    at.run()
    assert not at.exception
    assert len(cat.quiz_answers("M. Oduya")) == 1


def test_a_question_bank_is_written_whole(cat, page):
    with cat.transaction(by="test"):
        for sherd, term in zip(cat.sherds(LOT), ("fret", "scroll"), strict=False):
            cat.add_tag(sherd.number, term, "motif")
    at = page("practice", practice_view="Quiz")
    press(at, "Write the question bank")
    assert "2 questions are in exports/questions 1" in shown(at)
    assert (cat.exports_folder / "questions 1" / "questions.csv").is_file()
    press(at, "Write the question bank")
    assert (cat.exports_folder / "questions 2").is_dir()
