import json

import numpy as np
import pytest

from motifs.errors import CollectionDamaged, InputError, NameRefused
from motifs.practice import PhotoSettings, make_exercise, make_lot, open_answer
from motifs.practice.lots import seal


@pytest.fixture(scope="module")
def lot():
    return make_lot(21, 2, 0.5, sherds=14, px_per_mm=3.0, settings=PhotoSettings(px_per_mm=3.0))


def test_a_lot_holds_the_sherds_of_all_its_pots(lot):
    sherds = [one for photo in lot.photos for one in photo.sherds]
    assert [(one.pot, one.fragment) for one in sherds] == list(lot.kept)
    assert {one.pot for one in sherds} == {0, 1}
    assert len(set(lot.kept)) == len(lot.kept)
    assert 8 <= len(sherds) <= 16


def test_some_pieces_are_lost(lot):
    assert len(lot.kept) < sum(len(one) for one in lot.fragments)


def test_the_truth_is_plain_and_complete(lot):
    truth = json.loads(json.dumps(lot.truth))
    assert len(truth["photos"]) == len(lot.photos)
    for known, photo in zip(truth["photos"], lot.photos, strict=True):
        assert known["mm_per_px"] == pytest.approx(photo.mm_per_px, abs=1e-6)
        assert len(known["sherds"]) == len(photo.sherds)
        for sherd in known["sherds"]:
            outline = np.array(sherd["outline_px"])
            assert len(outline) >= 3
            assert (outline.max(axis=0) < [known["width_px"], known["height_px"]]).all()
            assert outline.min() > -1


def test_true_joins_are_between_sherds_of_one_pot_that_touch(lot):
    truth = lot.truth
    assert truth["joins"]
    for join in truth["joins"]:
        a, b = (truth["photos"][photo - 1]["sherds"][number - 1] for photo, number in (join["a"], join["b"]))
        assert a["pot"] == b["pot"]
        assert join["contact_mm"] > 0


@pytest.mark.parametrize(("pots", "alike", "sherds"), [(0, 0.5, 10), (2, 1.5, 10), (2, -0.1, 10), (5, 0.5, 3)])
def test_impossible_lots_are_refused(pots, alike, sherds):
    with pytest.raises(InputError, match="A lot needs"):
        make_lot(1, pots, alike, sherds=sherds)


def test_an_exercise_writes_photographs_and_a_sealed_answer(tmp_path):
    made = make_exercise(tmp_path, "autumn class", pots=1, alike=0.0, seed=3, sherds=6)
    assert all(file.is_file() and file.suffix == ".jpg" for file in made.photos)
    text = made.answer.read_text(encoding="utf-8")
    assert "outline_px" not in text
    assert "families" not in text
    answer = open_answer(made.answer)
    assert answer["name"] == "autumn class"
    assert len(answer["photos"]) == len(made.photos)
    with pytest.raises(NameRefused, match="already"):
        make_exercise(tmp_path, "autumn class", pots=1, alike=0.0, seed=3, sherds=6)


@pytest.mark.parametrize("name", ["", "  ", "../out", "a/b", "x\n"])
def test_bad_names_are_refused_and_nothing_is_written(tmp_path, name):
    with pytest.raises(NameRefused):
        make_exercise(tmp_path, name)
    assert list(tmp_path.iterdir()) == []


def test_an_altered_or_foreign_answer_is_refused(tmp_path):
    file = tmp_path / "answer.json"
    sealed = seal({"pots": [1]})
    file.write_text(json.dumps(sealed | {"sha256": "0" * 64}), encoding="utf-8")
    with pytest.raises(CollectionDamaged, match="altered"):
        open_answer(file)
    for text in ("", "{}", "not json", json.dumps(sealed | {"packed": "!!"})):
        file.write_text(text, encoding="utf-8")
        with pytest.raises(CollectionDamaged, match="not a sealed answer"):
            open_answer(file)
    file.write_text(json.dumps(sealed), encoding="utf-8")
    assert open_answer(file) == {"pots": [1]}
