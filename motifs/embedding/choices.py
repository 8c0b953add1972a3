"""Which engine was the quickest on this machine, remembered between runs.

A small file in the user's cache folder; deleted, damaged or unwritable it costs a second's measuring again and
nothing else. A choice holds for one encoder, one number of threads and one set of library versions.
"""

from __future__ import annotations

import json
import os
import platform
import sys
from contextlib import suppress
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

CACHE_VARIABLE = "MOTIFS_CACHE"
"""Environment variable that names another folder for the file; empty: remember nothing."""
FILE_NAME = "engines.json"
PACKAGES = ("torch", "onnxruntime")


def choice_key(fingerprint: str, threads: int) -> str:
    """What a choice depends on, as one line."""
    versions = [f"{name} {_version(name)}" for name in PACKAGES]
    return "; ".join((fingerprint, f"{threads} threads", platform.machine(), platform.node(), *versions))


def remembered_choice(key: str) -> str | None:
    """Name of the engine chosen before, or None."""
    return _choices().get(key)


def remember_choice(key: str, name: str) -> None:
    """Keep a choice; where the folder cannot be written to, it is only not kept."""
    folder = _folder()
    if folder is None:
        return
    file = folder / FILE_NAME
    with suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        draft = file.with_name(f"{FILE_NAME}.{os.getpid()}.part")
        draft.write_text(json.dumps({**_choices(), key: name}, indent=1), encoding="utf-8")
        os.replace(draft, file)


def _choices() -> dict[str, str]:
    folder = _folder()
    if folder is None:
        return {}
    try:
        found = json.loads((folder / FILE_NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(found, dict):
        return {}
    return {key: name for key, name in found.items() if isinstance(key, str) and isinstance(name, str)}


def _folder() -> Path | None:
    named = os.environ.get(CACHE_VARIABLE)
    if named is not None:
        return Path(named) if named else None
    try:
        home = Path.home()
    except RuntimeError:
        return None
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "motifs"
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "motifs"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "motifs"


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "absent"
