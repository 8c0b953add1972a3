"""The parser and the exit codes, without the commands' work."""

from __future__ import annotations

import argparse
import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from motifs.cli import COMMANDS, entry, main
from motifs.cli.answer import Answer, table
from motifs.errors import UnknownName

ROOT = Path(__file__).resolve().parents[2]


class Fake:
    """A command that does what the test tells it to."""

    SUMMARY = "do as told"

    def __init__(self, outcome: Answer | BaseException) -> None:
        self.outcome = outcome
        self.seen = argparse.Namespace()

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--word")

    def run(self, arguments: argparse.Namespace) -> Answer:
        self.seen = arguments
        if isinstance(self.outcome, BaseException):
            raise self.outcome
        return self.outcome


@pytest.fixture
def fake(monkeypatch: pytest.MonkeyPatch) -> Fake:
    command = Fake(Answer({"a": [1]}, ["one", "two"], ["mind the gap"]))
    monkeypatch.setattr(entry, "command_named", lambda name: command)
    return command


@pytest.mark.parametrize(
    "line",
    [
        ["--collection", "here", "--json", "sort"],
        ["sort", "--collection", "here", "--json"],
        ["--json", "sort", "--collection", "here"],
        ["--collection", "there", "sort", "--json", "--collection", "here"],
    ],
)
def test_both_options_stand_before_or_after_the_command(
    line: list[str], fake: Fake, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(line) == 0
    assert fake.seen.collection == Path("here")
    out, err = capsys.readouterr()
    assert json.loads(out) == {"a": [1]}
    assert err == "warning: mind the gap\n"


def test_without_options_lines_are_printed_and_the_collection_is_here(
    fake: Fake, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sort"]) == 0
    assert fake.seen.collection == Path("collection")
    assert capsys.readouterr().out == "one\ntwo\n"


def test_wrong_input_is_one_line_and_exit_2(fake: Fake, capsys: pytest.CaptureFixture[str]) -> None:
    fake.outcome = UnknownName("no lot 'a\nb\x1b[31m'; name one of: c")
    assert main(["sort"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err == "no lot 'a b [31m'; name one of: c\n"


def test_a_defect_is_not_hidden(fake: Fake) -> None:
    fake.outcome = ZeroDivisionError("a defect")
    with pytest.raises(ZeroDivisionError):
        main(["sort"])


def test_ctrl_c_ends_quietly(fake: Fake, capsys: pytest.CaptureFixture[str]) -> None:
    fake.outcome = KeyboardInterrupt()
    assert main(["sort"]) == 128 + signal.SIGINT
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.parametrize(
    "line", [["nonsense"], [], ["sort", "--vessels", "0", "L"], ["sort"], ["comparanda", "S", "--box", "1,2,3"]]
)
def test_a_wrong_line_is_refused_in_one_line(line: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(line)
    assert ended.value.code == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert "--help" in err


def test_a_defect_ends_with_a_traceback_and_exit_1() -> None:
    code = "from motifs.cli import entry\nentry.command_named = lambda name: 1 / 0\nimport sys; sys.exit(entry.main(['sort', 'L']))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "Traceback" in done.stderr
    assert "ZeroDivisionError" in done.stderr


def test_a_closed_pipe_is_no_defect() -> None:
    line = f"{sys.executable} -m motifs encoders | head -c 0; echo ${{PIPESTATUS[0]}}"
    done = subprocess.run(["bash", "-c", line], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stderr == ""
    assert done.stdout.strip() == "0"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_and_is_in_the_readme(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([name, "--help"])
    assert ended.value.code == 0
    text = capsys.readouterr().out
    assert "--collection DIR" in text
    assert len(entry.command_named(name).SUMMARY) > 10
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    row = next((line for line in readme.splitlines() if line.startswith(f"| `{name}")), None)
    assert row is not None, f"{name} is not in the README's table"
    own = {word for word in text.replace(",", " ").replace("]", " ").split() if word.startswith("--")}
    for option in own - {"--help", "--collection", "--json", "--by", "--unlock"}:
        assert option in row, f"{option} of {name} is not in the README"


def test_every_module_of_a_command_is_listed() -> None:
    modules = {
        path.stem for path in (ROOT / "motifs" / "cli").glob("*.py") if "SUMMARY" in path.read_text(encoding="utf-8")
    }
    assert modules - {"entry"} == {entry.MODULES.get(name, name) for name in COMMANDS}


def test_a_table_lines_up_and_shows_what_it_cannot_print() -> None:
    lines = table(["name", "n"], [["a\x1b[2J", 7], ["long name", None], ["b", 12]])
    assert lines == ["name        n", "a?[2J       7", "long name   -", "b          12"]


def test_a_table_without_rows_is_its_head() -> None:
    assert table(["a", "b"], []) == ["a  b"]
