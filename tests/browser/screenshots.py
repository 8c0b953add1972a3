"""Pictures of the page for the README, from the demo photographs: `python -m tests.browser.screenshots DIR`."""

from __future__ import annotations

import argparse
import io
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image

from motifs.catalogue import Catalogue
from motifs.workflows.demo import demo_lots
from motifs.workflows.pipeline import run_lot
from tests.browser.lab import browsing, chromium, go, press, served, settle, type_name

if TYPE_CHECKING:
    from playwright.sync_api import Page

WIDTH_PX, HEIGHT_PX = 1440, 960
MOST_BYTES = 300_000
BY = "M. Oduya"


def main() -> int:
    """Build the demo collection, open each page, keep a picture of it."""
    parser = argparse.ArgumentParser(prog="python -m tests.browser.screenshots", description=__doc__)
    parser.add_argument("folder", type=Path, metavar="DIR", help="where the pictures go; made if it is not there")
    folder = parser.parse_args().folder
    if chromium() is None:
        print("no chromium on this machine; install Debian's chromium first", file=sys.stderr)
        return 2
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        collection = Path(place) / "collection"
        lot = build(collection)
        with served(collection, Path(place) / "server.log") as address, browsing() as browser:
            tab = browser.new_page(viewport={"width": WIDTH_PX, "height": HEIGHT_PX})
            take_all(tab, address, lot, folder)
    return 0


def build(collection: Path) -> str:
    """Take every demo lot in and sort it; return the lot of look-alike pots that comes first."""
    lots = demo_lots()
    with Catalogue.open(collection, create=True) as cat:
        for lot in lots:
            run_lot(cat, lot.photos, lot=lot.lot, site=lot.site, by=BY)
    return lots[0].lot


def take_all(tab: Page, address: str, lot: str, folder: Path) -> None:
    """One picture a page, each as a person would see it in the middle of her work."""
    go(tab, address)
    keep(tab, folder / "lots.jpg")
    go(tab, f"{address}/photographs?lot={lot}")
    tab.locator("g.sherd").first.wait_for()
    keep(tab, folder / "photographs.jpg")
    go(tab, f"{address}/sorting_table?lot={lot}")
    type_name(tab, BY)
    tab.locator(".bar input[type=range]").fill("1.5")
    tab.locator(".tile").nth(2).click()
    tab.locator(".st-key-side .m-reasons").wait_for()
    keep(tab, folder / "sorting_table.jpg")
    number = tab.locator(".tile").nth(2).get_attribute("data-sherd")
    go(tab, f"{address}/comparanda?lot={lot}&sherd={number}")
    press(tab, "Find comparanda")
    tab.locator('section[data-row="near"] .tile').first.wait_for()
    keep(tab, folder / "comparanda.jpg")


def keep(tab: Page, path: Path) -> None:
    """Wait for every picture, then save as JPEG under MOST_BYTES, as good as that allows."""
    settle(tab)
    tab.wait_for_timeout(800)
    shot = Image.open(io.BytesIO(tab.screenshot())).convert("RGB")
    for quality in range(92, 40, -6):
        stream = io.BytesIO()
        shot.save(stream, "JPEG", quality=quality, subsampling=0, optimize=True)
        if stream.tell() < MOST_BYTES:
            break
    path.write_bytes(stream.getvalue())
    print(f"{path} ({stream.tell() // 1000} kB)")


if __name__ == "__main__":
    raise SystemExit(main())
