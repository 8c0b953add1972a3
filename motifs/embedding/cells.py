"""Cells of a sherd's feature map as small descriptors, and how well two sherds' cells meet.

A whole sherd's vector mixes what the sherd shows with what it happens not to show. Here every cell of the map keeps a
descriptor of its own; each cell of one sherd looks for its best partner on the other [1]_, cells that tell little have
little say, and how far the partners agree, both ways, is how well the sherds meet. Trained together with the body.

References
----------
.. [1] Khattab & Zaharia 2020, "ColBERT: Efficient and Effective Passage Search via Contextualized Late Interaction over
       BERT", SIGIR (each part's best partner, summed).
"""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional

CELL_DIM = 128
HIDDEN = 256
LEAST_SHARE = 0.3
"""Share of a cell that has to be sherd."""
NO_PARTNER = -1e4


class CellHead(nn.Module):
    """Feature map to descriptors and the say of each cell."""

    def __init__(self, channels: int, dim: int = CELL_DIM) -> None:
        super().__init__()
        self.mix = nn.Conv2d(channels, HIDDEN, 1)
        self.describe = nn.Conv2d(HIDDEN, dim, 1)
        self.say = nn.Conv2d(HIDDEN, 1, 1)

    def forward(self, features: Tensor, masks: Tensor) -> tuple[Tensor, Tensor]:
        """Describe cells.

        Parameters
        ----------
        features: (B, C, h, w). masks: (B, 1, S, S), 1 inside the sherd.

        Returns
        -------
        descriptors: (B, h * w, dim), rows of unit length. says: (B, h * w) >= 0, 0 outside the sherd; at least one cell of
        every sherd has a say.
        """
        share = functional.adaptive_avg_pool2d(masks, (int(features.shape[-2]), int(features.shape[-1]))).flatten(1)
        mixed = functional.gelu(self.mix(features))
        descriptors = functional.normalize(self.describe(mixed).flatten(2).transpose(1, 2).float(), dim=2)
        says = functional.softplus(self.say(mixed).flatten(1).float()) + 1e-3
        least = torch.minimum(share.amax(dim=1, keepdim=True), torch.full_like(share[:, :1], LEAST_SHARE))
        return descriptors, says * share * (share >= least)


def meeting(here: Tensor, here_says: Tensor, there: Tensor, there_says: Tensor) -> Tensor:
    """How well every sherd of one batch meets every sherd of another.

    Parameters
    ----------
    here: (A, n, dim), there: (B, m, dim), descriptors; here_says: (A, n), there_says: (B, m).

    Returns
    -------
    (A, B), -1..1: the mean of both ways, each the says' weighted mean of each cell's best partner.
    """
    alike = torch.einsum("and,bmd->abnm", here, there)
    forth = alike.masked_fill((there_says <= 0)[None, :, None, :], NO_PARTNER).amax(dim=3)
    back = alike.masked_fill((here_says <= 0)[:, None, :, None], NO_PARTNER).amax(dim=2)
    here_weight = here_says / here_says.sum(dim=1, keepdim=True)
    there_weight = there_says / there_says.sum(dim=1, keepdim=True)
    return 0.5 * (torch.einsum("abn,an->ab", forth, here_weight) + torch.einsum("abm,bm->ab", back, there_weight))
