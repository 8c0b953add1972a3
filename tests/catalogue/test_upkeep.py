import sqlite3
import subprocess
import threading
import zipfile
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from motifs.catalogue import FINDING_KINDS, Catalogue, derived_files
from motifs.errors import CollectionDamaged, InputError, PhotoUnreadable
from tests.catalogue.finds import PERSON, SQUARE, add_tray, crop, files_of


@pytest.fixture
def full(cat):
    """A collection with everything in it."""
    numbers = add_tray(cat, "B-03", site="Kestrel Ford")
    add_tray(cat, "C-1", sherds=1)
    with cat.transaction(by=PERSON):
        cat.save_vectors("e.one", {number: np.ones(3) for number in numbers})
    with cat.transaction(by=PERSON):
        cat.replace_outline(numbers[0], SQUARE * 1.5)
        cat.save_crop(numbers[0], crop(9))
        cat.drop_sherd(numbers[3])
    return cat


def kinds(findings):
    assert all(finding.kind in FINDING_KINDS and finding.message and finding.subject for finding in findings)
    return [(finding.kind, finding.is_repaired) for finding in findings]


def recut(_):
    return crop(77)


def test_a_collection_in_order(full):
    assert full.check() == ()
    assert full.check(repair=True, recut=recut) == ()


def original(cat) -> Path:
    return cat.photo_file(cat.photos()[0])


def plant(cat, fault):
    crop_file = cat.crop_file("B-03-002")
    vectors = derived_files.tag_folder(cat.derived_folder, "e.one")
    strange = "ab" * 32
    {
        "missing": lambda: original(cat).unlink(),
        "altered": lambda: original(cat).write_bytes(original(cat).read_bytes() + b" "),
        "orphan": lambda: (cat.photos_folder / "holiday.jpg").write_bytes(b"sun"),
        "no crop": crop_file.unlink,
        "no mask": lambda: derived_files.mask_path(crop_file).unlink(),
        "cut crop": lambda: crop_file.write_bytes(crop_file.read_bytes()[:50]),
        "swapped crop": lambda: crop_file.write_bytes(cat.crop_file("B-03-003").read_bytes()),
        "orphan crop": lambda: (crop_file.parent / f"{strange}.png").write_bytes(b"x"),
        "cut vectors": lambda: next(vectors.glob("*.npz")).write_bytes(b"PK"),
        "others' vectors": lambda: (vectors / "000009-abcdefabcdef.npz").write_bytes(
            derived_files.segment_bytes(
                derived_files.Segment(("Q-1",), (strange,), np.ones((1, 3), np.float32)), "e.one"
            )
        ),
        "unfinished": lambda: (crop_file.parent / f".new-{crop_file.name}").write_bytes(b"half"),
        "somebody's": lambda: (cat.derived_folder / "crops" / "notes.txt").write_text("ask Ruth"),
    }[fault]()


@pytest.mark.parametrize(
    ("fault", "kind", "is_repaired"),
    [
        ("missing", "missing original", False),
        ("altered", "altered original", False),
        ("orphan", "orphan original", False),
        ("no crop", "missing derived", True),
        ("no mask", "missing derived", True),
        ("cut crop", "damaged derived", True),
        ("swapped crop", "damaged derived", True),
        ("orphan crop", "orphan derived", True),
        ("cut vectors", "damaged derived", True),
        ("others' vectors", "orphan derived", True),
        ("unfinished", "unfinished file", True),
        ("somebody's", "orphan derived", False),
    ],
)
def test_every_planted_fault_is_found_and_only_what_is_derived_is_mended(full, fault, kind, is_repaired):
    plant(full, fault)
    before = files_of(full.folder)
    assert kinds(full.check()) == [(kind, False)]
    assert kinds(full.check(recut=recut)) == [(kind, False)]
    assert files_of(full.folder) == before
    assert kinds(full.check(repair=True, recut=recut)) == [(kind, is_repaired)]
    assert kinds(full.check()) == ([] if is_repaired else [(kind, False)])
    if not is_repaired:
        assert files_of(full.folder) == before


def test_a_crop_that_cannot_be_cut_again(full):
    plant(full, "no crop")

    def fail(_):
        raise PhotoUnreadable("the photo is gone")

    (finding,) = full.check(repair=True, recut=fail)
    assert not finding.is_repaired
    assert "the photo is gone" in finding.message
    assert kinds(full.check(repair=True)) == [("missing derived", False)]


def test_all_that_is_derived_can_go(full):
    for path in full.derived_folder.rglob("*"):
        if path.is_file():
            path.unlink()
    assert kinds(full.check(repair=True, recut=recut)) == [("missing derived", True)] * 4
    assert full.check() == ()
    assert full.vectors("e.one", ["B-03-002"]) == {}


