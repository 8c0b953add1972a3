"""A short run of the fuzz, and hypothesis on the same readers; `python -m tests.faults.fuzz 20000` runs as long as asked."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.faults.fuzz import Readers, fuzz, readers

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

KINDS = (
    "table.csv", "table.xlsx", "skos", "outline", "piles", "places", "periods", "people", "card", "answer", "package", "package table",
)  # fmt: skip
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)


@pytest.fixture(scope="module")
def reading(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Readers]:
    with readers(tmp_path_factory.mktemp("fuzz")) as all_of_them:
        yield all_of_them


def test_whole_files_are_read(reading: Readers) -> None:
    assert set(reading.kinds) == set(KINDS)
    assert {reading.read(kind, reading.kinds[kind][1]) for kind in KINDS} == {"read"}
    assert reading.read_exercise(reading.answer) == "read"
    assert reading.write_entry(["2026-03-01", "M. Oduya", "brush"]) == "read"


def test_damaged_files_give_nothing_but_one_line(tmp_path: Path) -> None:
    became = fuzz(tmp_path, 400, seed=20)
    assert sum(became.values()) == 1200
    assert sum(count for what, count in became.items() if what.endswith("refused")) > 100
    assert sum(count for what, count in became.items() if what.endswith("read")) > 100


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=40)
@given(content=st.binary(max_size=200) | st.text(max_size=200).map(lambda text: text.encode("utf-8", "surrogatepass")))
def test_any_bytes_give_nothing_but_one_line(kind: str, reading: Readers, content: bytes) -> None:
    reading.read(kind, content)


@settings(max_examples=60)
@given(JSON)
def test_any_json_is_an_outline_a_card_an_answer_or_one_line(reading: Readers, value: object) -> None:
    import json

    content = json.dumps(value).encode("utf-8", "surrogatepass")
    for kind in ("outline", "card", "answer", "package"):
        reading.read(kind, content)
    reading.read_exercise(value)
    reading.read("outline", json.dumps({"outline_px": value}).encode("utf-8", "surrogatepass"))


@settings(max_examples=60)
@given(st.lists(st.text(max_size=30), min_size=3, max_size=3))
def test_any_date_is_a_date_or_one_line(reading: Readers, texts: list[str]) -> None:
    reading.write_entry(texts)
