"""Print how many catalogue numbers are read right: `python -m tests.imaging.measure_labels [--trays N]`."""

from __future__ import annotations

import argparse
import time

from motifs.imaging.label_reading import label_sherds, read_texts
from tests.imaging.slips import numbered_tray

KINDS = {
    "slips within 20 degrees of level": {},
    "slips at any angle": {"turn_deg": 180.0},
    "slips in small type (16 px)": {"text_px": 16},
    "slips, and a scale bar with figures": {"bar": True},
    "inked on the sherd, within 20 degrees": {"inked": True, "text_px": 26},
    "inked on the sherd, at any angle": {"inked": True, "text_px": 26, "turn_deg": 180.0},
}


def measure(trays: int, first_seed: int) -> None:
    """One line a kind: read right, read right only upside down, wrong, not read."""
    print(f"{'':40s} sherds  right  as rival  wrong  nothing  s/tray")
    for kind, changes in KINDS.items():
        right = rival = wrong = nothing = total = 0
        started = time.process_time()
        for seed in range(first_seed, first_seed + trays):
            tray = numbered_tray(seed, **changes)
            found = {one.sherd: one.read for one in label_sherds(read_texts(tray.photo), tray.outlines)}
            for place, number in enumerate(tray.numbers):
                read = found.get(place)
                total += 1
                right += read is not None and read.text == number
                rival += read is not None and read.text != number and read.rival == number
                wrong += read is not None and number not in (read.text, read.rival)
                nothing += read is None
                if read is not None and read.text != number:
                    print(f"    {number!r} read as {read.text!r}, upside down {read.rival!r}, {read.confidence:.2f}")
        seconds = (time.process_time() - started) / trays
        print(
            f"{kind:40s} {total:6d} {right / total:6.3f} {rival / total:9.3f} {wrong / total:6.3f} {nothing / total:8.3f} {seconds:7.1f}"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trays", type=int, default=2)
    parser.add_argument("--seed", type=int, default=0)
    arguments = parser.parse_args()
    measure(arguments.trays, arguments.seed)
