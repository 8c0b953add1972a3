"""The page is for this machine unless an address is given, and then it says plainly what that means."""

from __future__ import annotations

import json
import socket
from typing import TYPE_CHECKING

import pytest

from motifs.cli import main
from motifs.cli import serve as command

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    """Addresses at which the server would have started; secrets are looked for in an empty home."""
    lines: list[str] = []
    monkeypatch.setattr(command, "_become_server", lambda _folder, address, _port: lines.append(address))
    (tmp_path / "home").mkdir()
    monkeypatch.setattr(command.Path, "home", lambda: tmp_path / "home")
    monkeypatch.setattr(command, "APP", tmp_path / "program" / "app.py")
    (tmp_path / "program").mkdir()
    command.APP.write_text("", encoding="utf-8")
    return lines


def port() -> str:
    with socket.socket() as trial:
        trial.bind(("localhost", 0))
        return str(trial.getsockname()[1])


def serve(tmp_path: Path, *more: str) -> int:
    return main(["--collection", str(tmp_path / "none"), "serve", "--port", port(), *more])


def test_nobody_else_reaches_it_unless_told(
    started: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert serve(tmp_path) == 0
    assert started == ["localhost"]
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("address", ["0.0.0.0", "::"])  # noqa: S104 - what is warned of
def test_an_open_address_is_warned_of(
    address: str, started: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    if address == "::" and not socket.has_ipv6:
        pytest.skip("no IPv6 on this machine")
    assert serve(tmp_path, "--address", address, "--json") == 0
    assert started == [address]
    out, err = capsys.readouterr()
    assert "everybody who can reach this address sees and changes the collection" in err
    assert "not encrypted" in err
    assert json.loads(out)["url"].startswith("http://")


@pytest.mark.parametrize("address", ["127.0.0.1", "localhost", "LOCALHOST"])
def test_a_loopback_address_is_this_machine_only(
    address: str, started: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert serve(tmp_path, "--address", address) == 0
    assert capsys.readouterr().err == ""


def test_which_addresses_are_this_machine_only() -> None:
    """127.0.0.0/8 and ::1 are loopback: RFC 1122, 3.2.1.3 (g), and RFC 4291, 2.5.3."""
    assert all(map(command.is_this_machine_only, ["127.0.0.1", "127.8.8.8", "::1", "localhost"]))
    assert not any(map(command.is_this_machine_only, ["0.0.0.0", "::", "192.168.1.4", "lab-pc", "localhost.example"]))  # noqa: S104


@pytest.mark.parametrize("address", ["203.0.113.7", "no-such-host.invalid", "a b", "", "\u00e9" * 80])
def test_an_address_of_another_machine_is_refused_in_one_line(
    address: str, started: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """203.0.113.0/24 is for documentation (RFC 5737), .invalid never resolves (RFC 2606)."""
    assert serve(tmp_path, "--address", address) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert started == []


def test_roles_without_a_log_in_are_warned_of(
    started: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from motifs.catalogue import Catalogue

    Catalogue.open(tmp_path / "none", create=True).close()
    (tmp_path / "none" / command.PEOPLE).write_text('others = "look"', encoding="utf-8")
    assert serve(tmp_path) == 0
    assert "no log-in is set up" in capsys.readouterr().err


def test_a_log_in_is_looked_over_before_the_page_starts(
    started: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    secrets = tmp_path / "home" / ".streamlit" / "secrets.toml"
    secrets.parent.mkdir()
    secrets.write_text('[auth]\nclient_id = "x"\n', encoding="utf-8")
    monkeypatch.setattr(command, "find_spec", lambda _: None)
    assert serve(tmp_path) == 2
    assert "Authlib is not installed" in capsys.readouterr().err
    monkeypatch.setattr(command, "find_spec", lambda _: object())
    assert serve(tmp_path, "--address", "0.0.0.0") == 0  # noqa: S104
    err = capsys.readouterr().err
    assert "nobody can come in" in err
    assert "everybody who can reach" not in err
    assert "not encrypted" in err
    secrets.write_text("[auth", encoding="utf-8")
    assert serve(tmp_path) == 2
    assert capsys.readouterr().err.count("\n") == 1
