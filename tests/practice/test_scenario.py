"""The demonstration folder as it lies in the project, and the command that makes it."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from motifs.practice import scenario
from motifs.practice.__main__ import main
from motifs.practice.families import family_named

FOLDER = Path(__file__).parents[2] / "reference_images_demo"


@pytest.fixture(scope="module")
def truth():
    return json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))


def test_the_folder_is_as_promised(truth):
    lots = truth["lots"]
    sherds = sum(len(photo["sherds"]) for lot in lots for photo in lot["photos"])
    assert len({lot["site"] for lot in lots}) == 3
    assert len(lots) == 4
    assert 135 <= sherds <= 165
    assert any(len(lot["pots"]) == 2 and lot["alike"] >= 0.5 for lot in lots)
    assert any(len(lot["pots"]) == 3 for lot in lots)
    assert sum(file.stat().st_size for file in FOLDER.rglob("*")) < 25e6
    assert "invented" in (FOLDER / "README.md").read_text(encoding="utf-8")


def test_sites_share_some_motifs_and_have_some_of_their_own(truth):
    seen = {}
    for lot in truth["lots"]:
        names = {name for photo in lot["photos"] for sherd in photo["sherds"] for name in sherd["families"]}
        seen.setdefault(lot["site"], set()).update(names)
    sites = list(seen.values())
    for k, site in enumerate(sites):
        others = set().union(*(one for j, one in enumerate(sites) if j != k))
        assert site & others
        assert site - others
        assert all(family_named(name).source == "drawn" for name in site)


def test_photographs_and_truth_agree(truth):
    listed = {photo["file"] for lot in truth["lots"] for photo in lot["photos"]}
    assert listed == {file.relative_to(FOLDER).as_posix() for file in FOLDER.rglob("*.jpg")}
    for lot in truth["lots"]:
        photo = lot["photos"][0]
        image = cv2.imread(str(FOLDER / photo["file"]))
        assert image.shape[:2] == (photo["height_px"], photo["width_px"])
        # The outlines lie on the sherds: just inside and just outside them the photograph differs.
        inside = np.zeros(image.shape[:2], np.uint8)
        for sherd in photo["sherds"]:
            cv2.fillPoly(inside, [np.round(np.array(sherd["outline_px"])).astype(np.int32)], 1)
        rim = cv2.erode(inside, np.ones((25, 25))) != cv2.erode(inside, np.ones((9, 9)))
        far = cv2.dilate(inside, np.ones((121, 121))) == 0
        apart = np.median(image[rim].astype(float), axis=0) - np.median(image[far].astype(float), axis=0)
        assert np.abs(apart).max() > 12


def test_a_scenario_is_written_from_the_command_line(tmp_path, monkeypatch, capsys):
    plan = scenario.LotPlan("Nowhere Fold", "NF-1", 2, 0.5, 6, ("star-five",), ("painted",), "sand")
    monkeypatch.setattr(scenario, "LOT_PLANS", (plan,))
    monkeypatch.setattr(scenario, "PX_PER_MM", 3.0)
    assert main(["scenario", str(tmp_path / "demo"), "--seed", "4"]) == 0
    assert capsys.readouterr().out.strip().endswith("truth.json")
    written = json.loads((tmp_path / "demo" / "truth.json").read_text(encoding="utf-8"))
    assert written["seed"] == 4
    photo = written["lots"][0]["photos"][0]
    assert photo["file"] == "nowhere_fold/nf-1/tray_01.jpg"
    assert (tmp_path / "demo" / photo["file"]).is_file()


def test_wrong_input_ends_with_two_and_one_line(tmp_path, capsys):
    assert main(["exercise", str(tmp_path), "a/b"]) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1
    assert main(["exercise", str(tmp_path), "fine", "--pots", "0"]) == 2
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_the_folder_comes_back_from_its_seed(truth, tmp_path):
    plan = scenario.LOT_PLANS[0]
    again = scenario._write_lot(tmp_path, plan, truth["seed"] * 1000)
    known = truth["lots"][0]
    # Another processor may round the last bit otherwise, so that outlines and pixels are compared with a tolerance.
    assert again["pots"] == known["pots"]
    assert [[j["a"], j["b"]] for j in again["joins"]] == [[j["a"], j["b"]] for j in known["joins"]]
    for new, photo in zip(again["photos"], known["photos"], strict=True):
        assert [(s["number"], s["pot"], s["part"]) for s in new["sherds"]] == [
            (s["number"], s["pot"], s["part"]) for s in photo["sherds"]
        ]
        assert new["mm_per_px"] == pytest.approx(photo["mm_per_px"], abs=1e-5)
        a, b = (cv2.imread(str(place / photo["file"])).astype(int) for place in (FOLDER, tmp_path))
        assert np.abs(a - b).mean() < 0.5
