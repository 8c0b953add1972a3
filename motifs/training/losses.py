"""Contrastive losses over a batch of unit vectors."""

from __future__ import annotations

import torch
from torch import Tensor

SHARED = 0.10
"""Two sherds show the same motif when a family covers at least this share of both."""
HARDLY = 0.02


def shared_motif(families: Tensor, shares: Tensor) -> tuple[Tensor, Tensor]:
    """Pairs that share a motif, and pairs that can be called different: both (B, B) bool.

    families, shares : (B, K). Pairs in between (a motif that covers a little of one of them) are neither.
    """
    both = torch.zeros(len(shares), len(shares), device=shares.device)
    for own in range(shares.shape[1]):
        for other in range(shares.shape[1]):
            alike = families[:, own, None] == families[None, :, other]
            common = torch.minimum(shares[:, own, None], shares[None, :, other])
            both = torch.maximum(both, torch.where(alike, common, 0.0))
    return both >= SHARED, both < HARDLY


def supervised_contrast(vectors: Tensor, same: Tensor, other: Tensor, temperature: float) -> Tensor:
    """Supervised contrastive loss (Khosla et al. 2020, the variant with the sum outside the logarithm).

    Parameters
    ----------
    vectors : (B, D) unit rows. same, other : (B, B) bool; pairs in neither are left out. temperature : > 0.

    Returns
    -------
    Scalar; 0 when no row has a partner.
    """
    apart = ~torch.eye(len(vectors), dtype=torch.bool, device=vectors.device)
    same, used = same & apart, (same | other) & apart
    logits = (vectors @ vectors.T).float() / temperature
    logits = logits.masked_fill(~used, -1e4)
    log_share = logits - torch.logsumexp(logits, dim=1, keepdim=True)
    partners = same.sum(dim=1)
    anchored = (partners > 0) & (other & apart).any(dim=1)
    if not bool(anchored.any()):
        return vectors.sum() * 0
    mean = (log_share * same).sum(dim=1)[anchored] / partners[anchored]
    return -mean.mean()
