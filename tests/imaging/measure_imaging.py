"""Benchmark of intake on rendered trays with known truth: `python -m tests.imaging.measure_imaging`.

Prints, for each backdrop, detection F1 at IoU 0.5, mean IoU, scale error, and how far the colours of the same sherds
lie apart in two lights; then the time of a whole intake as a ratio to what OpenCV needs to decode the file, convert it to
Lab and label connected components once. Seeds from 1000 on are kept for this report; the package was tuned on seeds below 100.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from motifs.catalogue import Catalogue
from motifs.imaging import draw_outlines, outline_measures, read_photo, read_tray
from motifs.workflows.intake import catalogue_photos, read_photos
from tests.imaging.measuring import Marks, colour_differences, mark, photo_of, sherd_colours
from tests.imaging.trays import HARD, PLAIN, Recipe, Tray, make_tray, varied


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=1000, help="first seed (1000 and more were not tuned on)")
    parser.add_argument("--trays", type=int, default=4, help="trays for each backdrop")
    parser.add_argument("--backdrops", nargs="*", default=[*PLAIN, *HARD])
    parser.add_argument("--no-colour", action="store_true", help="skip the second light")
    parser.add_argument("--no-time", action="store_true", help="skip the timing")
    parser.add_argument("--show", type=Path, help="folder for overlays of the trays that are not perfect")
    options = parser.parse_args()
    print(
        f"{'backdrop':<11}{'trays':>6}{'sherds':>7}{'F1':>8}{'mean IoU':>10}{'least':>7}"
        f"{'scale % med/max':>17}{'no scale':>9}{'dE00':>7}"
    )
    everything: list[tuple[str, Marks, list[float]]] = []
    for backdrop in options.backdrops:
        rows = [_one(backdrop, seed, options) for seed in range(options.first, options.first + options.trays)]
        _print_row(backdrop, rows)
        everything += [(backdrop, *row) for row in rows]
    for name, members in (("all plain", PLAIN), ("all hard", HARD)):
        rows = [(marks, shifts) for backdrop, marks, shifts in everything if backdrop in members]
        if rows:
            _print_row(name, rows)
    if not options.no_time:
        _print_time()


def _one(backdrop: str, seed: int, options: argparse.Namespace) -> tuple[Marks, list[float]]:
    recipe = varied(seed, backdrop)
    tray = make_tray(recipe)
    marks = mark(tray)
    if options.show and (
        marks.f1 < 1 or min(iou for *_, iou in marks.pairs) < 0.93 or abs(marks.scale_error or 0) > 0.007
    ):
        _show(tray, marks, options.show / f"{backdrop}_{seed}.jpg")
    shifts: list[float] = []
    if not options.no_colour:
        other = make_tray(replace(recipe, light_seed=2))
        shifts = colour_differences(sherd_colours(tray, marks), sherd_colours(other, mark(other)))
    return marks, shifts


def _show(tray: Tray, marks: Marks, path: Path) -> None:
    sherds = marks.reading.sherds if marks.reading else ()
    drawn = draw_outlines(photo_of(tray), [s.outline_px for s in sherds], [s.look or "" for s in sherds])
    path.parent.mkdir(parents=True, exist_ok=True)
    cv2.imwrite(str(path), cv2.resize(drawn, None, fx=0.6, fy=0.6, interpolation=cv2.INTER_AREA)[..., ::-1])
    print(
        f"  {path.name}: F1 {marks.f1:.3f} found {marks.found} of {marks.truths}, least IoU "
        f"{min((iou for *_, iou in marks.pairs), default=0):.2f}, scale {marks.scale_error} {tray.recipe.bar}",
        flush=True,
    )


def _print_row(name: str, rows: list[tuple[Marks, list[float]]]) -> None:
    pairs = [iou for marks, _ in rows for *_, iou in marks.pairs]
    truths, found = sum(m.truths for m, _ in rows), sum(m.found for m, _ in rows)
    errors = [abs(m.scale_error) * 100 for m, _ in rows if m.scale_error is not None]
    shifts = [shift for _, row in rows for shift in row]
    scale = f"{np.median(errors):.2f} / {max(errors):.2f}" if errors else "-"
    print(
        f"{name:<11}{len(rows):>6}{truths:>7}{2 * len(pairs) / (truths + found):>8.4f}{np.mean(pairs):>10.4f}"
        f"{min(pairs, default=0):>7.2f}{scale:>17}{len(rows) - len(errors):>9}"
        f"{(f'{np.median(shifts):.2f}' if shifts else '-'):>7}",
        flush=True,
    )


def _print_time() -> None:
    """Whole intake of a 4-megapixel tray of 12 sherds against decode + Lab + components, best of five."""
    recipe = Recipe(seed=4242, backdrop="grey", size_px=(2400, 1700), sherds=12, px_per_mm=8.0, sherd_mm=40.0)
    content = make_tray(recipe).jpeg()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "tray.jpg"
        path.write_bytes(content)
        bare, whole, catalogued = [], [], []
        for turn in range(5):
            begin = time.perf_counter()
            _bare(path)
            bare.append(time.perf_counter() - begin)
            begin = time.perf_counter()
            photo = read_photo(path)
            reading = read_tray(photo)
            for sherd in reading.sherds:
                outline_measures(sherd.outline_px, reading.scale)
            whole.append(time.perf_counter() - begin)
            with Catalogue.open(Path(folder) / f"collection_{turn}", create=True) as cat:
                begin = time.perf_counter()
                catalogue_photos(cat, read_photos([path]), lot="A", by="measure")
                catalogued.append(time.perf_counter() - begin)
    print(
        f"time: {min(whole):.3f} s for {len(reading.sherds)} sherds, bare OpenCV {min(bare):.3f} s, "
        f"ratio {min(whole) / min(bare):.1f} (threads: {cv2.getNumThreads()}); catalogued, with crops, colours, Munsell, line "
        f"widths and repeats: {min(catalogued):.3f} s, ratio {min(catalogued) / min(bare):.1f}"
    )


def _bare(path: Path) -> int:
    image = cv2.imdecode(np.fromfile(path, dtype=np.uint8), cv2.IMREAD_COLOR)
    lab = cv2.cvtColor(image, cv2.COLOR_BGR2Lab)
    _, binary = cv2.threshold(lab[..., 0], 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    return cv2.connectedComponentsWithStats(binary)[0]


if __name__ == "__main__":
    main()
