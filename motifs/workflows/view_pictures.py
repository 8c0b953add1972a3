"""A face and a view of its back laid side by side, the back mirrored and turned as it lies on the face: a pair to judge by eye."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from motifs.errors import InputError
from motifs.workflows.crops import crops_of
from motifs.workflows.views import view_crop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, ViewRow
    from motifs.records import SherdCrop

PAPER = (244, 244, 240)
GAP_PX = 24


def pair_picture(cat: Catalogue, view: ViewRow) -> NDArray[np.uint8]:
    """Draw the face of a view's sherd, and beside it the view, mirrored and turned onto the face, at one scale.

    Returns
    -------
    ndarray
        (h, w, 3) uint8 sRGB; backdrop is left out.

    Raises
    ------
    InputError
        The view is loose, so that there is no face to show.
    """
    if view.sherd is None:
        raise InputError(f"view {view.view_id} is loose; say whose it is first")
    _, face = next(iter(crops_of(cat, [cat.sherd(view.sherd)])))
    left, right = _cut_out(face), _cut_out(view_crop(cat, view))
    right = right.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    # PIL turns anticlockwise; the paper shows where the turned picture has none.
    right = right.rotate(-(view.turn_deg or 0.0), Image.Resampling.BICUBIC, expand=True, fillcolor=PAPER)
    height = max(left.height, right.height)
    sheet = Image.new("RGB", (left.width + GAP_PX + right.width, height), PAPER)
    sheet.paste(left, (0, (height - left.height) // 2))
    sheet.paste(right, (left.width + GAP_PX, (height - right.height) // 2))
    return np.asarray(sheet)


def _cut_out(crop: SherdCrop) -> Image.Image:
    return Image.fromarray(np.where(crop.mask[..., None], crop.image, np.array(PAPER, np.uint8)).astype(np.uint8))
