"""The choice of an engine: the fastest right one is taken, and remembered."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.embedding import EFFICIENTNET_LITE0, choices, engines
from motifs.embedding.choices import CACHE_VARIABLE, FILE_NAME, choice_key, remember_choice, remembered_choice
from motifs.embedding.engines import fastest_engine

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(CACHE_VARIABLE, str(tmp_path))


def waiting(seconds: float, shift: float = 0.0) -> engines.Engine:
    def run(images: np.ndarray, masks: np.ndarray) -> np.ndarray:
        time.sleep(seconds)
        return images.mean(axis=(1, 2)).astype(np.float32) / 255.0 + np.float32(shift)

    return run


def test_the_fastest_of_those_with_the_same_vectors() -> None:
    tried = {"torch": waiting(0.03), "close": waiting(0.01, 5e-4), "wrong": waiting(0.0, 0.01)}
    assert fastest_engine(tried, 64)[0] == "close"
    assert fastest_engine({"torch": waiting(0.0)}, 64)[0] == "torch"


def test_a_choice_is_measured_once(monkeypatch: pytest.MonkeyPatch) -> None:
    measured = []

    def fake(tried: dict[str, engines.Engine], _side: int) -> tuple[str, engines.Engine]:
        measured.append(sorted(tried))
        return "slow", tried["slow"]

    monkeypatch.setattr(engines, "fastest_engine", fake)
    makers = {"torch": lambda: waiting(0.0), "slow": lambda: waiting(0.0)}
    monkeypatch.setattr(engines, "_makers", lambda spec, threads, may_compile: makers)
    for _ in range(2):
        engines._quickest.cache_clear()
        engines._quickest(EFFICIENTNET_LITE0, 7)
    engines._quickest.cache_clear()
    assert measured == [["slow", "torch"]]
    assert remembered_choice(choice_key(EFFICIENTNET_LITE0.fingerprint, 7)) == "slow"


def test_a_choice_holds_for_its_encoder_and_threads_only() -> None:
    remember_choice(choice_key("a", 2), "torch")
    remember_choice(choice_key("b", 2), "onnxruntime")
    assert remembered_choice(choice_key("a", 2)) == "torch"
    assert remembered_choice(choice_key("b", 2)) == "onnxruntime"
    assert remembered_choice(choice_key("a", 1)) is None


def test_a_damaged_or_forbidden_file_only_costs_the_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for text in ("{", "[1]", '{"a": 3}', "\x00"):
        (tmp_path / FILE_NAME).write_text(text)
        assert remembered_choice("a") is None
        remember_choice("a", "torch")
        assert remembered_choice("a") == "torch"
    (tmp_path / "file").write_text("")
    monkeypatch.setenv(CACHE_VARIABLE, str(tmp_path / "file" / "inside"))
    remember_choice("a", "torch")
    assert remembered_choice("a") is None
    monkeypatch.setenv(CACHE_VARIABLE, "")
    remember_choice("a", "torch")
    assert remembered_choice("a") is None


def test_versions_are_part_of_the_key() -> None:
    assert f"torch {choices.version('torch')}" in choice_key("a", 1)
    assert choices._version("no-such-package-here") == "absent"
