"""Files of a collection: written whole or not at all, and taken back when their transaction fails.

A transaction notes every file it is about to make in a journal (`.unfinished-<token>` in the collection
folder) and removes the journal after the commit. After a crash the journal is still there: whoever next holds
the write lock knows that its owner is dead or has committed, and removes the files no committed row asks for.
"""

from __future__ import annotations

import hashlib
import os
import re
import uuid
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from motifs.catalogue.database import writable
from motifs.errors import CollectionDamaged

if TYPE_CHECKING:
    from collections.abc import Callable

PHOTOS, DERIVED, EXPORTS = "photos", "derived", "exports"
JOURNAL_PREFIX = ".unfinished-"
PARTIAL_PREFIX = ".new-"

STORED_AS = re.compile(r"photos/[0-9a-f]{2}/([0-9a-f]{64})(\.[a-z0-9]{1,5})?")
"""Where an original lies in its collection; its hash in the first group."""

_CHUNK_BYTES = 1 << 20


def original_path(folder: Path, stored_as: str) -> Path:
    """Return the path of an original.

    Raises
    ------
    CollectionDamaged
        The row names another place: somebody else's catalogue may say anything, and nothing outside is read.
    """
    if STORED_AS.fullmatch(stored_as) is None:
        raise CollectionDamaged(f"'{stored_as[:100]}' is no place of an original; restore the catalogue from a backup")
    return folder / stored_as


def sha256_of(file: Path) -> str:
    """Return the sha256 (64 hex digits) of a file's bytes."""
    digest = hashlib.sha256()
    with file.open("rb") as stream:
        while chunk := stream.read(_CHUNK_BYTES):
            digest.update(chunk)
    return digest.hexdigest()


def write_atomically(path: Path, content: bytes, *, is_lasting: bool) -> None:
    """Write a file under a temporary name beside it, then move it into place.

    Parameters
    ----------
    path
        Where the file goes; its folder is made.
    content
        All of it.
    is_lasting
        Force it onto the disk first (originals, exports); what is rebuildable can do without.

    Raises
    ------
    CollectionNotWritable
        No permission or no space; nothing is left behind.
    """
    partial = path.with_name(PARTIAL_PREFIX + path.name)
    with writable(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            with partial.open("wb") as stream:
                stream.write(content)
                stream.flush()
                if is_lasting:
                    os.fsync(stream.fileno())
            partial.replace(path)
        except BaseException:
            partial.unlink(missing_ok=True)
            raise
        if is_lasting:
            sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Force a folder's entries onto the disk, so that a file moved into it survives a power cut."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


class Journal:
    """What one transaction did to the files of a collection."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._path = folder / (JOURNAL_PREFIX + uuid.uuid4().hex)
        self._made: list[Path] = []
        self._to_remove: list[Path] = []

    def write(self, path: Path, content: bytes, *, is_lasting: bool) -> None:
        """Write a file of the collection; taken back if the transaction fails."""
        if not path.exists():
            self._note(path, is_lasting=is_lasting)
            self._made.append(path)
        write_atomically(path, content, is_lasting=is_lasting)

    def remove_at_commit(self, path: Path) -> None:
        """Remove a derived file once the transaction has held."""
        self._to_remove.append(path)

    def _note(self, path: Path, *, is_lasting: bool) -> None:
        line = path.relative_to(self._folder).as_posix() + "\n"
        with writable(self._path), self._path.open("a", encoding="utf-8") as stream:
            stream.write(line)
            stream.flush()
            if is_lasting:
                os.fsync(stream.fileno())

    def discard(self) -> None:
        """Take back every file made: the transaction failed."""
        for path in self._made:
            path.unlink(missing_ok=True)
        self._path.unlink(missing_ok=True)

    def settle(self) -> None:
        """Forget the journal: the transaction holds."""
        self._path.unlink(missing_ok=True)
        for path in self._to_remove:
            path.unlink(missing_ok=True)


def has_unfinished(folder: Path) -> bool:
    """Whether a transaction was cut off (or is running) in this collection."""
    return any(folder.glob(JOURNAL_PREFIX + "*"))


def recover(folder: Path, is_wanted: Callable[[PurePosixPath], bool]) -> None:
    """Remove what cut-off transactions left. The caller holds the write lock, so no owner is at work.

    Parameters
    ----------
    folder
        Of the collection.
    is_wanted
        Whether a committed row asks for the file of this path (relative to the folder).
    """
    for journal in folder.glob(JOURNAL_PREFIX + "*"):
        try:
            lines = journal.read_text(encoding="utf-8", errors="replace").splitlines()
        except FileNotFoundError:
            continue  # its owner committed a moment ago and has just removed it
        for line in lines:
            relative = PurePosixPath(line)
            # A line cut off half-way, or anything that points elsewhere, names no file of ours.
            if relative.parts[:1] not in {(PHOTOS,), (DERIVED,)} or ".." in relative.parts:
                continue
            path = folder / relative
            path.with_name(PARTIAL_PREFIX + path.name).unlink(missing_ok=True)
            if path.is_file() and not is_wanted(relative):
                path.unlink()
        journal.unlink(missing_ok=True)
