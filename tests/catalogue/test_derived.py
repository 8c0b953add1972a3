import os

import cv2
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from motifs.catalogue import Measurement, derived_files
from motifs.catalogue.derived import MAX_SEGMENTS
from motifs.errors import InputError, UnknownName
from motifs.records import SherdCrop
from tests.catalogue.finds import PERSON, SQUARE, add_tray, crop, files_of


def same_crop(a: SherdCrop, b: SherdCrop) -> bool:
    rest = [(c.px_per_mm, c.source_px_per_mm, c.is_scaled) for c in (a, b)]
    return np.array_equal(a.image, b.image) and np.array_equal(a.mask, b.mask) and rest[0] == rest[1]


def test_a_crop_comes_back_as_it_was(cat):
    numbers = add_tray(cat, "B-03", sherds=2)
    assert same_crop(cat.crop(numbers[0]), crop(0))
    assert same_crop(cat.crop(numbers[1]), crop(1))
    assert cat.crop(numbers[0]).mask.dtype == bool


def test_another_decoder_reads_the_crop_too(cat):
    number = add_tray(cat, "B-03", sherds=1)[0]
    path = cat.crop_file(number)
    read = cv2.imread(str(path), cv2.IMREAD_COLOR)[:, :, ::-1]
    np.testing.assert_array_equal(read, crop(0).image)
    mask = cv2.imread(str(derived_files.mask_path(path)), cv2.IMREAD_GRAYSCALE)
    np.testing.assert_array_equal(mask > 0, crop(0).mask)


@given(
    image=arrays(np.uint8, st.tuples(st.integers(1, 9), st.integers(1, 9), st.just(3))),
    is_scaled=st.booleans(),
    source=st.floats(0.1, 500),
)
def test_any_crop_survives_its_file(tmp_path_factory, image, is_scaled, source):
    given_crop = SherdCrop(image, image[:, :, 0] > 99, 10.0, source, is_scaled)
    path = tmp_path_factory.mktemp("crop") / "k.png"
    png, mask = derived_files.crop_png(given_crop, "k")
    path.write_bytes(png)
    derived_files.mask_path(path).write_bytes(mask)
    assert same_crop(derived_files.read_crop(path, "k"), given_crop)
    with pytest.raises(ValueError, match="not the one"):
        derived_files.read_crop(path, "another")