def test_a_broken_reference_is_found(lite):
    add_tray(lite, "B-03")
    with closing(sqlite3.connect(lite.folder / "catalogue.sqlite")) as plain, plain:
        plain.execute("INSERT INTO tag VALUES (1, 999, 'x', 'motif', NULL, NULL, 1, 'x', 'x')")
    assert kinds(lite.check()) == [("broken reference", False)]


def test_a_damaged_catalogue_is_found(tmp_path):
    with Catalogue.open(tmp_path / "c", create=True) as cat:
        add_tray(cat, "B-03", sherds=40)
    file = tmp_path / "c" / "catalogue.sqlite"
    with closing(sqlite3.connect(file)) as plain:
        (root,) = plain.execute("SELECT rootpage FROM sqlite_master WHERE name = 'event'").fetchone()
        (size,) = plain.execute("PRAGMA page_size").fetchone()
    pages = bytearray(file.read_bytes())
    pages[(root - 1) * size : root * size] = b"\x55" * size
    file.write_bytes(pages)
    with Catalogue.open(tmp_path / "c") as cat:
        findings = cat.check()
        assert {finding.kind for finding in findings} == {"damaged catalogue"}
        assert kinds(cat.check(repair=True, recut=recut)) == kinds(findings)
        with pytest.raises(CollectionDamaged, match="restore"):
            cat.history()


def unpack(backup: Path, folder: Path) -> Path:
    with zipfile.ZipFile(backup) as archive:
        assert archive.testzip() is None
        archive.extractall(folder)
    return folder


def test_a_backup_unpacks_to_the_same_collection(full, tmp_path):
    backup = full.backup(tmp_path / "copies" / "spring.zip")
    folder = unpack(backup, tmp_path / "again")
    # Second opinion: coreutils' sha256sum reads the manifest.
    done = subprocess.run(
        ["sha256sum", "--check", "manifest-sha256.txt"], cwd=folder, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count("OK") == 1 + len(full.photos())
    assert list(backup.parent.iterdir()) == [backup]
    with Catalogue.open(folder) as again:
        assert (again.sherds(with_dropped=True), again.photos()) == (full.sherds(with_dropped=True), full.photos())
        assert again.history() == full.history()
        assert again.lots() == full.lots()
        assert set(kinds(again.check(repair=True, recut=recut))) == {("missing derived", True)}
        with again.transaction(by=PERSON):  # numbering goes on where it was
            assert again.add_sherd(1, SQUARE).number == "B-03-005"


def test_merged_sherds_and_undone_changes_survive_a_backup(full, tmp_path):
    with full.transaction(by=PERSON):
        full.merge_sherds(["B-03-001", "B-03-002"], SQUARE)
    with full.transaction(by=PERSON):
        full.undo("B-03")
    with full.transaction(by=PERSON):
        full.merge_sherds(["B-03-001", "B-03-002"], SQUARE)
    folder = unpack(full.backup(tmp_path / "b.zip"), tmp_path / "again")
    with Catalogue.open(folder) as again:
        assert again.sherds(with_dropped=True) == full.sherds(with_dropped=True)
        assert again.history() == full.history()


def test_an_empty_collection_is_backed_up_too(cat, tmp_path):
    with Catalogue.open(unpack(cat.backup(tmp_path / "b.zip"), tmp_path / "again")) as again:
        assert again.check() == again.sherds() == ()


def test_where_a_backup_cannot_go(full, tmp_path):
    (tmp_path / "there.zip").write_bytes(b"last year's")
    for file in (tmp_path / "there.zip", tmp_path / "b.tgz", full.photos_folder / "b.zip"):
        with pytest.raises(InputError):
            full.backup(file)
    assert (tmp_path / "there.zip").read_bytes() == b"last year's"
    assert full.check() == ()


@pytest.mark.parametrize("fault", ["missing", "altered"])
def test_no_backup_of_a_damaged_collection_passes_for_one(full, tmp_path, fault):
    plant(full, fault)
    with pytest.raises(CollectionDamaged, match="no backup was made"):
        full.backup(tmp_path / "copies" / "b.zip")
    assert list((tmp_path / "copies").iterdir()) == []


def test_a_backup_while_others_write_is_one_state(cat, tmp_path):
    add_tray(cat, "B-03")
    stop = threading.Event()

    def write() -> None:
        turn = 0
        while not stop.is_set():
            turn += 1
            add_tray(cat, "B-03", sherds=3, content=f"tray {turn}".encode())

    writer = threading.Thread(target=write)
    writer.start()
    try:
        backups = [cat.backup(tmp_path / f"{turn}.zip") for turn in range(3)]
    finally:
        stop.set()
        writer.join()
    for turn, backup in enumerate(backups):
        with Catalogue.open(unpack(backup, tmp_path / str(turn))) as again:
            assert len(again.sherds()) == 4 + 3 * (len(again.photos()) - 1)
            assert {f.kind for f in again.check()} <= {"missing derived"}
