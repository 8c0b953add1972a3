"""Print how right the figures of sherds are on practice photographs: `python -m tests.imaging.measure_figures [--photos N]`.

Sizes and decorated share against the renderer's truth; backs of the same pieces, photographed anew and mirrored, against
their fronts.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from PIL import Image

from motifs.catalogue import Catalogue
from motifs.practice import PhotoSettings, break_pot, paint_pot, photograph
from motifs.workflows.figures import Figure
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.measurements import ensure_figures
from motifs.workflows.views import take_backs

SHERDS = 12
PLAIN = ("grey", "black", "white")


def _nearest(outlines: list[np.ndarray], place: np.ndarray) -> int:
    return int(np.argmin([np.hypot(*(outline.mean(axis=0) - place)) for outline in outlines]))


def one_photo(folder: Path, seed: int) -> dict[str, list[float]]:
    """Errors of one tray: areas and dimensions in their own uncertainties and in %, share decorated, pairs of views."""
    pot = paint_pot(seed, px_per_mm=8.0)
    pieces = [(pot, piece) for piece in break_pot(pot, seed, pieces=32) if piece.area_mm2 > 400][:SHERDS]
    settings = PhotoSettings(px_per_mm=8.0, backdrop=PLAIN[seed % len(PLAIN)], bar_mm=100.0, labels=False)
    front, back = (photograph(pieces, 2 * seed + turn, settings) for turn in (0, 1))
    paths = [folder / f"{name}_{seed}.jpg" for name in ("front", "back")]
    Image.fromarray(front.rgb).save(paths[0], quality=92)
    Image.fromarray(np.ascontiguousarray(back.rgb[:, ::-1])).save(paths[1], quality=92)
    errors: dict[str, list[float]] = {
        name: [] for name in ("area_%", "area_sd", "decorated", "blur_px", "right", "sure", "sure_wrong", "backs")
    }
    with Catalogue.open(folder / f"c{seed}", create=True) as cat:
        catalogue_photos(cat, read_photos(paths[:1]), lot="A", by="measure")
        sherds = cat.sherds("A")
        true = {
            sherd.number: front.sherds[
                _nearest([one.outline_px for one in front.sherds], sherd.outline_px.mean(axis=0))
            ]
            for sherd in sherds
        }
        for number, figures in ensure_figures(cat, sherds, by="measure").items():
            _sizes(figures, front.mask(true[number].number).sum() * front.mm_per_px**2, errors)
            share = figures.get("decorated_share", Figure(0.0, "share"))
            errors["decorated"].append(abs(share.value - true[number].decorated))
            errors["blur_px"].append(figures["blur"].value or np.nan)
        views = take_backs(cat, "A", paths[1:], by="measure").views
        for view in views:
            middle = view.outline_px.mean(axis=0)
            middle[0] = back.rgb.shape[1] - 1 - middle[0]
            fragment = back.sherds[_nearest([one.outline_px for one in back.sherds], middle)].fragment
            is_right = view.sherd is not None and true[view.sherd].fragment == fragment
            errors["right"].append(float(is_right))
            errors["sure"].append(float(view.standing == "paired"))
            errors["sure_wrong"].append(float(view.standing == "paired" and not is_right))
            errors["backs"].append(1.0)
    return errors


def _sizes(figures: dict[str, Figure], area_mm2: float, errors: dict[str, list[float]]) -> None:
    area = figures["area"]
    if area.value is not None:
        errors["area_%"].append(100 * (area.value - area_mm2) / area_mm2)
        errors["area_sd"].append((area.value - area_mm2) / area.sd)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=2)
    parser.add_argument("--seed", type=int, default=400)
    arguments = parser.parse_args()
    gathered: dict[str, list[float]] = {}
    with TemporaryDirectory() as place:
        for tray in range(arguments.seed, arguments.seed + arguments.photos):
            for name, values in one_photo(Path(place), tray).items():
                gathered.setdefault(name, []).extend(values)
    for name, values in gathered.items():
        found = np.array(values)
        print(
            f"{name:12s} n {len(found):4d}  mean {np.nanmean(found):8.3f}  median |.| {np.nanmedian(np.abs(found)):7.3f}  90 % |.| {np.nanquantile(np.abs(found), 0.9):7.3f}"
        )
