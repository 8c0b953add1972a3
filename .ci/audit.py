"""Ask for known vulnerabilities of the pinned packages, where the package registry answers; otherwise say so and go on.

Run by `.ci/run` before the tests. pip-audit gets an environment of its own: the program does not need it. It asks PyPI's own
advisories (its JSON API), one question a pinned package; one package is asked about first, so that a registry that does not
answer is left alone. What is found is printed with its id and fails nothing, since an advisory of last night is not the
fault of what is tested today; AUDIT_FAILS=1 makes it fail.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import venv
from dataclasses import dataclass
from pathlib import Path

TOOL = "pip-audit==2.10.1"
PINS = Path(__file__).resolve().parent.parent / "requirements.txt"
INSTALL_S, PROBE_S, WHOLE_S, SOCKET_S = 180, 60, 240, 15


@dataclass(frozen=True)
class Found:
    """What the service said: lines to print, and how many packages it knew nothing of."""

    vulnerabilities: tuple[str, ...]
    asked: int
    unknown: int


def pins(text: str) -> list[str]:
    """Pinned lines without comments."""
    lines = [line.split("#")[0].strip() for line in text.splitlines()]
    return [line for line in lines if line]


def read_answer(text: str) -> Found:
    """Read pip-audit's JSON: {"dependencies": [{"name", "version", "vulns": [{"id", "fix_versions"}]} or {"name", "skip_reason"}]}."""
    packages = json.loads(text)["dependencies"]
    told = []
    for package in packages:
        for one in package.get("vulns", ()):
            mended = ", ".join(one.get("fix_versions") or ()) or "no version yet"
            told.append(f"{package['name']} {package['version']}: {one['id']}, mended in {mended}")
    return Found(tuple(told), len(packages), sum("skip_reason" in package for package in packages))


def ask(python: Path, lines: list[str], longest_s: int) -> Found:
    """Ask about these pins; OSError, ValueError or a time-out where no answer comes."""
    with tempfile.NamedTemporaryFile("w", suffix=".txt", encoding="utf-8") as file:
        file.write("\n".join(lines) + "\n")
        file.flush()
        # --no-deps: every package that matters is pinned; --disable-pip: nothing is downloaded.
        options = ["-s", "pypi", "-f", "json", "--no-deps", "--disable-pip", "--progress-spinner", "off"]
        command = [str(python), "-m", "pip_audit", *options, "--timeout", str(SOCKET_S), "-r", file.name]
        done = subprocess.run(command, capture_output=True, text=True, timeout=longest_s, check=False)  # noqa: S603
    # Exit code 1 is that something was found; the answer is on stdout either way.
    return read_answer(done.stdout)


def install(folder: Path) -> Path:
    """Put pip-audit into an environment of its own; return its Python."""
    venv.create(folder, with_pip=True)
    python = folder / "bin" / "python"
    command = [str(python), "-m", "pip", "install", "-q", TOOL]
    subprocess.run(command, capture_output=True, text=True, timeout=INSTALL_S, check=True)  # noqa: S603
    return python


def audit() -> int:
    """Print what came of it; 1 only where something was found and AUDIT_FAILS is set."""
    wanted = pins(PINS.read_text(encoding="utf-8"))
    try:
        with tempfile.TemporaryDirectory() as folder:
            python = install(Path(folder))
            if ask(python, wanted[:1], PROBE_S).unknown:
                return not_done(f"the registry tells nothing of {wanted[0]}")
            found = ask(python, wanted, WHOLE_S)
    except (OSError, ValueError, KeyError, TypeError, subprocess.SubprocessError) as wrong:
        return not_done(" ".join(str(wrong).split())[:200])
    for line in found.vulnerabilities:
        print(f"dependency audit: KNOWN VULNERABILITY {line}")
    print(
        f"dependency audit: {found.asked} packages asked about, {len(found.vulnerabilities)} known vulnerabilities, "
        f"{found.unknown} packages of which nothing is known"
    )
    return 1 if found.vulnerabilities and os.environ.get("AUDIT_FAILS") == "1" else 0


def not_done(why: str) -> int:
    """Say that nobody looked."""
    print(f"dependency audit: NOT DONE ({why}); going on without")
    return 0


if __name__ == "__main__":
    sys.exit(audit())
