"""Power cuts, full disks and read-only folders: nothing lost, nothing half there, one clear line."""

from __future__ import annotations

import errno
from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue, files
from motifs.errors import CollectionNotWritable
from motifs.workflows import exporting
from motifs.workflows.exporting import export_collection, take_in_bag
from tests.workflows.kill_trials import try_kills

if TYPE_CHECKING:
    from pathlib import Path


def test_six_kills_lose_nothing_and_leave_nothing_half_there(tmp_path: Path) -> None:
    done, cut_off, wrong = try_kills(tmp_path, 6, seed=3)
    assert wrong == []
    assert done + sum(cut_off.values()) > 0  # somebody was at work


def no_space(*_: object, **__: object) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_full_disk_while_a_bag_is_taken_in_leaves_nothing(
    cat: Catalogue, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bag = export_collection(cat, tmp_path / "bag", with_plates=False).folder
    with Catalogue.open(tmp_path / "new", create=True) as new:
        with monkeypatch.context() as full:
            full.setattr(files.os, "fsync", no_space)
            with pytest.raises(CollectionNotWritable, match="no space left"):
                take_in_bag(new, bag, by="M. Oduya")
        assert new.is_empty()
        assert new.check() == ()
        assert [path for path in new.photos_folder.rglob("*") if path.is_file()] == []
        assert take_in_bag(new, bag, by="M. Oduya").sherds == 12


def test_a_full_disk_while_exporting_leaves_nothing(
    cat: Catalogue, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(exporting, "write_dublin_core", no_space)
    with pytest.raises(CollectionNotWritable, match="no space left"):
        export_collection(cat, tmp_path / "out" / "bag", with_plates=False)
    assert list((tmp_path / "out").iterdir()) == []


def test_a_read_only_folder_is_one_line(cat: Catalogue, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied")

    # Stood in for, since the tests may run as somebody who may write everywhere.
    monkeypatch.setattr(exporting.tempfile, "TemporaryDirectory", refused)
    with pytest.raises(CollectionNotWritable, match=r"cannot be written \(permission denied\)"):
        export_collection(cat, tmp_path / "locked" / "bag")
