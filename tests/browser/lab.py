"""A real server of the page and a real browser, for tests and for screenshots."""

from __future__ import annotations

import ast
import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, Locator, Page

ROOT = Path(__file__).resolve().parents[2]
ARTEFACTS = ROOT / ".artefacts"
"""Git-ignored: pictures of what the tests saw, and the servers' logs."""

START_S = 90.0
QUIET_MS = 60_000
BEGIN_MS = 300


def pages() -> dict[str, str]:
    """Title and address of every page, read off the program's own table of pages, so that a new one is tried as well."""
    found = {}
    for node in ast.walk(ast.parse((ROOT / "app.py").read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "st.Page":
            named = {word.arg: ast.literal_eval(word.value) for word in node.keywords}
            file = Path(ast.literal_eval(node.args[0]))
            found[named["title"]] = "" if named.get("default") else named.get("url_path", file.stem)
    assert "" in found.values()
    return found


def chromium() -> str | None:
    """Debian's browser, or None."""
    return shutil.which("chromium")


def free_port() -> int:
    """A port that nobody has now."""
    with socket.socket() as trial:
        trial.bind(("localhost", 0))
        return int(trial.getsockname()[1])


@contextmanager
def served(collection: Path, log: Path) -> Iterator[str]:
    """Run `serve` on a free port; yield its address. Where it dies or stays silent, its log is in the error."""
    port = free_port()
    command = [sys.executable, "-m", "motifs", "--collection", str(collection), "serve", "--port", str(port)]
    with log.open("w", encoding="utf-8") as stream:
        server = subprocess.Popen(
            command, cwd=ROOT, stdout=stream, stderr=stream, env={**os.environ, "OMP_NUM_THREADS": "1"}
        )
        try:
            _wait_for(server, f"http://localhost:{port}/_stcore/health", log)
            yield f"http://localhost:{port}"
        finally:
            server.terminate()
            server.wait(timeout=20)


def _wait_for(server: subprocess.Popen[bytes], address: str, log: Path) -> None:
    until = time.monotonic() + START_S
    while time.monotonic() < until:
        if server.poll() is not None:
            raise AssertionError(f"the server ended with {server.returncode}:\n{log.read_text(encoding='utf-8')}")
        try:
            with urllib.request.urlopen(address, timeout=2):  # noqa: S310 - our own address
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.2)
    raise AssertionError(f"no answer from {address} in {START_S} s:\n{log.read_text(encoding='utf-8')}")


@contextmanager
def browsing() -> Iterator[Browser]:
    """Debian's Chromium, without a window."""
    from playwright.sync_api import sync_playwright

    path = chromium()
    assert path is not None
    flags = ["--no-sandbox"] if os.geteuid() == 0 else []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=flags)
        try:
            yield browser
        finally:
            browser.close()


class Steps:
    """Pictures of a journey, step by step: `.artefacts/journeys/JOURNEY_1_words.png`."""

    def __init__(self, page: Page, journey: str) -> None:
        self.page, self.journey, self.taken = page, journey, 0
        (ARTEFACTS / "journeys").mkdir(parents=True, exist_ok=True)

    def __call__(self, words: str, *, of: Page | None = None) -> None:
        """Keep the window as it is seen now; of: another window than the first."""
        self.taken += 1
        name = f"{self.journey}_{self.taken}_{words.replace(' ', '_')}.png"
        (of or self.page).screenshot(path=ARTEFACTS / "journeys" / name)


def settle(page: Page) -> None:
    """Wait until the page has drawn what was asked of it."""
    page.wait_for_function(
        "() => { const app = document.querySelector('[data-testid=stApp]');"
        " return app && app.getAttribute('data-test-script-state') === 'notRunning'"
        " && !document.querySelector('[data-stale=true], [data-testid=stSkeleton]'); }",
        timeout=QUIET_MS,
    )


def answered(page: Page) -> None:
    """Wait until the page has begun to answer what was just done, and is through; what needs no answer costs BEGIN_MS."""
    from playwright.sync_api import TimeoutError as NeverBegan

    with suppress(NeverBegan):
        page.wait_for_function(
            "document.querySelector('[data-testid=stApp]')?.getAttribute('data-test-script-state') !== 'notRunning'",
            timeout=BEGIN_MS,
        )
    settle(page)


def go(page: Page, address: str) -> None:
    """Open an address and wait for it."""
    page.goto(address)
    page.wait_for_selector("h1", timeout=QUIET_MS)
    page.wait_for_timeout(150)
    settle(page)


def type_name(page: Page, name: str) -> None:
    """Say who one is."""
    page.get_by_role("textbox", name="Your name, for the record").fill(name)
    page.keyboard.press("Enter")
    answered(page)


def choose(page: Page, label: str, option: str) -> None:
    """Choose from a list, or type a new entry."""
    box = page.get_by_role("combobox", name=label, exact=False).first
    box.click()
    box.fill(option)
    page.wait_for_timeout(200)
    page.keyboard.press("Enter")
    answered(page)


def button(within: Page | Locator, label: str) -> Locator:
    """A button by its exact label; a shortcut that is written on it, such as "Alt + A", is no part of it."""
    return within.get_by_role("button", name=re.compile(rf"^{re.escape(label)}(\s*(Shortcut )?Alt \+ .+)?$")).first


def press(page: Page, label: str) -> None:
    """Press a button by its exact label."""
    button(page, label).click()
    answered(page)


def unfold(page: Page, label: str) -> None:
    """Open a part of the page that folds, unless it is open already."""
    part = page.locator("details", has=page.locator("summary", has_text=label)).first
    part.wait_for()
    if part.get_attribute("open") is None:
        part.locator("summary").click()
        answered(page)


def view(page: Page, name: str) -> None:
    """Choose one of the views that stand in a row."""
    page.get_by_role("radio", name=name, exact=True).or_(
        page.get_by_role("button", name=name, exact=True)
    ).first.click()
    answered(page)


def said(page: Page, words: str) -> None:
    """Wait until the page says this; otherwise tell what it said instead."""
    from playwright.sync_api import TimeoutError as TooLate

    try:
        page.locator(".m-notice", has_text=words).first.wait_for(timeout=QUIET_MS)
    except TooLate:
        shown = page.locator(".m-notice").all_inner_texts()
        raise AssertionError(f"the page did not say {words!r}, but {shown}") from None
    settle(page)


def eventually(is_so: Callable[[], bool], within_s: float = 30.0) -> bool:
    """Whether something becomes so; a page tells the catalogue a moment after the click."""
    until = time.monotonic() + within_s
    while not is_so():
        if time.monotonic() > until:
            return False
        time.sleep(0.1)
    return True
