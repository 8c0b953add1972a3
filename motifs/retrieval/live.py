"""A large index kept in a folder, that goes on answering while it is added to and while it is built anew.

A folder holds one index of one encoder: a manifest that names what belongs together, the vectors (only ever appended
to), the keys and the structure. The manifest is written last and in one step, so that there is always one whole index;
what it does not name is swept away. Another encoder's, another format's or a damaged index counts as none: everything
in it can be made again. Programs that use one folder take turns in changing it; nobody waits for anybody to search.
"""

from __future__ import annotations

import hashlib
import json
import os
import threading
import time
import uuid
from contextlib import contextmanager, suppress
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np
from filelock import FileLock

from motifs.errors import CollectionDamaged, CollectionNotWritable
from motifs.retrieval.large import CHUNK, LargeIndex, LargePlan
from motifs.retrieval.rows import VectorRows

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    Vectors = NDArray[np.float32]
    Batches = Iterable[tuple[Sequence[str], Vectors]]

FORMAT = 1
MANIFEST, LOCK = "manifest.json", ".lock"
ROWS = ".rows"
BUILT_WITHIN_S = 6 * 3600.0
"""Vectors that no manifest names yet may be those of an index that is being built."""
READINGS = 3
"""Times a folder is read before it counts as damaged."""


