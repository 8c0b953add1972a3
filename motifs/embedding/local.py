"""Local features of a sherd: what the network's middle layers see at each place, in several turns.

The layers before the pooling keep places. Their descriptors follow a stroke's direction, so the sherd is shown in
several turns, and in mirror image where that is asked for. Each sherd's own mean is taken away: what all its
cells have in common tells nothing about where two sherds agree. Which layer, how many turns and the mean were
chosen by ranking on tune seeds of the second renderer.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

from motifs.embedding.engines import fold_normalisation
from motifs.embedding.lines import NEUTRAL
from motifs.embedding.network import LiteBody
from motifs.embedding.views import decorated_picture
from motifs.embedding.weights import load_network
from motifs.records import LocalFeatures

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.embedding.network import SherdNetwork
    from motifs.embedding.specs import EncoderSpec
    from motifs.records import SherdCrop

    Floats = NDArray[np.float32]

LAYERS = 5
"""Stages of the body that are run; their output has one cell for every CELL pixels."""
CELL = 16
TURNS = 8
LEAST_SHARE = 0.6
"""Share of a cell that has to be sherd."""
MOST_SIDE_PX = 1024
"""A larger picture (of a sherd of more than 18 cm, say) is shown smaller."""


def has_local_features(spec: EncoderSpec) -> bool:
    """Whether an encoder's network is one whose middle layers are known."""
    return spec.body != "torchvision"


def local_features(spec: EncoderSpec, crop: SherdCrop, turns_deg: Sequence[float] = (0.0,)) -> list[LocalFeatures]:
    """Describe the places of a sherd, once for each turn.

    Parameters
    ----------
    spec: of the project's own bodies (see has_local_features).
    crop: of the sherd; its mask must not be empty.
    turns_deg: anticlockwise.

    Returns
    -------
    One LocalFeatures a turn; without cells for a sherd smaller than a cell.

    Raises
    ------
    ModelError: weights missing, altered or of the wrong kind.
    ValueError: the mask is empty or does not fit; a network of another kind.
    """
    return _described(spec, crop, turns_deg, is_mirrored=False)


def query_features(spec: EncoderSpec, crop: SherdCrop, *, with_mirror: bool = False) -> list[LocalFeatures]:
    """Describe a sherd in TURNS turns all around, and its mirror image too if asked for."""
    turns = [360.0 * turn / TURNS for turn in range(TURNS)]
    found = _described(spec, crop, turns, is_mirrored=False)
    return found + (_described(spec, crop, turns, is_mirrored=True) if with_mirror else [])


def _described(
    spec: EncoderSpec, crop: SherdCrop, turns_deg: Sequence[float], *, is_mirrored: bool
) -> list[LocalFeatures]:
    if not has_local_features(spec):
        raise ValueError(f"encoder {spec.tag!r} is of a body whose middle layers are not known")
    image, mask, corner_px = decorated_picture(crop, spec)
    factor = spec.px_per_mm / crop.px_per_mm * min(1.0, MOST_SIDE_PX / max(mask.shape))
    if factor < spec.px_per_mm / crop.px_per_mm:
        size = tuple(max(1, round(side * MOST_SIDE_PX / max(mask.shape))) for side in mask.shape[::-1])
        image, mask = _floats(cv2.resize(image, size)), _floats(cv2.resize(mask, size))
    matrices = _placed(mask.shape, turns_deg, is_mirrored=is_mirrored)
    side = _canvas_px(mask.shape, turns_deg)
    border = _border(spec)
    shown = [_floats(cv2.warpAffine(image, m, side, borderValue=border)) for m in matrices]
    masks = [_floats(cv2.warpAffine(mask, m, side, borderValue=0.0)) for m in matrices]
    maps = _maps(spec, np.stack(shown))
    return [
        _features(cells, inside, matrix, turn, factor, corner_px, is_mirrored=is_mirrored)
        for cells, inside, matrix, turn in zip(maps, masks, matrices, turns_deg, strict=True)
    ]


def _floats(image: NDArray[Any]) -> Floats:
    return image.astype(np.float32, copy=False)


