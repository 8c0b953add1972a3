"""How long the sorting table takes with many sherds: `python -m tests.browser.measure_table [--sherds N]`.

Drawn trays of 25 sherds and a made-up proposal; a real server and Debian's Chromium without a window. Prints seconds from asking to seeing.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

from motifs.catalogue import Catalogue
from motifs.records import CueVote
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.pictures import small_pictures
from motifs.workflows.sort import KIND
from motifs.workflows.sorting import LotSorting, PlacedSherd, packed
from tests.browser.lab import browsing, go, served, settle, type_name

if TYPE_CHECKING:
    from playwright.sync_api import Page

LOT = "BIG-1"
PASTES = ((178, 112, 72), (206, 186, 150), (140, 90, 70))
TRAY, PX_PER_MM = 25, 6
ROUNDS = 5


def draw_tray(seed: int) -> Image.Image:
    """25 painted sherds on grey, and a 5 cm bar."""
    rng = np.random.default_rng(seed)
    image = Image.new("RGB", (1500, 1560), (150, 150, 150))
    for place in range(TRAY):
        middle = np.array([150 + 300 * (place % 5), 140 + 280 * (place // 5)])
        angles = np.linspace(0, 2 * np.pi, 9, endpoint=False) + rng.normal(0, 0.1, 9)
        reach = 110 * rng.uniform(0.5, 1.1) * rng.uniform(0.75, 1.1, 9)
        corners = middle + reach[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])
        mask = Image.new("L", image.size, 0)
        ImageDraw.Draw(mask).polygon([tuple(corner) for corner in corners], fill=255)
        face = Image.new("RGB", image.size, PASTES[place % 3])
        pen = ImageDraw.Draw(face)
        for offset in range(-100, 101, 26):
            y = float(middle[1]) + offset
            pen.line((middle[0] - 140, y, middle[0] + 140, y + float(rng.normal(0, 6))), fill=(60, 35, 28), width=8)
        image.paste(face, mask=mask)
    pen = ImageDraw.Draw(image)
    for block in range(5):
        left = 120 + block * 10 * PX_PER_MM
        pen.rectangle((left, 1500, left + 59, 1535), fill=(12, 12, 12) if block % 2 == 0 else (244, 244, 244))
    pixels = np.asarray(image, dtype=np.float64)
    return Image.fromarray(np.clip(pixels + rng.normal(0, 2, pixels.shape), 0, 255).astype(np.uint8))


def make_lot(folder: Path, sherds: int) -> Path:
    """A collection with one lot of about so many sherds, in three proposed vessels."""
    files = []
    for seed in range(-(-sherds // TRAY)):
        files.append(folder / f"tray_{seed}.jpg")
        draw_tray(seed).save(files[-1], quality=95)
    with Catalogue.open(folder / "collection", create=True) as cat:
        catalogue_photos(cat, read_photos(files), lot=LOT, site="Kestrel Ford", by="setup")
        found = cat.sherds(LOT)
        votes = (
            CueVote("paste", 3.1, "paste 2.4 apart (CIEDE2000): for"),
            CueVote("line", -1.2, "line 1.10 mm against 1.50 mm: against"),
        )
        placed = tuple(PlacedSherd(s.number, k % 3, 0.5 + 0.001 * k, (k + 1) % 3, votes) for k, s in enumerate(found))
        with cat.transaction(by="setup"):
            result = packed(LotSorting(LOT, 3, (2, 4), placed, ()))
            cat.save_proposal(LOT, KIND, encoder_tags=[], parameters={}, result=result)
        for _ in small_pictures(cat, found):
            pass
    return folder / "collection"


def load_s(tab: Page, address: str, sherds: int) -> float:
    """Seconds until the last sherd is on the page and it has settled."""
    began = time.monotonic()
    tab.goto(f"{address}/sorting_table?lot={LOT}")
    tab.locator(".tile").nth(sherds - 1).wait_for(state="attached", timeout=120_000)
    settle(tab)
    return time.monotonic() - began


def move_s(tab: Page, place: int) -> float:
    """Seconds from the press on Move until two picked sherds lie in the other row."""
    picks = tab.locator('section[data-row="vessel:1"] .pick')
    number = picks.nth(place).get_attribute("data-pick")
    picks.nth(place).click()
    picks.nth(place + 1).click()
    tab.locator(".moving select").select_option("vessel:2")
    began = time.monotonic()
    tab.locator(".moving button", has_text="Move").click()
    tab.locator(f'section[data-row="vessel:2"] .tile[data-sherd="{number}"]').wait_for(timeout=60_000)
    took = time.monotonic() - began
    settle(tab)
    return took


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sherds", type=int, default=300)
    wanted = parser.parse_args().sherds
    with tempfile.TemporaryDirectory() as scratch:
        folder = make_lot(Path(scratch), wanted)
        with Catalogue.open(folder) as cat:
            sherds = len(cat.sherds(LOT))
        with served(folder, Path(scratch) / "server.log") as address, browsing() as browser:
            tab = browser.new_page(viewport={"width": 1280, "height": 860})
            first = load_s(tab, address, sherds)
            loads = [load_s(tab, address, sherds) for _ in range(ROUNDS)]
            go(tab, f"{address}/sorting_table?lot={LOT}")
            type_name(tab, "M. Oduya")
            moves = [move_s(tab, place) for place in range(ROUNDS)]
    print(f"{sherds} sherds: first page after the start {first:.2f} s; page {statistics.median(loads):.2f} s; "
          f"a move of two sherds {statistics.median(moves):.2f} s (medians of {ROUNDS})")  # fmt: skip


if __name__ == "__main__":
    main()
