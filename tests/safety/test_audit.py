"""The audit of dependencies: what it says of an answer, and that no answer stops nothing.

The answers are of the shape that pip-audit 2.10 prints with `-f json`, retyped from its own output.
"""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from types import ModuleType

SCRIPT = Path(__file__).resolve().parents[2] / ".ci" / "audit.py"


@pytest.fixture
def audit(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    spec = importlib.util.spec_from_file_location("ci_audit", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "ci_audit", module)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "install", lambda folder: folder / "python")
    monkeypatch.delenv("AUDIT_FAILS", raising=False)
    return module


def answer(*packages: dict[str, object]) -> str:
    return json.dumps({"dependencies": list(packages), "fixes": []})


CLEAN = {"name": "pillow", "version": "13.0.0", "vulns": []}
BAD = {
    "name": "oldlib",
    "version": "1.0",
    "vulns": [{"id": "PYSEC-2031-7", "fix_versions": ["1.1"], "aliases": [], "description": "x"}],
}
SKIPPED = {"name": "numpy", "skip_reason": "Dependency not found on PyPI and could not be audited: numpy (2.4.6)"}


def test_every_pin_is_asked_about(audit: ModuleType) -> None:
    lines = audit.pins(audit.PINS.read_text(encoding="utf-8"))
    assert len(lines) > 40
    assert all("==" in line and "#" not in line for line in lines)


def test_what_is_found_is_told_with_its_id(audit: ModuleType) -> None:
    found = audit.read_answer(answer(CLEAN, BAD, SKIPPED))
    assert found.vulnerabilities == ("oldlib 1.0: PYSEC-2031-7, mended in 1.1",)
    assert (found.asked, found.unknown) == (3, 1)


def run_with(audit: ModuleType, monkeypatch: pytest.MonkeyPatch, *texts: object) -> int:
    """Answers in turn: to the probe, then to the whole list; an exception is raised."""
    turns = iter(texts)

    def ask(*_: object, **__: object) -> subprocess.CompletedProcess[str]:
        turn = next(turns)
        if isinstance(turn, BaseException):
            raise turn
        return subprocess.CompletedProcess([], 1, str(turn), "")

    monkeypatch.setattr(audit.subprocess, "run", ask)
    return int(audit.audit())


def test_a_vulnerability_is_printed_and_fails_only_where_asked(
    audit: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run_with(audit, monkeypatch, answer(CLEAN), answer(CLEAN, BAD)) == 0
    assert "KNOWN VULNERABILITY oldlib 1.0: PYSEC-2031-7" in capsys.readouterr().out
    monkeypatch.setenv("AUDIT_FAILS", "1")
    assert run_with(audit, monkeypatch, answer(CLEAN), answer(CLEAN, BAD)) == 1
    assert run_with(audit, monkeypatch, answer(CLEAN), answer(CLEAN)) == 0


@pytest.mark.parametrize(
    "said",
    ["", "not json", "[]", "{}", answer(SKIPPED), subprocess.TimeoutExpired("pip-audit", 60), OSError("no network")],
)
def test_no_answer_is_told_and_stops_nothing(
    said: object, audit: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("AUDIT_FAILS", "1")
    assert run_with(audit, monkeypatch, said) == 0
    assert "dependency audit: NOT DONE" in capsys.readouterr().out


def test_ci_runs_it_and_the_program_does_not_need_it() -> None:
    assert "python3 .ci/audit.py" in (SCRIPT.parent / "run").read_text(encoding="utf-8")
    assert "pip-audit" not in (SCRIPT.parent.parent / "requirements.txt").read_text(encoding="utf-8")
