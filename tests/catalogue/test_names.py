import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motifs.catalogue import check_name
from motifs.catalogue.names import MAX_NAME_LENGTH, check_note, unknown
from motifs.errors import InputError, NameRefused


@pytest.mark.parametrize("name", ["0012", "11-4", "1E5", "2026.014.0037a", "10-P-1", "B 3", "Łódź", "墓3"])
def test_names_stay_as_typed(name):
    # Ids that spreadsheets mangle: common practice in field records, no single source.
    assert check_name(name, "lot") == name


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("a/b", "'/'"),
        ("a\\b", "'\\'"),
        ("..", "'..'"),
        ("a..b", "'..'"),
        (".", "dot"),
        ("a\nb", "control"),
        ("a\x00b", "control"),
        ("a\x7fb", "control"),
        ("a\u202eb", "control"),
        ("a\ud800b", "control"),
        ("a\u2028b", "control"),
        (" a", "space"),
        ("a\u00a0", "space"),
        ("a" * (MAX_NAME_LENGTH + 1), "longer"),
    ],
)
def test_what_cannot_be_a_name_is_refused_on_one_line(name, reason):
    with pytest.raises(NameRefused) as refused:
        check_name(name, "lot")
    message = str(refused.value)
    assert reason in message
    assert message.startswith("lot ")
    assert message.isprintable()


def test_composed_and_decomposed_are_one_name():
    # Unicode Standard Annex 15, figure 3: U+212B and A + U+030A both have the canonical composition U+00C5.
    assert check_name("\u212b 4") == check_name("A\u030a 4") == "\u00c5 4"


@given(st.text(max_size=MAX_NAME_LENGTH + 20))
def test_every_text_is_refused_or_kept(text):
    try:
        name = check_name(text)
    except NameRefused as refused:
        message = str(refused)
    else:
        message = ""
        _expect_kept(text, name)
    assert message == "" or message.isprintable()


def _expect_kept(text: str, name: str) -> None:
    assert unicodedata.normalize("NFD", name) == unicodedata.normalize("NFD", text)
    assert check_name(name) == name
    assert 0 < len(name) <= MAX_NAME_LENGTH
    assert not {"/", "\\"} & set(name)
    name.encode("utf-8")


def test_the_longest_name_is_kept():
    assert len(check_name("a" * MAX_NAME_LENGTH)) == MAX_NAME_LENGTH


def test_near_names_are_suggested():
    assert str(unknown("lot", "B-3", ["A-01", "B-03"])) == "no lot 'B-3'; did you mean 'B-03'?"
    assert "there is 'A-01', 'B-03'" in str(unknown("lot", "zzz", ["A-01", "B-03"]))
    assert "there is no lot yet" in str(unknown("lot", "zzz", []))
    assert "..." in str(unknown("lot", "zzz", [f"{n}" for n in range(9)]))


def test_notes_may_have_lines_but_no_control_characters():
    assert check_note("worn\n\tretouched") == "worn\n\tretouched"
    with pytest.raises(InputError):
        check_note("worn\x1b[2J")
