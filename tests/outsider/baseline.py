"""How hard a lot is: what a simple method makes of it, without the program.

Median colour of each true outline divided by its photograph's backdrop, L*a*b*, a Gaussian mixture with the
true number of pots. The same cue and method as in the row "paste colour" of the design's table, so that the
lots here can be set beside the lots measured there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from skimage.color import rgb2lab
from sklearn.metrics import adjusted_rand_score
from sklearn.mixture import GaussianMixture

from tests.outsider.cloth import read_rgb
from tests.outsider.trials import lots_of

if TYPE_CHECKING:
    from pathlib import Path

    from tests.outsider.measure import Order
    from tests.outsider.trials import Row
    from tests.outsider.truth import LotTruth


def baseline(order: Order) -> list[Row]:
    """One row a lot."""
    rows: list[Row] = []
    for lot, folder in lots_of(order):
        if order.renders_only is None:
            rows.append(
                {
                    "style": lot.style,
                    "kind": lot.kind,
                    "pots": f"{order.pots} pots",
                    "seed": lot.seed,
                    "ari_paste": paste_ari(lot, folder),
                }
            )
    return rows


def paste_ari(lot: LotTruth, folder: Path) -> float:
    """ARI of the mixture against the pots."""
    colours, pots = [], []
    for photo in lot.photos:
        rgb = read_rgb(folder / photo.file)
        linear = np.where(rgb <= 10, rgb / 255 / 12.92, ((rgb / 255 + 0.055) / 1.055) ** 2.4)
        everywhere = np.zeros(rgb.shape[:2], np.uint8)
        outlines = [np.round(np.array(sherd.outline_px)).astype(np.int32) for sherd in photo.sherds]
        cv2.fillPoly(everywhere, outlines, 1)
        away = cv2.dilate(everywhere[::4, ::4], np.ones((31, 31), np.uint8)) == 0
        backdrop = np.median(linear[::4, ::4][away], axis=0)
        for outline, sherd in zip(outlines, photo.sherds, strict=True):
            mask = np.zeros(rgb.shape[:2], np.uint8)
            cv2.fillPoly(mask, [outline], 1)
            colours.append(np.median(linear[cv2.erode(mask, np.ones((9, 9), np.uint8)) > 0], axis=0) / backdrop)
            pots.append(sherd.pot)
    ratio = np.array(colours)
    lab = rgb2lab(np.clip(ratio / ratio.max() * 0.8, 0, 1) ** (1 / 2.2))
    mixture = GaussianMixture(len(set(pots)), n_init=5, random_state=0, reg_covar=0.5).fit(lab)
    return float(adjusted_rand_score(pots, mixture.predict(lab)))
