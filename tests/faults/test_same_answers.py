"""The same questions get the same answers, run after run and with one thread or two."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from motifs.embedding.engines import SAME_WITHIN
from tests.faults.answers import QUESTIONS
from tests.faults.jobs import make_collection

ROOT = Path(__file__).resolve().parents[2]
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMEXPR_NUM_THREADS")


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """Answers of three programs of their own: one thread, one thread again, two threads."""
    folder = tmp_path_factory.mktemp("answers")
    make_collection(folder)
    found = {}
    for name, threads in (("one", "1"), ("again", "1"), ("two", "2")):
        place = shutil.copytree(folder / "collection", folder / name / "collection")
        command = [sys.executable, "-m", "tests.faults.answers", str(place)]
        surroundings = {**os.environ, **dict.fromkeys(THREADS, threads)}
        done = subprocess.run(command, cwd=ROOT, env=surroundings, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr[-2000:]
        found[name] = json.loads(done.stdout.splitlines()[-1])
    return found


@pytest.mark.slow
@pytest.mark.parametrize("other", ["again", "two"])
@pytest.mark.parametrize("question", [name for name in QUESTIONS if name != "encode"])
def test_the_same_document(question: str, other: str, said: dict[str, dict[str, Any]]) -> None:
    assert said[other][question] == said["one"][question]
    assert said["one"][question]


@pytest.mark.slow
def test_the_same_neighbours_in_the_same_order(said: dict[str, dict[str, Any]]) -> None:
    assert said["again"]["encode"] == said["one"]["encode"]
    one, two = (said[name]["encode"]["neighbours"] for name in ("one", "two"))
    assert [near["sherd"] for near in one] == [near["sherd"] for near in two]
    assert [near["similarity"] for near in one] == pytest.approx([near["similarity"] for near in two], abs=1e-4)


@pytest.mark.slow
def test_vectors_are_the_same_to_the_bit_or_within_what_is_stated(said: dict[str, dict[str, Any]]) -> None:
    assert said["again"]["vectors"] == said["one"]["vectors"]
    for number, row in said["one"]["vectors"].items():
        # Sums of floats come out in another order on two threads: what engines are held to, threads are held to as well.
        assert float(np.abs(np.subtract(row, said["two"]["vectors"][number])).max()) < SAME_WITHIN
