"""Contrastive losses over a batch of unit vectors."""

from __future__ import annotations

import torch
from torch import Tensor
from torch.utils.checkpoint import checkpoint

from motifs.embedding.cells import meeting

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
    """similarity_contrast of the cosines of (B, D) unit rows."""
    return similarity_contrast(vectors @ vectors.T, same, other, temperature)


def similarity_contrast(similarity: Tensor, same: Tensor, other: Tensor, temperature: float) -> Tensor:
    """Supervised contrastive loss (Khosla et al. 2020, the variant with the sum outside the logarithm).

    Parameters
    ----------
    similarity : (B, B). same, other : (B, B) bool; pairs in neither are left out. temperature : > 0.

    Returns
    -------
    Scalar; 0 when no row has a partner.
    """
    apart = ~torch.eye(len(similarity), dtype=torch.bool, device=similarity.device)
    same, used = same & apart, (same | other) & apart
    logits = similarity.float() / temperature
    logits = logits.masked_fill(~used, -1e4)
    log_share = logits - torch.logsumexp(logits, dim=1, keepdim=True)
    partners = same.sum(dim=1)
    anchored = (partners > 0) & (other & apart).any(dim=1)
    if not bool(anchored.any()):
        return similarity.sum() * 0
    mean = (log_share * same).sum(dim=1)[anchored] / partners[anchored]
    return -mean.mean()


def meetings(descriptors: Tensor, says: Tensor, rows: int = 32) -> Tensor:
    """How well all sherds of a batch meet, (B, B); made anew for the way back, row by row, to spare memory."""
    halves = descriptors.to(torch.bfloat16) if descriptors.is_cuda else descriptors
    found = [
        checkpoint(meeting, halves[first : first + rows], says[first : first + rows], halves, says, use_reentrant=False)
        for first in range(0, len(halves), rows)
    ]
    return torch.cat(found)
