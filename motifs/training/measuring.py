"""Measure encoders on pots whose families were never trained on, where the training runs."""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING

import torch
from torch import Tensor

from motifs.training.altering import show_contrast
from motifs.training.crops import Batch, CropMaker, CropSettings
from motifs.training.encoders import MOTIF_CROPS, PHOTOS, VESSEL_CROPS, Places, embed, embed_cells
from motifs.training.losses import meetings, shared_motif
from motifs.training.surfaces import GROUP

if TYPE_CHECKING:
    from collections.abc import Mapping

    from motifs.embedding.network import SherdNetwork
    from motifs.training.surfaces import Surfaces

CELL_SHARES = (0.3, 0.5, 0.7, 1.0)


def averaged(plain: SherdNetwork, tuned: SherdNetwork, share: float) -> SherdNetwork:
    """Network whose weights are (1 - share) plain + share tuned (Wortsman et al. 2022, robust fine-tuning)."""
    mixed = copy.deepcopy(plain)
    old, new = plain.state_dict(), tuned.state_dict()
    state = {
        name: value if not value.is_floating_point() else (1 - share) * value + share * new[name].to(value)
        for name, value in old.items()
    }
    mixed.load_state_dict(state)
    return mixed.eval()


@torch.inference_mode()
def motif_retrieval(network: SherdNetwork, maker: CropMaker, places: Places, sherds: int = 2400) -> dict[str, float]:
    """Mean average precision and precision at 1 over sherds of other pots; same pot left out.

    With a head for cells, "map cells S" gives the same where the meeting of cells has a share S of the similarity.
    """
    generator = torch.Generator(maker.device).manual_seed(99)
    drawn: list[tuple[Tensor, ...]] = []
    while len(drawn) * 400 < sherds:
        pot, centre = places.draw(400, generator)
        batch = maker.draw(pot, centre, generator)
        seen = show_contrast(batch.images, batch.masks, maker.settings.px_per_mm)
        vectors, descriptors, says = embed_cells(network, seen, batch)
        cells = () if descriptors is None or says is None else (descriptors, says)
        drawn.append((vectors, batch.families, batch.shares, batch.pot, *cells))
    vectors, families, shares, pots, *cells_of_all = (torch.cat(part) for part in zip(*drawn, strict=True))
    similarity = vectors @ vectors.T
    figures = _ranked(similarity, families, shares, pots)
    if cells_of_all:
        met = meetings(cells_of_all[0], cells_of_all[1], rows=16).float()
        for share in CELL_SHARES:
            mixed = _ranked((1 - share) * similarity + share * met, families, shares, pots)
            figures |= {f"map cells {share}": mixed["map"], f"precision_at_1 cells {share}": mixed["precision_at_1"]}
    return figures


def _ranked(similarity: Tensor, families: Tensor, shares: Tensor, pots: Tensor) -> dict[str, float]:
    same, _ = shared_motif(families, shares)
    other_pot = pots[:, None] != pots[None, :]
    similarity = similarity.masked_fill(~other_pot, -9)
    order = similarity.argsort(dim=1, descending=True)
    hit = torch.gather(same & other_pot, 1, order).float()
    asked = hit.sum(dim=1) > 0
    hit = hit[asked]
    rank = torch.arange(1, hit.shape[1] + 1, device=hit.device)
    precision = torch.cumsum(hit, dim=1) / rank
    average = (precision * hit).sum(dim=1) / hit.sum(dim=1)
    return {"map": float(average.mean()), "precision_at_1": float(hit[:, 0].mean()), "queries": float(asked.sum())}


@torch.inference_mode()
def vessel_separation(
    network: SherdNetwork, surfaces: Surfaces, device: torch.device, rounds: int = 6
) -> dict[str, float]:
    """Share of (sherd, same pot, other pot of its group) triples that the vector orders rightly."""
    generator = torch.Generator(device).manual_seed(98)
    maker = CropMaker(surfaces, device, VESSEL_CROPS)
    group = torch.from_numpy(surfaces.group).to(device).long()
    groups, each = int(group.max()) + 1, 8
    right, total = 0.0, 0.0
    for _ in range(rounds):
        chosen = torch.randperm(groups, generator=generator, device=device)[:20]
        pot = (chosen[:, None] * GROUP + torch.arange(GROUP, device=device)).repeat_interleave(each, dim=1).flatten()
        lot = torch.arange(len(chosen), device=device).repeat_interleave(GROUP * each)
        photo = lot * PHOTOS + torch.randint(PHOTOS, (len(pot),), generator=generator, device=device)
        share = torch.rand(len(pot), 2, generator=generator, device=device)
        batch: Batch = maker.draw(pot, (0.06 + 0.88 * share) * maker.size[pot].float(), generator, photo)
        vectors = embed(network, batch.images, batch)
        a, b = _triples(vectors, pot, lot)
        right, total = right + a, total + b
    return {"triples_right": right / max(total, 1.0)}


def _triples(vectors: Tensor, pot: Tensor, lot: Tensor) -> tuple[float, float]:
    similarity = vectors @ vectors.T
    apart = ~torch.eye(len(pot), dtype=torch.bool, device=pot.device)
    same = (pot[:, None] == pot[None, :]) & apart
    other = (lot[:, None] == lot[None, :]) & (pot[:, None] != pot[None, :])
    wins = similarity[:, :, None] > similarity[:, None, :]
    asked = same[:, :, None] & other[:, None, :]
    return float((wins & asked).sum()), float(asked.sum())


def measure_shares(
    plain: SherdNetwork, tuned: SherdNetwork, surfaces: Mapping[str, Surfaces], device: torch.device
) -> dict[str, dict[str, dict[str, float]]]:
    """Motif retrieval by share of the tuned weights, on each set of surfaces."""
    settings = CropSettings(scale_sd=0.02, gain_sd=0.05, size_mm=MOTIF_CROPS.size_mm)
    held = {name: (CropMaker(one, device, settings), Places(one, device)) for name, one in surfaces.items()}
    figures = {}
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        network = averaged(plain, tuned, share).to(device)
        figures[f"{share:.2f}"] = {name: motif_retrieval(network, *one) for name, one in held.items()}
    return figures
