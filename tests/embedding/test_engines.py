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


def test_one_that_cannot_run_here_is_left_out_and_said(caplog: pytest.LogCaptureFixture) -> None:
    def broken(images: np.ndarray, masks: np.ndarray) -> np.ndarray:
        raise RuntimeError("no such instruction\nand more")

    assert fastest_engine({"torch": waiting(0.0), "compiled": broken}, 64)[0] == "torch"
    assert "compiled cannot be used here" in caplog.text
    assert "no such instruction" in caplog.text


def test_without_a_compiler_or_headers_it_says_why(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("CXX", "no-such-compiler-here")
    assert "no-such-compiler-here is not installed" in (engines.why_not_compiled() or "")
    monkeypatch.setattr(engines.shutil, "which", lambda name: name)
    monkeypatch.setattr(engines.sysconfig, "get_path", lambda name: str(tmp_path))
    assert "header files" in (engines.why_not_compiled() or "")
    (tmp_path / "Python.h").write_text("")
    assert engines.why_not_compiled() is None


@pytest.mark.parametrize(
    ("has_onnx", "views", "tried"),
    [(True, 200, False), (True, 30_000, True), (False, 5_000, True), (False, 200, None)],
)
def test_compiling_is_tried_where_the_job_is_worth_it(
    has_onnx: bool, views: int, tried: bool | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[bool] = []
    monkeypatch.setattr(engines, "has_onnx", lambda: has_onnx)
    monkeypatch.setattr(engines, "why_not_compiled", lambda: None)
    monkeypatch.setattr(engines.torch.cuda, "is_available", lambda: False)
    monkeypatch.setattr(engines, "_quickest", lambda spec, threads, may_compile: asked.append(may_compile))
    monkeypatch.setattr(engines, "_torch_engine_of", lambda spec: None)
    engines.engine_for(EFFICIENTNET_LITE0, views)
    assert asked == ([] if tried is None else [tried])


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
