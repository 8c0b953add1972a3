"""How long every page takes to open in a browser: `python -m tests.load.measure_pages DIR [--lot LOT] [--rounds 3]`.

DIR is a made collection (tests.load.make). A real server and Debian's Chromium; each page beside a page of two lines that bare
Streamlit serves, opened in turn. Seconds until the first words stand there and until nothing moves, and the server's own seconds of
processor, which say less about the load of the machine.
"""

from __future__ import annotations

import argparse
import os
import statistics
import tempfile
import time
from pathlib import Path

from motifs.catalogue import Catalogue
from tests.browser.lab import browsing, pages, served
from tests.load.served_page import Opened, hello_served, memory_mb, open_page, server_of


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.load.measure_pages", description=__doc__.splitlines()[0])
    parser.add_argument("collection", type=Path)
    parser.add_argument("--lot", help="which lot is open (default: the first)")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--pages", nargs="*", default=sorted(pages().values()), help="addresses, as in the browser")
    given = parser.parse_args()
    with Catalogue.open(given.collection) as cat:
        lots = cat.lots()
    lot = given.lot or lots[0].name
    size = next(one.sherds for one in lots if one.name == lot)
    print(f"{sum(one.sherds for one in lots)} sherds in {len(lots)} lots; open: {lot} with {size} sherds")
    with (
        tempfile.TemporaryDirectory() as scratch,
        served(given.collection.absolute(), Path(scratch) / "server.log") as address,
        hello_served(Path(scratch)) as (hello, hello_pid),
        browsing() as browser,
    ):
        pid = server_of(int(address.rpartition(":")[2]))
        tab = browser.new_page(viewport={"width": 1280, "height": 860})
        _until_it_answers(tab, hello, hello_pid)
        first = open_page(tab, address, pid)
        print(f"first page after the start: {first.whole_s:.2f} s, server {first.server_s:.2f} s")
        print(f"{'page':16s}{'cold':>8s}{'first':>8s}{'whole':>8s}{'server':>8s}{'hello':>8s}{'ratio':>7s}{'load':>6s}")
        for name in given.pages:
            cold = open_page(tab, f"{address}/{name}?lot={lot}", pid)
            warm, bare = [], []
            for _ in range(given.rounds):
                bare.append(open_page(tab, hello, hello_pid))
                warm.append(open_page(tab, f"{address}/{name}?lot={lot}", pid))
            _print_row(name or "lots", cold, warm, bare)
        print(f"server: {memory_mb(pid):.0f} MB, at most {memory_mb(pid, 'VmHWM'):.0f} MB")


def _until_it_answers(tab: object, hello: str, pid: int) -> None:
    from playwright.sync_api import Error, Page

    assert isinstance(tab, Page)
    for _ in range(60):
        try:
            open_page(tab, hello, pid)
        except Error:
            time.sleep(1.0)
        else:
            return
    raise AssertionError("the page of two lines is not served")


def _print_row(name: str, cold: Opened, warm: list[Opened], bare: list[Opened]) -> None:
    whole, hello = statistics.median(o.whole_s for o in warm), statistics.median(o.whole_s for o in bare)
    print(
        f"{name:16s}{cold.whole_s:8.2f}{statistics.median(o.first_s for o in warm):8.2f}{whole:8.2f}"
        f"{statistics.median(o.server_s for o in warm):8.2f}{hello:8.2f}{whole / hello:7.1f}{os.getloadavg()[0]:6.1f}",
        flush=True,
    )


if __name__ == "__main__":
    main()
