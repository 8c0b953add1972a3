"""`serve`: open the page, on this machine only unless an address is given."""

from __future__ import annotations

import errno
import ipaddress
import os
import socket
import sys
import tomllib
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from motifs.cli.answer import Answer
from motifs.cli.options import collection, port
from motifs.errors import InputError

if TYPE_CHECKING:
    import argparse

SUMMARY = "start the page, on this machine only unless --address says otherwise; Ctrl-C ends it"
APP = Path(__file__).resolve().parents[2] / "app.py"
HOST = "localhost"
DEFAULT_PORT = 8501
COLLECTION_VARIABLE = "MOTIFS_COLLECTION"
"""Environment variable that tells app.py which folder to open."""
SECRETS = Path(".streamlit") / "secrets.toml"
"""Where Streamlit looks for a log-in service: under the project's folder and under the home folder."""
PEOPLE = "people.toml"
NO_LOG_IN = (
    "no log-in is set up: everybody who can reach this address sees and changes the collection, under any name. "
    "Set one up (README, A shared lab), or leave --address out"
)
NOT_ENCRYPTED = (
    "what goes over the network is not encrypted: keep the page behind a reverse proxy with TLS, "
    "and let your institution's network people look at it"
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("--port", type=port, default=DEFAULT_PORT, metavar="P", help=f"default: {DEFAULT_PORT}")
    parser.add_argument(
        "--address",
        default=HOST,
        metavar="A",
        help="address of this machine at which others reach the page, for a shared lab (default: localhost, nobody else)",
    )


def run(arguments: argparse.Namespace) -> Answer:
    """Say where the page is; `then` starts it.

    Raises
    ------
    CollectionError
        The collection that is there cannot be used; without one, the page makes it on the first upload.
    InputError
        The port is taken, the address is none of this machine, a log-in is set up that cannot work, or app.py is not
        beside the package.
    """
    folder = arguments.collection.resolve()
    if folder.exists():
        with collection(folder, create=True):
            pass
    _refuse_taken(arguments.address, arguments.port)
    warnings = _warnings(arguments.address, has_log_in=_has_log_in(), has_people=(folder / PEOPLE).is_file())
    if not APP.is_file():
        raise InputError(f"no {APP.name} beside the package; run serve from the project's own folder")
    url = f"http://{_in_a_url(arguments.address)}:{arguments.port}"
    return Answer(
        {"url": url, "collection": str(folder)},
        [f"The page of {folder} is at {url} (Ctrl-C ends it)"],
        warnings,
        then=lambda: _become_server(folder, arguments.address, arguments.port),
    )


def _in_a_url(address: str) -> str:
    return f"[{address}]" if ":" in address else address


def _refuse_taken(address: str, wanted: int) -> None:
    no_address = f"'{address}' is no address of this machine; give one that it has, or leave --address out"
    try:
        # To the system an empty address is every address; here it is a mistake.
        found = socket.getaddrinfo(address, wanted, type=socket.SOCK_STREAM) if address.strip() else []
    except (OSError, UnicodeError):
        found = []
    if not found:
        raise InputError(no_address)
    family, kind, _, _, place = found[0]
    with socket.socket(family, kind) as trial:
        # As the server itself does: a port that a process has only just left is free.
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind(place)
        except OSError as wrong:
            if wrong.errno == errno.EADDRNOTAVAIL:
                raise InputError(no_address) from None
            raise InputError(f"port {wanted} is taken on this machine; give another one with --port") from None


def is_this_machine_only(address: str) -> bool:
    """Whether nobody on another machine can reach an address."""
    if address.casefold() == HOST:
        return True
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def _has_log_in() -> bool:
    """Whether a log-in service is set up; InputError where it cannot work."""
    for folder in (APP.parent, Path.home()):
        file = folder / SECRETS
        try:
            found = "auth" in tomllib.loads(file.read_text(encoding="utf-8"))
        except FileNotFoundError:
            continue
        except (OSError, ValueError) as wrong:
            why = " ".join(str(wrong).split())
            raise InputError(f"'{file}' cannot be read ({why}); mend it before the page is started") from wrong
        if found:
            if find_spec("authlib") is None:
                raise InputError(
                    f"'{file}' sets up a log-in, but Authlib is not installed; install it (README, A shared lab)"
                )
            return True
    return False


def _warnings(address: str, *, has_log_in: bool, has_people: bool) -> list[str]:
    """What whoever starts the page should know before others use it."""
    is_open = not is_this_machine_only(address)
    told = []
    if is_open and not has_log_in:
        told.append(NO_LOG_IN)
    if is_open:
        told.append(NOT_ENCRYPTED)
    if has_people and not has_log_in:
        told.append(f"{PEOPLE} lists roles, but no log-in is set up: everybody at the page may do everything")
    if has_log_in and not has_people:
        told.append(
            f"a log-in is set up, but the collection has no {PEOPLE}: nobody can come in (README, A shared lab)"
        )
    return told


def _become_server(folder: Path, address: str, wanted: int) -> NoReturn:
    """Turn this process into the page's server, so that signals reach it directly; its talk goes to stderr."""
    os.environ[COLLECTION_VARIABLE] = str(folder)
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    options = {
        "server.port": wanted,
        "server.address": address,
        "server.headless": "true",
        "browser.gatherUsageStats": "false",
    }
    arguments = [f"--{name}={value}" for name, value in options.items()]
    # The server reads .streamlit/config.toml from the working folder.
    os.chdir(APP.parent)
    os.execv(sys.executable, [sys.executable, "-m", "streamlit", "run", str(APP), *arguments])  # noqa: S606
