"""Looking a collection over, mending what is derived, and copying it while it is in use."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import select, text

from motifs.catalogue import derived_files as files
from motifs.catalogue import tables as t
from motifs.catalogue.backup import write_backup
from motifs.catalogue.files import PARTIAL_PREFIX, PHOTOS, original_path, sha256_of
from motifs.catalogue.history import History
from motifs.catalogue.rows import Finding
from motifs.catalogue.store import CATALOGUE_FILE
from motifs.errors import CollectionDamaged, InputError, MotifsError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from sqlalchemy import Connection

    from motifs.catalogue.rows import SherdRow
    from motifs.records import SherdCrop

CHECKER = "check"
"""Who did it, in the history, where a check mended something."""

_CROP_NAME = re.compile(r"[0-9a-f]{64}(\.png|\.mask\.png|\.small\.webp)")
_SEGMENT_NAME = re.compile(r"[0-9]{6,}-[0-9a-f]{12}\.npz")


class Upkeep(History):
    """Integrity and copies."""

    def check(
        self, *, repair: bool = False, recut: Callable[[SherdRow], SherdCrop] | None = None
    ) -> tuple[Finding, ...]:
        """Look the whole collection over.

        Parameters
        ----------
        repair
            Mend what is derived: remove files nothing asks for, cut missing or damaged crops again. Originals
            and the catalogue are never touched.
        recut
            Cuts the crop of a sherd from its original; without it no crop is mended.

        Returns
        -------
        tuple of Finding
            Empty: all is well.
        """
        try:
            findings = list(self._catalogue_findings())
            findings += self._original_findings()
            findings += self._leftover_findings(repair=repair)
            findings += self._crop_findings(recut if repair else None)
        except CollectionDamaged as damage:
            return (Finding("damaged catalogue", CATALOGUE_FILE, str(damage)),)
        return tuple(findings)

    def backup(self, file: Path | str) -> Path:
        """Copy catalogue and originals into one .zip, consistent also while others write.

        Unpacked, it is a collection folder; what is derived is made again.

        Raises
        ------
        InputError
            The file is there already, does not end in .zip, or lies among the collection's own files.
        CollectionDamaged
            An original is missing or altered; no backup is left behind.
        CollectionNotWritable
            No permission or no space there.
        """
        file = Path(file).expanduser().absolute()
        if file.suffix.lower() != ".zip":
            raise InputError(f"a backup is one .zip file; '{file.name}' is none, name it '{file.name}.zip'")
        if file.exists():
            raise InputError(f"'{file}' is there already and is not overwritten; give the backup another name")
        if any(part.resolve() in file.resolve().parents for part in (self.photos_folder, self.derived_folder)):
            raise InputError(f"'{file}' lies among the collection's own files; put the backup somewhere else")
        write_backup(self._engine, self.folder, file, CATALOGUE_FILE)
        return file

    def _catalogue_findings(self) -> Iterator[Finding]:
        if self._engine.dialect.name != "sqlite":
            return
        with self._reading() as connection:
            for (message,) in connection.execute(text("PRAGMA integrity_check")).all():
                if message != "ok":
                    yield Finding("damaged catalogue", CATALOGUE_FILE, f"{message}; restore a backup")
            for table, row_id, target, _ in connection.execute(text("PRAGMA foreign_key_check")).all():
                message = f"row {row_id} of {table} names a row of {target} that is not there; restore a backup"
                yield Finding("broken reference", table, message)

    def _original_findings(self) -> Iterator[Finding]:
        columns = select(t.photo.c.stored_as, t.photo.c.sha256, t.photo.c.file_name).order_by(t.photo.c.id)
        with self._reading() as connection:
            rows = connection.execute(columns).all()
        for stored_as, sha256, file_name in rows:
            path = original_path(self.folder, stored_as)
            if not path.is_file():
                yield Finding("missing original", file_name, f"{stored_as} is not there; bring it back from a backup")
            elif sha256_of(path) != sha256:
                yield Finding(
                    "altered original", file_name, f"{stored_as} has been changed; bring it back from a backup"
                )

    def _leftover_findings(self, *, repair: bool) -> list[Finding]:
        """Find files nothing asks for. Under the write lock, so that nobody's work in progress looks like one."""
        findings = []
        with self.transaction(by=CHECKER):
            connection = self._work.connection
            stored = set(connection.scalars(select(t.photo.c.stored_as)))
            keys = _known_keys(connection)
            for path in self._files():
                relative = path.relative_to(self.folder).as_posix()
                finding = _leftover(path, relative, stored, keys)
                if finding is not None and repair and _is_ours_to_remove(path):
                    path.unlink()
                    finding = replace(finding, is_repaired=True)
                if finding is not None:
                    findings.append(finding)
        return findings

    def _files(self) -> list[Path]:
        parts = (self.photos_folder, self.derived_folder / files.CROPS, self.derived_folder / files.VECTORS)
        return sorted(path for part in parts for path in part.rglob("*") if path.is_file())

    def _crop_findings(self, recut: Callable[[SherdRow], SherdCrop] | None) -> Iterator[Finding]:
        for sherd in self.seeing_all().sherds():
            path = files.crop_path(self.derived_folder, sherd.content_key)
            try:
                files.read_crop(path, sherd.content_key)
            except FileNotFoundError:
                finding = Finding("missing derived", sherd.number, f"sherd {sherd.number} has no crop; repair cuts it")
            except files.DAMAGE:
                message = f"the crop of sherd {sherd.number} is damaged; repair cuts it again"
                finding = Finding("damaged derived", sherd.number, message)
            else:
                continue
            yield finding if recut is None else self._recut(sherd, recut, finding)

    def _recut(self, sherd: SherdRow, recut: Callable[[SherdRow], SherdCrop], finding: Finding) -> Finding:
        try:
            crop = recut(sherd)
        except MotifsError as error:
            return replace(finding, message=f"sherd {sherd.number} has no crop, and none can be cut: {error}")
        with self.transaction(by=CHECKER):
            self.save_crop(sherd.number, crop)
        return replace(finding, is_repaired=True)


