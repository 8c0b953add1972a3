"""Ways to run a network."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

import torch
from torch import nn
from torch.nn.utils.fusion import fuse_conv_bn_eval

from motifs.embedding.weights import load_network

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    from numpy.typing import NDArray

    from motifs.embedding.network import SherdNetwork
    from motifs.embedding.specs import EncoderSpec

    Bytes = NDArray[np.uint8]
    Engine = Callable[[Bytes, Bytes], NDArray[np.float32]]


@lru_cache(maxsize=4)
def engine_for(spec: EncoderSpec) -> Engine:
    """Load an encoder once and keep it.

    Returns
    -------
    A function of images (B, S, S, 3) uint8 sRGB and masks (B, S, S) uint8 (255 inside the sherd) that
    gives (B, dim) float32 of unit length.

    Raises
    ------
    ModelError: see load_network.
    """
    return torch_engine(load_network(spec))


def torch_engine(network: SherdNetwork) -> Engine:
    """Run a network in eager mode, normalisation folded into its convolutions, channels last in memory."""
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    fold_normalisation(network)
    network.eval().to(device).to(memory_format=torch.channels_last)

    def run(images: Bytes, masks: Bytes) -> NDArray[np.float32]:
        with torch.inference_mode():
            x = torch.from_numpy(images).to(device).permute(0, 3, 1, 2).float().div_(255.0)
            m = torch.from_numpy(masks).to(device)[:, None].float().div_(255.0)
            vectors: NDArray[np.float32] = network(x.contiguous(memory_format=torch.channels_last), m).cpu().numpy()
        return vectors

    return run


def fold_normalisation(network: nn.Module) -> None:
    """Fold every batch normalisation that follows its convolution into it, in place; evaluation mode only.

    Same outputs up to rounding, and about half the passes over memory.
    """
    network.eval()
    for module in network.modules():
        children = list(module.named_children())
        for (name, convolution), (follower, normalisation) in pairwise(children):
            if isinstance(convolution, nn.Conv2d) and isinstance(normalisation, nn.BatchNorm2d):
                setattr(module, name, fuse_conv_bn_eval(convolution, normalisation))
                setattr(module, follower, nn.Identity())
