"""What a server process and a page in it cost: seconds to see, seconds of processor, memory. Linux only (/proc)."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from tests.browser.lab import QUIET_MS, free_port, settle

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Page

TICKS = os.sysconf("SC_CLK_TCK")
HELLO = "import streamlit as st\n\nst.title('Hello')\nst.html('<p class=\"m-lead\">Hello</p>')\n"


@dataclass(frozen=True, slots=True)
class Opened:
    """A page that was opened: until its first words stand there, until it is whole, and what the server spent on it."""

    first_s: float
    whole_s: float
    server_s: float


def server_of(port: int) -> int:
    """The process that a server of ours on this port runs in."""
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            words = (folder / "cmdline").read_bytes().split(b"\0")
        except OSError:
            continue
        if any(str(port).encode() in word for word in words) and any(b"streamlit" in word for word in words):
            return int(folder.name)
    raise AssertionError(f"no server on port {port}")


def processor_s(pid: int) -> float:
    """Seconds of processor that a process has used."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / TICKS


def memory_mb(pid: int, what: str = "VmRSS") -> float:
    """Resident memory of a process in MB, now (VmRSS) or at its highest (VmHWM)."""
    for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines():
        if line.startswith(what):
            return int(line.split()[1]) / 1024
    raise AssertionError(what)


def open_page(tab: Page, address: str, pid: int) -> Opened:
    """Open an address in a window and wait until nothing moves any more."""
    used, began = processor_s(pid), time.monotonic()
    tab.goto(address)
    tab.locator(".m-lead").first.wait_for(timeout=QUIET_MS)
    first = time.monotonic() - began
    settle(tab)
    return Opened(first, time.monotonic() - began, processor_s(pid) - used)


@contextmanager
def hello_served(folder: Path) -> Iterator[tuple[str, int]]:
    """Streamlit with a page of two lines: address and process."""
    (folder / "hello.py").write_text(HELLO, encoding="utf-8")
    port = free_port()
    command = [sys.executable, "-m", "streamlit", "run", str(folder / "hello.py"), f"--server.port={port}",
               "--server.headless=true", "--browser.gatherUsageStats=false", "--server.fileWatcherType=none"]  # fmt: skip
    with (folder / "hello.log").open("w", encoding="utf-8") as log:
        server = subprocess.Popen(command, cwd=folder, stdout=log, stderr=log)
        try:
            yield f"http://localhost:{port}", server.pid
        finally:
            server.terminate()
            server.wait(timeout=20)
