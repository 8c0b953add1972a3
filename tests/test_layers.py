"""The layers hold: imports only point down, heavy libraries stay in one package, files stay short.

import-linter reads `.importlinter` for the layers; which library belongs to which package is checked here by
reading every file's syntax tree, because a package that does not exist yet may not be named there.
"""

from __future__ import annotations

import ast
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "motifs"
MAX_LINES = 400

HOMES = {
    "torch": {"embedding", "training"},
    "torchvision": {"embedding", "training"},
    "timm": {"embedding", "training"},
    "faiss": {"retrieval"},
    "sqlalchemy": {"catalogue"},
    "streamlit": {"ui"},
    # The packages that hold images; workflows and pages ask them instead.
    "cv2": {"imaging", "evidence", "embedding", "practice", "training", "design", "joins"},
}


def _imported(path: Path) -> set[str]:
    """Top-level names of everything a file imports, wherever in the file, type checking included."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names.add(node.module.split(".")[0])
    return names


def _sources() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def test_imports_only_point_down() -> None:
    command = [str(Path(sys.executable).parent / "lint-imports"), ".importlinter", "--no-cache"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("library", sorted(HOMES))
def test_a_heavy_library_has_one_home(library: str) -> None:
    strangers = [
        str(path.relative_to(ROOT))
        for path in _sources()
        if library in _imported(path) and path.relative_to(PACKAGE).parts[0] not in HOMES[library]
    ]
    assert strangers == []


def test_the_reader_of_imports_sees_every_form(tmp_path: Path) -> None:
    path = tmp_path / "forms.py"
    path.write_text("import torch.nn as nn\ndef late():\n    from faiss import IndexFlatIP\nfrom . import cv2\n")
    assert _imported(path) == {"torch", "faiss"}


def test_files_stay_short() -> None:
    files = [*_sources(), *(ROOT / "tests").rglob("*.py"), *ROOT.glob("*.py")]
    long = {
        str(path.relative_to(ROOT)): lines
        for path in files
        if (lines := len(path.read_text().splitlines())) > MAX_LINES
    }
    assert long == {}


@pytest.mark.parametrize(
    "arguments", [["-c", "import motifs"], ["-m", "motifs", "--help"], ["-m", "motifs", "sort", "--help"]]
)
def test_nothing_heavy_is_imported_before_a_command_runs(arguments: list[str]) -> None:
    done = subprocess.run(
        [sys.executable, "-X", "importtime", *arguments], cwd=ROOT, capture_output=True, text=True, check=True
    )
    loaded = {
        line.rsplit("|", 1)[-1].strip().split(".")[0]
        for line in done.stderr.splitlines()
        if line.startswith("import time:")
    }
    assert "motifs" in loaded
    assert loaded & {*HOMES, "numpy", "scipy", "sklearn"} == set()


def test_help_answers_at_once() -> None:
    """Under 0.3 s of processor time, the fastest of three, so that a busy machine does not decide."""
    code = "import sys, time; from motifs.cli import main\ntry: main(['--help'])\nexcept SystemExit: pass\nprint(time.process_time(), file=sys.stderr)"
    started = time.monotonic()
    seconds = [
        float(subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True).stderr)
        for _ in range(3)
    ]
    assert min(seconds) < 0.3, f"{seconds}, {time.monotonic() - started:.1f} s in all"