class LiveIndex:
    """Vectors of one encoder in a folder; methods promise what VectorIndex's do.

    Parameters
    ----------
    folder: made where it is not there.
    tag, dim: of the encoder; what the folder holds of another one is never read.
    plan: how to build; None for the measured one.

    Raises
    ------
    CollectionNotWritable: the folder cannot be made.
    """

    def __init__(self, folder: Path, tag: str, dim: int, plan: LargePlan | None = None) -> None:
        self.folder, self.tag, self.dim, self.plan = folder, tag, dim, plan or LargePlan()
        self._changing = FileLock(folder / LOCK)
        self._lock, self._gate = threading.Lock(), threading.Lock()
        self._building = threading.Lock()
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as problem:
            raise _not_writable(folder, problem) from problem
        self._turn = ""
        self._index = self._empty()
        with self._alone():
            self._refresh()

    def __len__(self) -> int:
        """Count the keys."""
        return len(self._index)

    def __contains__(self, key: object) -> bool:
        """Tell whether a key is in the index."""
        return key in self._index

    def keys(self) -> list[str]:
        """Every key, sorted."""
        with self._alone():
            return self._index.keys()

    @property
    def generation(self) -> str:
        """Changes when an index built anew takes over."""
        path = self._index.rows.path
        return "" if path is None else path.name

    @property
    def is_due(self) -> bool:
        """Whether the structure had better be built anew."""
        return self._index.is_due

    def add(self, keys: Sequence[str], vectors: Vectors) -> None:
        """Add or replace vectors, and keep them; ValueError as VectorIndex.add."""
        self.add_batches([(keys, vectors)])

    def add_batches(self, batches: Batches) -> None:
        """Add many vectors, a batch at a time, and keep them all in one step; the first many are built a structure for.

        Raises
        ------
        ValueError: as VectorIndex.add; what came before it is kept.
        CollectionNotWritable: no permission or no space; what was kept before stays.
        """
        with self._change():
            is_changed = False
            try:
                for keys, vectors in batches:
                    with self._alone():
                        self._index.add(keys, vectors)
                    is_changed = is_changed or len(keys) > 0
            finally:
                if is_changed:
                    with self._alone():
                        if self._index.trained_on == 0:
                            self._index.build()
                        self._save()

    def remove(self, keys: Collection[str]) -> None:
        """Take vectors out; a key that is not there is no error, since a rebuild may have left it out already."""
        with self._change(), self._alone():
            self._index.remove([key for key in keys if key in self._index])
            self._save()

    def vectors(self, keys: Sequence[str]) -> Vectors:
        """Give stored vectors back, as LargeIndex.vectors."""
        with self._alone():
            return self._index.vectors(keys)

    def search(
        self, queries: Vectors, top: int, allowed: Collection[str] | None = None, excluded: Collection[str] = ()
    ) -> list[list[tuple[str, float]]]:
        """Find neighbours, as LargeIndex.search."""
        with self._alone():
            return self._index.search(queries, top, allowed, excluded)

    def rebuild(self, keep: Collection[str] | None = None) -> bool:
        """Build a new index from the vectors that stand, then let it take over; the old one answers meanwhile.

        What this or another program adds and removes meanwhile is in the new one too.

        Parameters
        ----------
        keep: keys that are still wanted; None for all.

        Returns
        -------
        False where another rebuild was under way or came first.

        Raises
        ------
        CollectionNotWritable, CollectionDamaged: then the old one stays.
        """
        if not self._building.acquire(blocking=False):
            return False
        try:
            with self._change(), self._alone():
                old, numbers = self._index, self._index.numbers()
            wanted = [key for key in numbers if keep is None or key in keep]
            fresh = self._copied(old, wanted, numbers)
            with self._change(), self._alone():
                if self._index.rows is not old.rows and self._index.rows.path != old.rows.path:
                    return False
                self._catch_up(fresh, numbers)
                self._index = fresh
                self._save()
            return True
        finally:
            self._building.release()

    def _copied(self, old: LargeIndex, keys: list[str], numbers: dict[str, int]) -> LargeIndex:
        """A new index of some keys. Rows are only ever appended, so that they may be read while others change keys."""
        fresh = self._empty()
        for start in range(0, len(keys), CHUNK):
            part = keys[start : start + CHUNK]
            fresh.add(part, _unit_rows(old.rows.take(np.array([numbers[key] for key in part], np.int64))))
        fresh.build()
        return fresh

    def _catch_up(self, fresh: LargeIndex, before: dict[str, int]) -> None:
        """Do in the new index what was done in the standing one since its keys were `before`."""
        now = self._index.numbers()
        fresh.remove([key for key in before if key not in now and key in fresh])
        changed = [key for key, number in now.items() if before.get(key) != number]
        if changed:
            fresh.add(changed, _unit_rows(self._index.vectors(changed)))

    @contextmanager
    def _change(self) -> Iterator[None]:
        """Have the right to change: nobody else changes meanwhile, and what was changed before is known here."""
        with self._changing:
            with self._alone():
                self._refresh()
            yield

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """One thread at a time, in the order of coming: who asks again and again would else keep all others waiting."""
        with self._gate:
            self._lock.acquire()
        try:
            yield
        finally:
            self._lock.release()

    def _refresh(self) -> None:
        """Take up what another program kept since."""
        for _ in range(READINGS):
            manifest = _manifest(self.folder / MANIFEST)
            if manifest.get("turn", "") == self._turn:
                return
            try:
                self._index, self._turn = self._read(manifest), manifest["turn"]
            except (CollectionDamaged, OSError, ValueError, KeyError, TypeError):
                # Swept away by another program meanwhile: its next manifest is there by now.
                continue
        # Foreign, of another format, or damaged: nothing that could not be made again.
        self._index, self._turn = self._empty(), ""

    def _empty(self) -> LargeIndex:
        return LargeIndex(self.tag, self.dim, self.plan, VectorRows(self.dim, self._new_rows_file()))

    def _read(self, manifest: dict[str, Any]) -> LargeIndex:
        if (manifest["format"], manifest["tag"], manifest["dim"]) != (FORMAT, self.tag, self.dim):
            raise ValueError("another encoder's index")
        if manifest["plan"] != asdict(self.plan):
            raise ValueError("an index of another plan")
        parts = {name: (self.folder / manifest[name]).read_bytes() for name in ("keys", "structure")}
        if any(hashlib.sha256(part).hexdigest() != manifest[f"{name}_sha256"] for name, part in parts.items()):
            raise ValueError("a damaged index")
        keys = json.loads(parts["keys"])
        rows = VectorRows(self.dim, self.folder / manifest["rows"], len(keys))
        index = LargeIndex(self.tag, self.dim, self.plan, rows)
        index.restore(keys, np.frombuffer(parts["structure"], np.uint8), manifest["trained_on"])
        return index

    def _save(self) -> None:
        """Write what was changed so that there is one whole index before and after."""
        turn = uuid.uuid4().hex[:12]
        keys = np.frombuffer(json.dumps(self._index.key_of_row).encode(), np.uint8)
        parts = {"keys": keys, "structure": self._index.packed()}
        rows = self._index.rows.path
        manifest: dict[str, Any] = {
            "format": FORMAT, "turn": turn, "tag": self.tag, "dim": self.dim, "plan": asdict(self.plan),
            "trained_on": self._index.trained_on, "rows": "" if rows is None else rows.name,
        }  # fmt: skip
        try:
            for name, part in parts.items():
                manifest[name] = f"{turn}.{name}"
                manifest[f"{name}_sha256"] = hashlib.sha256(part.data).hexdigest()
                (self.folder / manifest[name]).write_bytes(part.data)
            draft = self.folder / f"{turn}.part"
            draft.write_text(json.dumps(manifest, indent=1), encoding="utf-8")
            os.replace(draft, self.folder / MANIFEST)
        except OSError as problem:
            raise _not_writable(self.folder, problem) from problem
        self._turn = turn
        self._sweep({MANIFEST, LOCK, *(manifest[name] for name in ("rows", *parts))})

    def _sweep(self, named: set[str]) -> None:
        """Take away what the manifest does not name; a file that another program reads or builds may have to stay."""
        for path in self.folder.iterdir():
            with suppress(OSError):
                is_young = path.suffix == ROWS and time.time() - path.stat().st_mtime < BUILT_WITHIN_S
                if path.name not in named and not is_young:
                    path.unlink()

    def _new_rows_file(self) -> Path:
        return self.folder / f"{uuid.uuid4().hex[:12]}{ROWS}"


def _unit_rows(vectors: Vectors) -> Vectors:
    found: Vectors = vectors / np.linalg.norm(vectors, axis=1, keepdims=True)
    return found


def _manifest(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _not_writable(folder: Path, problem: OSError) -> CollectionNotWritable:
    return CollectionNotWritable(f"{folder} cannot be written ({problem.strerror}); free it and retry.")


def kept_index(folder: Path, tag: str, dim: int, plan: LargePlan | None = None) -> LiveIndex:
    """The one LiveIndex of a folder and an encoder in this program."""
    key = (str(folder.resolve()), tag, dim)
    with _opening:
        if key not in _open or not folder.is_dir():
            _open[key] = LiveIndex(folder, tag, dim, plan)
        return _open[key]


_open: dict[tuple[str, str, int], LiveIndex] = {}
_opening = threading.Lock()