def _leftover(path: Path, relative: str, stored: set[str], keys: set[str]) -> Finding | None:
    """Say what is wrong with a file under photos/ or derived/, if anything."""
    if path.name.startswith(PARTIAL_PREFIX):
        return Finding("unfinished file", relative, f"{relative} was never finished; it can go")
    # What begins with a dot is an operating system's own.
    if path.name.startswith(".") or relative in stored:
        return None
    if relative.startswith(f"{PHOTOS}/"):
        return Finding("orphan original", relative, f"{relative} is not in the catalogue; take it out or bring it in")
    if _SEGMENT_NAME.fullmatch(path.name):
        return _segment_finding(path, relative, keys)
    if _CROP_NAME.fullmatch(path.name) and files.key_of_crop(path) in keys:
        return None
    return Finding("orphan derived", relative, f"{relative} belongs to no sherd")


def _segment_finding(path: Path, relative: str, keys: set[str]) -> Finding | None:
    try:
        segment = files.read_segment(path)
    except files.DAMAGE:
        return Finding("damaged derived", relative, f"{relative} cannot be read; its vectors will be made again")
    if segment.content_keys and keys.isdisjoint(segment.content_keys):
        return Finding("orphan derived", relative, f"{relative} holds vectors of no sherd of this collection")
    return None


def _is_ours_to_remove(path: Path) -> bool:
    """Whether the file is one this program made and can make again: by its name, so nothing of others goes."""
    return path.name.startswith(PARTIAL_PREFIX) or bool(
        _CROP_NAME.fullmatch(path.name) or _SEGMENT_NAME.fullmatch(path.name)
    )


def _known_keys(connection: Connection) -> set[str]:
    """Return every content key a sherd has or had: what undo may bring back is no orphan."""
    keys = set(connection.scalars(select(t.sherd.c.content_key)))
    changes = select(t.event.c.before).where(t.event.c.is_undoable | (t.event.c.verb == "undone"))
    for before in connection.scalars(changes):
        keys |= {key for change in before if isinstance(key := _key_in(change), str)}
    return keys


def _key_in(change: dict[str, Any]) -> object:
    return change["row"].get("content_key") if change["table"] == t.sherd.name else None
