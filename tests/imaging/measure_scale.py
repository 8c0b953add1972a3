"""Scale and colour against known truth: `python -m tests.imaging.measure_scale --shots 4`.

Prints, for bars, rulers and the mat at slants of 0 to 30 degrees through bending lenses, the error of lengths, how often nothing
was read, and how far the stated uncertainty covers the error; then what is left of a known cast. Seeds from 1000 on are kept
for this report.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np
from scipy.spatial.distance import pdist
from shapely.geometry import Polygon

from motifs.imaging import outline_measures, read_tray
from motifs.imaging.mat_reading import find_mat
from motifs.imaging.plane import plane_mm
from motifs.imaging.ruler import find_ruler
from motifs.imaging.scale_bar import find_bar, scale_of_bar
from motifs.records import PhotoImage
from tests.imaging.cards import lay_card, seen_through
from tests.imaging.mats import Photographed, Shot, shoot
from tests.imaging.measuring import colour_differences, mark, sherd_colours
from tests.imaging.rulers import MATERIALS, draw_ruler, lay_ruler
from tests.imaging.shapes import linear
from tests.imaging.trays import Recipe, Tray, make_tray

Row = tuple[float, float]  # relative error, stated relative standard uncertainty


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=1000)
    parser.add_argument("--shots", type=int, default=4, help="photographs a row")
    parser.add_argument(
        "--only", choices=("bar", "ruler", "mat", "colour"), nargs="*", default=["bar", "ruler", "mat", "colour"]
    )
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.shots)
    print(f"{'what':<26}{'n':>4}{'none':>6}{'median %':>10}{'max %':>8}{'within 2 sd':>13}")
    if "bar" in options.only:
        for design in ("row5", "row10", "checker10", "checker5", "half10", "halfchecker10"):
            _print(f"bar {design}", [_bar(seed, design) for seed in seeds])
    if "ruler" in options.only:
        for material in MATERIALS:
            _print(f"ruler {material}", [_ruler(seed, material) for seed in seeds])
    if "mat" in options.only:
        for tilt in (0.0, 10.0, 20.0, 30.0):
            shots = [_mat_shot(seed, tilt) for seed in seeds]
            _print(f"mat lengths, {tilt:.0f} deg", [_mat_lengths(shot) for shot in shots])
            _print("  sherds on it", [row for shot in shots for row in _mat_sherds(shot)])
    if "colour" in options.only:
        shifts = [shift for seed in seeds for shift in _card_shifts(seed)]
        print(f"same sherds in two lights, card: median CIEDE2000 {np.median(shifts):.2f} of {len(shifts)}")


def _print(name: str, rows: list[Row | None]) -> None:
    read = np.array([row for row in rows if row is not None]).reshape(-1, 2)
    errors, sd = np.abs(read[:, 0]) * 100, read[:, 1] * 100
    figures = f"{np.median(errors):>10.3f}{errors.max():>8.3f}{np.mean(errors < 2 * sd):>13.2f}" if len(read) else ""
    print(f"{name:<26}{len(rows):>4}{len(rows) - len(read):>6}{figures}", flush=True)


def _bar(seed: int, design: str) -> Row | None:
    rng = np.random.default_rng(seed)
    recipe = Recipe(
        seed=seed,
        size_px=(1300, 1000),
        px_per_mm=float(rng.uniform(5, 9)),
        sherds=4,
        sherd_mm=28.0,
        bar=design,
        backdrop=str(rng.choice(["white", "grey", "black", "blue"])),
    )
    rgb = make_tray(recipe).rgb
    bar = find_bar(rgb, rgb)
    if bar is None:
        return None
    scale, _ = scale_of_bar(bar, None)
    return scale.px_per_mm / recipe.px_per_mm - 1, scale.relative_sd


def _ruler(seed: int, material: str) -> Row | None:
    rng = np.random.default_rng(seed)
    true = float(rng.uniform(5, 10))
    scene = np.broadcast_to(linear(rng.choice([(128, 128, 128), (40, 42, 50), (206, 202, 192)])), (1000, 1300, 3))
    face = draw_ruler(material, 110.0, seed=seed)
    rgb = seen_through(
        lay_ruler(scene.astype(np.float32), face, (650, 500), true, float(rng.uniform(0, 180))), seed=seed
    )
    ruler = find_ruler(rgb)
    if ruler is None or ruler.unit is None:
        return None
    return ruler.period_px / ruler.unit.mm / true - 1, ruler.relative_sd


def _mat_shot(seed: int, tilt: float) -> Photographed:
    rng = np.random.default_rng(seed)
    return shoot(
        Shot(
            seed=seed, mat=str(rng.choice(["A4", "A3"])), tilt_deg=tilt, toward_deg=float(rng.uniform(0, 360)), roll_deg=float(rng.uniform(-8, 8)),
            k1=float(rng.uniform(-0.1, 0.06)), focal_share=float(rng.uniform(0.8, 1.4)), sherds=6, blur_px=float(rng.uniform(0.5, 1.2)),
            noise=float(rng.uniform(0.003, 0.012)), quality=int(rng.integers(70, 95)), cast=tuple(rng.uniform(0.6, 1.0, 3)), hand=bool(rng.random() < 0.3),
        )
    )  # fmt: skip


def _mat_lengths(shot: Photographed) -> Row | None:
    """The 95th percentile of the errors of lengths over 20 mm, all over the field."""
    mat = find_mat(shot.rgb, shot.rgb, shot.rgb)
    if mat is None:
        return None
    zone, rng = mat.design.field, np.random.default_rng(0)
    ends = rng.uniform([zone.x, zone.y], [zone.x + zone.width, zone.y + zone.height], (2, 400, 2))
    true = np.hypot(*(ends[0] - ends[1]).T)
    found = np.hypot(*(plane_mm(mat.plane, shot.to_px(ends[0])) - plane_mm(mat.plane, shot.to_px(ends[1]))).T)
    return float(np.percentile(np.abs(found / true - 1)[true > 20], 95)), mat.relative_sd


def _mat_sherds(shot: Photographed) -> list[Row | None]:
    """Errors of the largest dimension of every sherd on the mat, as intake measures it."""
    reading = read_tray(PhotoImage(shot.rgb, "0" * 64, "mat.jpg"))
    rows: list[Row | None] = []
    for outline, true_mm in zip(shot.outlines_px, shot.outlines_mm, strict=True):
        true = Polygon(outline).buffer(0)
        found = [(true.intersection(Polygon(s.outline_px).buffer(0)).area / true.area, s) for s in reading.sherds]
        overlap, sherd = max(found, key=lambda pair: pair[0])
        if overlap < 0.5:
            rows.append(None)
            continue
        measures = outline_measures(sherd.outline_px, reading.scale)
        longest = float(pdist(true_mm).max())
        rows.append((measures.max_dimension_mm / longest - 1, measures.max_dimension_mm_sd / longest))
    return rows


def _card_shifts(seed: int) -> list[float]:
    """CIEDE2000 of the same sherds by day and under a warm lamp through a camera that mixes its channels."""
    rng = np.random.default_rng(seed)
    recipe = Recipe(
        seed=seed,
        size_px=(1500, 1100),
        px_per_mm=5.0,
        sherds=5,
        sherd_mm=30.0,
        bar="none",
        label=False,
        falloff=0.0,
        cast=0.0,
        dust=0,
        crumbs=0,
        backdrop="grey",
    )
    base = make_tray(recipe)
    warm = np.diag([0.9, 0.7, 0.45]) @ (np.eye(3) + rng.uniform(-0.08, 0.08, (3, 3)))
    trays = []
    for k, matrix in enumerate((np.eye(3) * 0.8, warm)):
        rgb = seen_through(lay_card(linear(base.rgb), (1310, 130), 46, 0), matrix, seed=k, blur_px=0)
        trays.append(replace_rgb(base, rgb))
    marks = [mark(tray) for tray in trays]
    return colour_differences(*(sherd_colours(tray, m) for tray, m in zip(trays, marks, strict=True)))


def replace_rgb(tray: Tray, rgb: np.ndarray) -> Tray:
    return replace(tray, rgb=rgb)


if __name__ == "__main__":
    main()
