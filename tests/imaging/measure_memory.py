"""Peak memory of a whole intake of one large photograph: `python -m tests.imaging.measure_memory --megapixels 100`.

The photograph is a rendered tray, enlarged; the intake runs as its own process, whose peak resident memory the system tells.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image

from tests.imaging.trays import Recipe, make_tray


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megapixels", type=float, default=100.0)
    parser.add_argument("--format", choices=("JPEG", "PNG", "TIFF", "HEIF"), default="JPEG")
    parser.add_argument("--turned", action="store_true", help="stored on its side, with an EXIF orientation")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"tray.{options.format.lower()}"
        size = write_photograph(path, options.megapixels, options.format, is_turned=options.turned)
        command = [sys.executable, "-m", "motifs", "--collection", str(Path(folder) / "collection"), "intake"]
        begin = time.perf_counter()
        done = subprocess.run(
            [*command, str(path), "--lot", "K-12", "--json"], capture_output=True, text=True, check=True
        )
        seconds = time.perf_counter() - begin
        (photo,) = json.loads(done.stdout)["photos"]
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 2**20
    print(
        f"{options.format}, {size[0]} x {size[1]} px ({size[0] * size[1] / 1e6:.0f} MP): {len(photo['sherds'])} sherds, "
        f"{photo['mm_per_px']:.4f} mm/px, peak {peak:.2f} GiB, {seconds:.0f} s"
    )


def write_photograph(path: Path, megapixels: float, form: str, *, is_turned: bool) -> tuple[int, int]:
    """Write a large photograph; returns its size in px."""
    tray = make_tray(Recipe(seed=3, backdrop="grey", size_px=(2000, 1500), px_per_mm=6.0, sherds=12, sherd_mm=38.0))
    zoom = float(np.sqrt(megapixels * 1e6 / (2000 * 1500)))
    size = (round(2000 * zoom), round(1500 * zoom))
    image = Image.fromarray(tray.rgb).resize(size, Image.Resampling.BILINEAR)
    exif = Image.Exif()
    if is_turned:
        image = image.transpose(Image.Transpose.ROTATE_90)
        exif[0x0112] = 6
    if form == "HEIF":
        import pillow_heif

        pillow_heif.register_heif_opener()
    image.save(path, form, exif=exif, **({"quality": 90} if form in {"JPEG", "HEIF"} else {}))
    return size


if __name__ == "__main__":
    main()
