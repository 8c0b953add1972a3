"""`serve`: open the page on this machine."""

from __future__ import annotations

import os
import socket
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from motifs.cli.answer import Answer
from motifs.cli.options import collection, port
from motifs.errors import InputError

if TYPE_CHECKING:
    import argparse

SUMMARY = "start the page on this machine; Ctrl-C ends it"
APP = Path(__file__).resolve().parents[2] / "app.py"
HOST = "localhost"
DEFAULT_PORT = 8501
COLLECTION_VARIABLE = "MOTIFS_COLLECTION"
"""Environment variable that tells app.py which folder to open."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("--port", type=port, default=DEFAULT_PORT, metavar="P", help=f"default: {DEFAULT_PORT}")


def run(arguments: argparse.Namespace) -> Answer:
    """Say where the page is; `then` starts it.

    Raises
    ------
    CollectionError
        The collection that is there cannot be used; without one, the page makes it on the first upload.
    InputError
        The port is taken, or app.py is not beside the package.
    """
    folder = arguments.collection.resolve()
    if folder.exists():
        with collection(folder, create=True):
            pass
    _refuse_taken(arguments.port)
    if not APP.is_file():
        raise InputError(f"no {APP.name} beside the package; run serve from the project's own folder")
    url = f"http://{HOST}:{arguments.port}"
    return Answer(
        {"url": url, "collection": str(folder)},
        [f"The page of {folder} is at {url} (Ctrl-C ends it)"],
        then=lambda: _become_server(folder, arguments.port),
    )


def _refuse_taken(wanted: int) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as trial:
        # As the server itself does: a port that a process has only just left is free.
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((HOST, wanted))
        except OSError:
            raise InputError(f"port {wanted} is taken on this machine; give another one with --port") from None


def _become_server(folder: Path, wanted: int) -> NoReturn:
    """Turn this process into the page's server, so that signals reach it directly; its talk goes to stderr."""
    os.environ[COLLECTION_VARIABLE] = str(folder)
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    options = {
        "server.port": wanted,
        "server.address": HOST,
        "server.headless": "true",
        "browser.gatherUsageStats": "false",
    }
    arguments = [f"--{name}={value}" for name, value in options.items()]
    # The server reads .streamlit/config.toml from the working folder.
    os.chdir(APP.parent)
    os.execv(sys.executable, [sys.executable, "-m", "streamlit", "run", str(APP), *arguments])  # noqa: S606
