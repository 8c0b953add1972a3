"""Two hundred page actions in a row: does the server's memory settle? `python -m tests.load.measure_soak DIR [--actions 200]`.

DIR is a made collection (tests.load.make); nothing is changed in it but tags. One window goes through the pages and the lots, opens
sherds, turns the catalogue's pages and tags; memory of the server is printed every twentieth action. It settles where the second half
grows by little: what is kept for speed is bounded.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.catalogue import Catalogue
from tests.browser.lab import browsing, press, served, type_name
from tests.load.served_page import memory_mb, open_page, processor_s, server_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Page

EVERY = 20


def walk(lots: list[str]) -> Iterator[str]:
    """Addresses, one after another: every page that shows a lot, on one lot after another."""
    for turn in range(10_000):
        lot = lots[turn % len(lots)]
        yield f"sorting_table?lot={lot}"
        yield f"tagging?lot={lot}"
        yield f"photographs?lot={lot}"
        yield f"comparanda?lot={lot}&sherd={lot}-001"
        yield f"sorting_table?lot={lot}&sherd={lot}-002"
        yield ""


def act(tab: Page, address: str, where: str, pid: int, turn: int) -> None:
    """Open a page; on the catalogue's, tag what stands on it every other time."""
    open_page(tab, f"{address}/{where}", pid)
    if where.startswith("tagging") and turn % 2:
        type_name(tab, "soak")
        press(tab, "Choose the page")
        if tab.get_by_role("button", name="Next page").first.is_enabled():
            press(tab, "Next page")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.load.measure_soak", description=__doc__.splitlines()[0])
    parser.add_argument("collection", type=Path)
    parser.add_argument("--actions", type=int, default=200)
    given = parser.parse_args()
    with Catalogue.open(given.collection) as cat:
        lots = [lot.name for lot in cat.lots() if lot.sherds > 2]
    with (
        tempfile.TemporaryDirectory() as scratch,
        served(given.collection.absolute(), Path(scratch) / "server.log") as address,
        browsing() as browser,
    ):
        pid = server_of(int(address.rpartition(":")[2]))
        tab = browser.new_page(viewport={"width": 1280, "height": 860})
        began, used, seen = time.monotonic(), 0.0, []
        for turn, where in zip(range(1, given.actions + 1), walk(lots), strict=False):
            act(tab, address, where, pid, turn)
            if turn % EVERY == 0:
                seen.append(memory_mb(pid))
                print(f"{turn:5d} actions: {seen[-1]:7.0f} MB", flush=True)
        used = processor_s(pid)
        half = len(seen) // 2
        print(
            f"{given.actions} actions in {time.monotonic() - began:.0f} s ({used:.0f} s of the server's processor); "
            f"first half +{seen[half - 1] - seen[0]:.0f} MB, second half {seen[-1] - seen[half - 1]:+.0f} MB, "
            f"at most {memory_mb(pid, 'VmHWM'):.0f} MB; load {os.getloadavg()[0]:.1f}"
        )


if __name__ == "__main__":
    main()