def test_a_damaged_crop_counts_as_none(lite):
    number = add_tray(lite, "B-03", sherds=1)[0]
    path = lite.crop_file(number)
    whole = path.read_bytes()
    for broken in (b"", whole[: len(whole) // 2], whole[:-30] + bytes(30), b"GIF89a"):
        path.write_bytes(broken)
        assert lite.crop(number) is None
    path.write_bytes(whole)
    derived_files.mask_path(path).unlink()
    assert lite.crop(number) is None


def test_crops_that_cannot_be_kept(cat):
    number = add_tray(cat, "B-03", sherds=1)[0]
    whole = crop(0)
    with pytest.raises(InputError, match="differ in size"), cat.transaction(by=PERSON):
        cat.save_crop(number, SherdCrop(whole.image, whole.mask[:-1], 10.0, 10.0, True))
    with pytest.raises(UnknownName), cat.transaction(by=PERSON):
        cat.save_crop("B-03-999", whole)
    assert same_crop(cat.crop(number), whole)


def test_measurements(cat):
    a, b = add_tray(cat, "B-03", sherds=2)
    assert cat.measurements(a) == {}
    assert cat.measurements_of([]) == {}
    with cat.transaction(by=PERSON):
        cat.save_measurements({})
        cat.save_measurements(
            {a: {"line_width_mm": Measurement(1.25, 0.1), "paste_lab": Measurement([60.5, 8, 20], [1, 1, 2])}}
        )
    with cat.transaction(by=PERSON):
        cat.save_measurements(
            {a: {"line_width_mm": Measurement(1.5)}, b: {"kind": Measurement({"word": "łuk", "n": None})}}
        )
    assert cat.measurements(a) == {
        "line_width_mm": Measurement(1.5, None),
        "paste_lab": Measurement([60.5, 8, 20], [1, 1, 2]),
    }
    assert cat.measurements_of([b, a])[b] == {"kind": Measurement({"word": "łuk", "n": None})}
    assert [event.subject for event in cat.history("B-03", limit=2)] == ["2 sherds", "1 sherd"]
    assert not cat.history()[0].is_undoable
    with pytest.raises(UnknownName):
        cat.measurements("B-03-999")


@pytest.mark.filterwarnings("error")
def test_a_measurement_that_is_no_number_is_a_defect(cat):
    a = add_tray(cat, "B-03", sherds=1)[0]
    with pytest.raises(Exception, match="JSON compliant"), cat.transaction(by=PERSON):
        cat.save_measurements({a: {"x_mm": Measurement(float("nan"))}})
    assert cat.measurements(a) == {}


def test_nothing_derived_outlives_its_outline_and_undo_brings_it_back(cat):
    a = add_tray(cat, "B-03", sherds=1)[0]
    with cat.transaction(by=PERSON):
        cat.save_measurements({a: {"x_mm": Measurement(1)}})
        cat.save_vectors("e.one", {a: np.ones(4, np.float32)})
    with cat.transaction(by=PERSON):
        cat.replace_outline(a, SQUARE + 1)
    assert (cat.crop(a), cat.measurements(a), cat.vectors("e.one", [a])) == (None, {}, {})
    with cat.transaction(by=PERSON):
        cat.save_measurements({a: {"x_mm": Measurement(2)}})
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert cat.measurements(a) == {"x_mm": Measurement(1)}
    np.testing.assert_array_equal(cat.vectors("e.one", [a])[a], np.ones(4))
    assert cat.crop(a) is not None


def test_vectors_of_two_encoders_never_meet(cat):
    a, b = add_tray(cat, "B-03", sherds=2)
    with cat.transaction(by=PERSON):
        cat.save_vectors("e.one", {})
        cat.save_vectors("e.one", {a: np.ones(4), b: np.zeros(4)})
        cat.save_vectors("e.two/views3", {a: np.arange(7)})
    assert list(cat.vectors("e.one", [b, a])) == [b, a]
    assert cat.vectors("e.two/views3", [a, b])[a].tolist() == list(range(7))
    assert list(cat.vectors("e.two/views3", [a, b])) == [a]
    assert cat.vectors("e.three", [a]) == {}
    assert cat.vectors("e.one", [a])[a].dtype == np.float32
    # a segment that lies in another encoder's folder is not believed
    one, two = (derived_files.tag_folder(cat.derived_folder, tag) for tag in ("e.one", "e.two/views3"))
    (stray,) = derived_files.segment_files(two)
    stray.rename(one / "000009-aaaaaaaaaaaa.npz")
    assert cat.vectors("e.one", [a])[a].tolist() == [1, 1, 1, 1]


@pytest.mark.parametrize(
    ("tag", "vector"),
    [
        ("", [1.0]),
        ("..", [1.0]),
        ("x" * 201, [1.0]),
        ("e.one", [1.0, 2.0]),
        ("e.one", [np.nan, 1, 1, 1]),
        ("e.one", [[1.0, 1, 1, 1]]),
        ("e.new", []),
    ],
)
def test_vectors_that_cannot_be_kept(cat, tag, vector):
    a = add_tray(cat, "B-03", sherds=1)[0]
    with cat.transaction(by=PERSON):
        cat.save_vectors("e.one", {a: np.ones(4)})
    before = files_of(cat.folder)
    with pytest.raises(InputError), cat.transaction(by=PERSON):
        cat.save_vectors(tag, {a: np.array(vector, np.float32)})
    assert files_of(cat.folder) == before


def test_many_segments_become_one_and_the_latest_counts(lite):
    a, b = add_tray(lite, "B-03", sherds=2)
    for turn in range(MAX_SEGMENTS + 3):
        with lite.transaction(by=PERSON):
            lite.save_vectors("e.one", {a: np.full(3, turn), **({b: np.full(3, 50)} if turn == 2 else {})})
        assert lite.vectors("e.one", [a])[a].tolist() == [turn] * 3
    assert lite.vectors("e.one", [b])[b].tolist() == [50] * 3
    folder = derived_files.tag_folder(lite.derived_folder, "e.one")
    assert len(derived_files.segment_files(folder)) == 3
    damaged = derived_files.segment_files(folder)[-1]
    damaged.write_bytes(damaged.read_bytes()[:100])
    assert lite.vectors("e.one", [a])[a].tolist() == [MAX_SEGMENTS + 1] * 3


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=20)
@given(rows=st.lists(arrays(np.float32, 5, elements=st.floats(-1e6, 1e6, width=32)), min_size=1, max_size=4))
def test_vectors_come_back_to_the_bit(lite, rows):
    if not lite.lots():
        add_tray(lite, "B-03")
    numbers = [row.number for row in lite.sherds()]
    with lite.transaction(by=PERSON):
        lite.save_vectors("e.any", dict(zip(numbers, rows, strict=False)))
    for number, row in zip(numbers, rows, strict=False):
        np.testing.assert_array_equal(lite.vectors("e.any", numbers)[number], row)


@given(data=st.data(), count=st.integers(1, 70), at_a_time=st.integers(1, 40))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25, deadline=None)
def test_a_few_of_many_are_read_as_all_are(tmp_path, monkeypatch, data, count, at_a_time):
    monkeypatch.setattr(derived_files, "ROWS_AT_A_TIME", at_a_time)
    keys = tuple(f"k{row}" for row in range(count))
    vectors = np.random.default_rng(count).standard_normal((count, 3), np.float32)
    file = tmp_path / "000001-x.npz"
    file.write_bytes(derived_files.segment_bytes(derived_files.Segment(keys, keys, vectors), "e.one"))
    wanted = data.draw(st.sets(st.sampled_from([*keys, "another"])))
    some = derived_files.read_segment(file, "e.one", wanted)
    found = dict(zip(some.content_keys, some.vectors, strict=True))
    assert found.keys() >= wanted - {"another"}
    assert all(np.array_equal(vector, vectors[keys.index(key)]) for key, vector in found.items())
    assert derived_files.segment_dim(file, "e.one") == 3


