"""Matching, marks and the reading of the program's answers, on hand-made cases and recorded shapes."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tests.outsider.blackbox import (
    CommandAbsentError,
    CommandFailedError,
    Program,
    answer_questions,
    match_intake,
    ranked_keys,
    reduce_sorting,
)
from tests.outsider.cloth import ClothPhoto, rank_photos
from tests.outsider.marks import (
    ari_with_unassigned,
    average_precision,
    mark_sorting,
    mean_and_error,
    shares_motif,
    wrong_pairs,
    wrong_sherds,
)
from tests.outsider.matching import iou_table, match_outlines
from tests.outsider.truth import LotTruth, PhotoTruth, SherdTruth

if TYPE_CHECKING:
    from pathlib import Path


def _square(x: float, y: float, side: float) -> tuple[tuple[float, float], ...]:
    return ((x, y), (x + side, y), (x + side, y + side), (x, y + side))


def test_iou_of_shifted_squares() -> None:
    # Two unit squares shifted by a half overlap in 1/2 of 3/2.
    assert iou_table([_square(0, 0, 1)], [_square(0.5, 0, 1)])[0, 0] == pytest.approx(1 / 3)
    assert iou_table([], [_square(0, 0, 1)]).shape == (0, 1)
    assert iou_table([((0, 0), (1, 1))], [_square(0, 0, 1)])[0, 0] == 0


def test_matching_is_one_to_one_and_refuses_poor_overlap() -> None:
    true = [_square(0, 0, 10), _square(20, 0, 10), _square(40, 0, 10)]
    found = [_square(21, 0, 10), _square(0, 0, 9), _square(0.2, 0.2, 9.8), _square(45.5, 0, 10)]
    matched = match_outlines(found, true)
    assert sorted((i, j) for i, j, _ in matched.pairs) == [(0, 1), (2, 0)]
    assert (matched.missed, matched.invented) == (1, 2)
    assert match_outlines([], []).pairs == ()


def test_crossed_outline_is_mended() -> None:
    bow = ((0, 0), (10, 10), (10, 0), (0, 10))
    assert 0 < iou_table([bow], [_square(0, 0, 10)])[0, 0] <= 0.51


def test_ari_counts_each_unassigned_sherd_as_its_own_vessel() -> None:
    # Worked values: [0,0,1,1] against [0,0,1,2] is 4/7 (Hubert & Arabie 1985; scikit-learn's documentation).
    assert ari_with_unassigned("aabb", [0, 0, 1, None]) == pytest.approx(4 / 7)
    assert ari_with_unassigned("aabb", [0, 0, None, None]) == pytest.approx(4 / 7)
    assert ari_with_unassigned("aabb", [1, 1, 0, 0]) == 1
    assert ari_with_unassigned("aabb", [0, 0, 0, 0]) == 0
    assert ari_with_unassigned("aabb", [0, 1, 0, 1]) == pytest.approx(-0.5)


def test_wrong_pairs_and_sherds() -> None:
    pots, vessels = "aaabb", [0, 0, 1, 1, None]
    joined, split = wrong_pairs(pots, vessels)
    assert joined == pytest.approx(1 / 6)  # only (a3, b1)
    assert split == pytest.approx(3 / 4)  # all but (a1, a2)
    assert wrong_sherds("aab", [0, 0, 0]) == [False, False, True]
    assert wrong_sherds("aab", [None, None, 0]) == [False, False, False]


def test_marks_of_a_whole_lot() -> None:
    marks = mark_sorting("aabb", [0, 0, 0, None], [0.95, 0.95, 0.95, 0.2], 1, (1, 2))
    assert (marks.sure, marks.sure_wrong, marks.unassigned) == (3, 1, 0.25)
    assert (marks.is_count_right, marks.is_range_right) == (False, True)


def test_average_precision_by_hand() -> None:
    # Relevant at ranks 1 and 3 of three relevant: (1/1 + 2/3) / 3 (Manning, Raghavan & Schütze 2008, 8.4).
    assert average_precision(["x", "n", "y"], {"x", "y", "z"}) == pytest.approx((1 + 2 / 3) / 3)
    assert average_precision([], {"x"}) == 0
    assert np.isnan(average_precision(["x"], set()))


def test_a_shared_motif_covers_a_tenth_of_both() -> None:
    assert shares_motif({"m": 0.1}, {"m": 0.5})
    assert not shares_motif({"m": 0.09}, {"m": 0.5})
    assert not shares_motif({"m": 0.5}, {"m": 0.05, "n": 0.9})


def test_mean_and_standard_error() -> None:
    assert mean_and_error([1.0, 2.0, 3.0, float("nan")]) == pytest.approx((2.0, 1 / np.sqrt(3)))
    assert np.isnan(mean_and_error([1.0])[1])
    assert np.isnan(mean_and_error([])[0])


def _lot() -> LotTruth:
    sherds = tuple(SherdTruth(f"p{k % 2}-{k}", f"pot{k % 2}", _square(30 * k, 5, 20), 4.0) for k in range(4))
    photo = PhotoTruth("tray.jpg", 200, 100, 10.0, 50, "light", sherds)
    return LotTruth("lot", "site", "one", "different", 1, (photo,))


def _intake_answer() -> dict[str, object]:
    found = [{"sherd": f"00{k}", "outline_px": _square(30 * k + 0.4, 5, 20), "area_mm2": 4.04} for k in range(3)]
    found.append({"sherd": "003", "outline_px": _square(150, 60, 20), "area_mm2": 9.0})
    return {
        "photos": [{"file": "somewhere/tray.jpg", "mm_per_px": 0.101, "sherds": found, "warnings": ["dust"]}],
        "warnings": [],
    }


def test_reading_an_intake_answer() -> None:
    taken = match_intake(_intake_answer(), _lot())
    assert taken.key_of == {"000": "p0-0", "001": "p1-1", "002": "p0-2"}
    assert (taken.matched["tray.jpg"].missed, taken.matched["tray.jpg"].invented) == (1, 1)
    assert taken.scale_error["tray.jpg"] == pytest.approx(0.01)
    assert taken.area_error == pytest.approx((0.01,) * 3)
    missing = match_intake({"photos": []}, _lot())
    assert missing.matched["tray.jpg"].missed == 4


def _sort_answer(question: dict[str, str] | None) -> dict[str, object]:
    rows = [{"sherd": f"00{k}", "vessel": [0, 1, None, 1][k], "support": 0.5} for k in range(4)]
    return {"lot": "lot", "vessels": 2, "vessels_range": [1, 3], "assignments": rows, "question": question}


def test_reading_a_sorting_leaves_out_sherds_without_truth() -> None:
    answer = reduce_sorting(_sort_answer(None), _lot(), match_intake(_intake_answer(), _lot()))
    assert answer.pots == ("pot0", "pot1", "pot0")
    assert answer.vessels == (0, 1, None)
    assert answer.question is None


class _Recorded(Program):
    """Gives recorded answers and keeps what was asked."""

    def __init__(self, collection: Path, questions: list[dict[str, str] | None]) -> None:
        super().__init__(collection)
        self.questions = questions
        self.told: list[tuple[object, ...]] = []

    def call(self, command: str, *arguments: object) -> dict[str, object]:
        if command == "tell":
            self.told.append(arguments[1:])
            return {"links": len(self.told)}
        return _sort_answer(self.questions.pop(0))


def test_questions_are_answered_truthfully_until_there_is_none(tmp_path: Path) -> None:
    lot = _lot()
    taken = match_intake(_intake_answer(), lot)
    first = reduce_sorting(_sort_answer({"a": "000", "b": "001", "why": ""}), lot, taken)
    program = _Recorded(tmp_path, [{"a": "000", "b": "002", "why": ""}, {"a": "000", "b": "003", "why": ""}])
    _, given = answer_questions(program, lot, taken, first, 10)
    assert program.told == [("--different", "000", "001"), ("--same", "000", "002")]
    assert given == 2  # the third question names a sherd whose truth is unknown


def test_ranking_keeps_places_of_unknown_sherds_and_drops_the_banned() -> None:
    rows = [{"rank": 2, "sherd": "b"}, {"rank": 1, "sherd": "a"}, {"rank": 3, "sherd": "c"}]
    assert ranked_keys({"neighbours": rows}, {"a": "A", "c": "C"}, ["A"]) == ["unknown:b", "C"]


def _fake_python(folder: Path, script: str) -> str:
    path = folder / "python"
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o755)
    return str(path)


def test_program_tells_absent_failed_and_garbled_apart(tmp_path: Path) -> None:
    absent = _fake_python(tmp_path, "echo \"invalid choice: 'joins'\" >&2; exit 2")
    with pytest.raises(CommandAbsentError):
        Program(tmp_path, python=absent).call("joins", "lot")
    failed = _fake_python(tmp_path, "echo 'no such lot' >&2; exit 2")
    with pytest.raises(CommandFailedError, match="no such lot"):
        Program(tmp_path, python=failed).call("sort", "lot")
    garbled = _fake_python(tmp_path, "echo hello; exit 0")
    with pytest.raises(CommandFailedError, match="not one JSON"):
        Program(tmp_path, python=garbled).call("sort", "lot")
    works = _fake_python(tmp_path, "echo '" + json.dumps({"links": 1}) + "'")
    program = Program(tmp_path, python=works)
    assert program.call("tell", "lot") == {"links": 1}
    assert len(program.seconds["tell"]) == 1


def test_cloth_ranking_leaves_out_the_own_cloth(tmp_path: Path) -> None:
    rows = [("dots", "a"), ("dots", "a"), ("dots", "b"), ("lines", "c"), ("lines", "d")]
    photos = [ClothPhoto(tmp_path, pattern, cloth, cloth) for pattern, cloth in rows]
    angles = np.radians([0, 1, 30, 90, 20])
    vectors = np.stack([np.cos(angles), np.sin(angles)], 1).astype(np.float32)
    result = rank_photos("t", vectors, photos)
    # a: lines d (20) comes before dots b (30): AP 1/2 twice; b: d, then a, a: (1/2 + 2/3) / 2; c: b, d: 1/2;
    # d: b (10), a (19), a (20), c (70): 1/4.
    assert result.mean_average_precision == pytest.approx(np.mean([0.5, 0.5, (1 / 2 + 2 / 3) / 2, 0.5, 0.25]))
    assert result.precision_at_1 == 0
