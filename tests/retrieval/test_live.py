"""The index in a folder: kept, foreign and damaged ones, changes by two programs, a rebuild while it answers."""

from __future__ import annotations

import json
import threading
from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.errors import CollectionNotWritable
from motifs.retrieval import LargePlan, LiveIndex, large
from tests.retrieval.test_large import DIM, KEYS, QUERIES, VECTORS, exact, recall

if TYPE_CHECKING:
    from pathlib import Path

PLAN = LargePlan(kind="lists", components=20, looked_at=20, probes=0.3)


@pytest.fixture(autouse=True)
def _few(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(large, "FEW", 50)


@pytest.fixture
def live(tmp_path: Path) -> LiveIndex:
    made = LiveIndex(tmp_path / "x", "t.one", DIM, PLAN)
    made.add_batches([(KEYS[:2000], VECTORS[:2000]), (KEYS[2000:4000], VECTORS[2000:4000])])
    return made


def opened(live: LiveIndex, tag: str = "t.one") -> LiveIndex:
    return LiveIndex(live.folder, tag, DIM, PLAN)


def test_what_was_kept_is_there_again(live: LiveIndex) -> None:
    live.remove(KEYS[:5])
    live.add(["new"], QUERIES[:1])
    again = opened(live)
    assert again.keys() == sorted([*KEYS[5:4000], "new"])
    assert again.search(QUERIES, 5) == live.search(QUERIES, 5)
    assert again.search(QUERIES[:1], 1)[0][0][0] == "new"
    true = exact([*KEYS[5:4000], "new"], np.concatenate([VECTORS[5:4000], QUERIES[:1]])).search(QUERIES, 10)
    assert recall(again.search(QUERIES, 10), true) >= 0.97
    assert sorted(path.suffix for path in live.folder.iterdir() if path.name != ".lock") == [
        ".json", ".keys", ".rows", ".structure",
    ]  # fmt: skip


def test_another_encoders_is_never_read(live: LiveIndex) -> None:
    assert len(opened(live, "t.two")) == 0
    assert len(LiveIndex(live.folder, "t.one", DIM + 1, PLAN)) == 0
    assert len(LiveIndex(live.folder, "t.one", DIM, LargePlan(kind="graph"))) == 0
    assert len(opened(live)) == 4000


@pytest.mark.parametrize("suffix", [".keys", ".structure", ".rows", ".json"])
@pytest.mark.parametrize("how", ["cut", "gone", "altered"])
def test_a_damaged_one_counts_as_none_and_can_be_made_again(live: LiveIndex, suffix: str, how: str) -> None:
    file = next(path for path in live.folder.iterdir() if path.suffix == suffix)
    whole = file.read_bytes()
    if how == "gone":
        file.unlink()
    elif how == "cut" or suffix == ".rows":
        file.write_bytes(whole[: len(whole) // 2])
    else:
        file.write_bytes(whole[:40] + bytes([whole[40] ^ 1]) + whole[41:])
    again = opened(live)
    assert len(again) == 0
    again.add(KEYS[:100], VECTORS[:100])
    assert len(opened(live)) == 100


def test_the_manifest_names_the_encoder_and_the_digests(live: LiveIndex) -> None:
    manifest = json.loads((live.folder / "manifest.json").read_text())
    assert manifest["tag"] == "t.one"
    assert {len(manifest[f"{name}_sha256"]) for name in ("keys", "structure")} == {64}


def test_an_interrupted_addition_leaves_what_was(live: LiveIndex) -> None:
    def batches():
        yield ["late"], QUERIES[:1]
        raise RuntimeError("the lamp went out")

    with pytest.raises(RuntimeError, match="lamp"):
        live.add_batches(batches())
    assert "late" in opened(live)  # what came before is kept
    with pytest.raises(ValueError, match="length"):
        live.add(["long"], QUERIES[:1] * 3.0)
    assert "long" not in opened(live)


def test_two_programs_see_each_others_changes(live: LiveIndex) -> None:
    other = opened(live)
    live.add(["mine"], QUERIES[:1])
    other.add(["theirs"], QUERIES[1:2])
    live.remove([KEYS[0]])
    again = opened(live)
    assert {"mine", "theirs"} <= set(again.keys())
    assert KEYS[0] not in again
    assert len(live) == len(again) == 4001


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(CollectionNotWritable, match="retry"):
        LiveIndex(tmp_path / "file" / "x", "t.one", DIM)


def test_a_rebuild_loses_nothing_and_never_stops_answering(live: LiveIndex) -> None:
    seen: list[int] = []
    stop = threading.Event()

    def ask() -> None:
        while not stop.is_set():
            seen.append(len(live.search(QUERIES, 5)[0]))

    asking = threading.Thread(target=ask)
    asking.start()
    try:
        for turn in range(3):
            building = threading.Thread(target=live.rebuild)
            building.start()
            live.add([f"late{turn}"], QUERIES[turn : turn + 1])
            live.remove([KEYS[turn]])
            building.join()
            assert f"late{turn}" in {key for key, _ in live.search(QUERIES[turn : turn + 1], 1)[0]}
            assert KEYS[turn] not in {key for key, _ in live.search(VECTORS[turn : turn + 1], 3)[0]}
            assert len(live) == 4000
    finally:
        stop.set()
        asking.join()
    assert set(seen) == {5}
    assert opened(live).keys() == live.keys()


def test_a_rebuild_keeps_what_is_wanted_and_what_came_meanwhile(live: LiveIndex, monkeypatch) -> None:
    before, copied = live.generation, live._copied

    def slow(*given):
        fresh = copied(*given)
        opened(live).add(["from elsewhere"], QUERIES[:1])  # another program, in the middle of it
        live.add([KEYS[3]], QUERIES[1:2])
        return fresh

    monkeypatch.setattr(live, "_copied", slow)
    assert live.rebuild(set(KEYS[:1000]))
    assert live.generation != before
    assert live.keys() == sorted([*KEYS[:1000], "from elsewhere"])
    assert live.search(QUERIES[1:2], 1)[0][0][0] == KEYS[3]
    assert opened(live).search(QUERIES, 4) == live.search(QUERIES, 4)


def test_of_two_rebuilds_the_first_wins(live: LiveIndex, monkeypatch) -> None:
    copied = live._copied

    def slow(*given):
        fresh = copied(*given)
        assert opened(live).rebuild()
        return fresh

    monkeypatch.setattr(live, "_copied", slow)
    assert not live.rebuild()
    assert live.keys() == sorted(KEYS[:4000])
    assert recall(live.search(QUERIES, 10), exact(KEYS[:4000], VECTORS[:4000]).search(QUERIES, 10)) >= 0.97