def _border(spec: EncoderSpec) -> tuple[float, float, float]:
    """What views of this encoder show outside the sherd."""
    if spec.picture in {"lines", "contrast"}:
        return NEUTRAL, NEUTRAL, NEUTRAL
    red, green, blue = (255.0 * share for share in spec.mean)
    return red, green, blue


def _canvas_px(shape: tuple[int, ...], turns_deg: Sequence[float]) -> tuple[int, int]:
    """Width and height of a canvas that holds the picture in every turn, multiples of 32."""
    height, width = shape[:2]
    if all(turn % 180.0 == 0.0 for turn in turns_deg):
        return -(-width // 32) * 32, -(-height // 32) * 32
    side = -(-int(np.ceil(np.hypot(height, width))) // 32) * 32
    return side, side


def _placed(shape: tuple[int, ...], turns_deg: Sequence[float], *, is_mirrored: bool) -> list[NDArray[np.float64]]:
    """Matrices, picture px -> canvas px, that turn about the middle."""
    height, width = shape[:2]
    side = _canvas_px(shape, turns_deg)
    middle = (width - 1) / 2.0, (height - 1) / 2.0
    matrices = []
    for turn in turns_deg:
        matrix = np.asarray(cv2.getRotationMatrix2D(middle, turn, 1.0), np.float64)
        if is_mirrored:
            flip = np.array([[-1.0, 0.0, width - 1.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
            matrix = matrix @ flip
        matrix[:, 2] += (side[0] - 1) / 2.0 - middle[0], (side[1] - 1) / 2.0 - middle[1]
        matrices.append(matrix)
    return matrices


def _features(
    cells: Floats,
    mask: Floats,
    matrix: NDArray[np.float64],
    turn_deg: float,
    factor: float,
    corner_px: tuple[int, int],
    *,
    is_mirrored: bool,
) -> LocalFeatures:
    share = cv2.resize(mask, (cells.shape[1], cells.shape[0]), interpolation=cv2.INTER_AREA)
    rows, columns = np.nonzero(share > LEAST_SHARE)
    seen = np.stack([columns, rows], axis=1) * CELL + (CELL - 1) / 2.0
    back = cv2.invertAffineTransform(matrix)
    picture = seen @ back[:, :2].T + back[:, 2]
    places = (picture + 0.5) / factor - 0.5 + np.array(corner_px)
    rows_of = cells[rows, columns].astype(np.float32)
    if len(rows_of):
        rows_of = rows_of - rows_of.mean(axis=0)
        rows_of /= np.maximum(np.linalg.norm(rows_of, axis=1, keepdims=True), 1e-9)
    return LocalFeatures(
        places.astype(np.float32), (seen / factor).astype(np.float32), rows_of, CELL / factor, turn_deg, is_mirrored
    )


class _Middle(nn.Module):
    """The first LAYERS stages of a body."""

    def __init__(self, network: SherdNetwork) -> None:
        super().__init__()
        if not isinstance(network.body, LiteBody):
            raise TypeError("a body of the project's own is wanted")
        self.network, self.body = network, network.body

    def forward(self, images: Tensor) -> Tensor:
        """(B, 3, H, W) float 0..1 -> (B, channels, H / CELL, W / CELL)."""
        x = (images - self.network.mean) / self.network.std
        x = functional.relu6(self.body.bn1(self.body.conv_stem(x)))
        cells: Tensor = self.body.blocks[:LAYERS](x)
        return cells


@lru_cache(maxsize=2)
def _middle_of(spec: EncoderSpec) -> _Middle:
    network = load_network(spec)
    fold_normalisation(network)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    return _Middle(network).to(device).to(memory_format=torch.channels_last).eval()


def _maps(spec: EncoderSpec, images: Floats) -> Floats:
    """(T, H, W, 3) float32 in 0..255 -> (T, H / CELL, W / CELL, channels) float32."""
    middle = _middle_of(spec)
    device = next(middle.parameters()).device
    with torch.inference_mode():
        x = torch.from_numpy(images).to(device).permute(0, 3, 1, 2) / 255.0
        cells: Floats = middle(x).permute(0, 2, 3, 1).contiguous().cpu().numpy()
    return cells