def test_a_flipped_bit_is_noticed_when_a_few_are_read(tmp_path):
    keys = tuple(f"k{row}" for row in range(200))
    file = tmp_path / "000001-x.npz"
    vectors = np.ones((200, 8), np.float32)
    whole = bytearray(derived_files.segment_bytes(derived_files.Segment(keys, keys, vectors), "e.one"))
    whole[whole.rindex(np.float32(1.0).tobytes() * 8) + 2] ^= 1
    file.write_bytes(whole)
    with pytest.raises(derived_files.DAMAGE):
        derived_files.read_segment(file, "e.one", {"k0"})


def test_a_vector_is_written_again_only_as_often_as_all_of_them_double(tmp_path):
    """Two thousand saves of one size: joined all together at every sixteenth, 64 times what is kept would be written."""
    saves, size, written = 2000, 1000, 0
    for turn in range(saves):
        present, new = derived_files.segment_files(tmp_path), size
        if len(present) >= MAX_SEGMENTS:
            joined = derived_files.newest_of_a_size(present, size)
            assert joined == present[-len(joined) :]  # the latest count, so nothing older may be passed over
            for path in joined:
                new += path.stat().st_size
                path.unlink()
        (tmp_path / f"{turn:06d}-x.npz").touch()
        os.truncate(tmp_path / f"{turn:06d}-x.npz", new)
        written += new
    kept = [path.stat().st_size for path in derived_files.segment_files(tmp_path)]
    assert (sum(kept), len(kept) <= MAX_SEGMENTS) == (saves * size, True)
    assert written < (1 + np.log2(saves / MAX_SEGMENTS)) * sum(kept)
