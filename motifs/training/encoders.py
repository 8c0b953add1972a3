"""Train the motif encoder and the vessel encoder on sherds drawn from painted surfaces.

Motif encoder: sherds of other pots that show the same family are pulled together whatever their colour, size of hand, technique
and turn. Vessel encoder: inside a group of alike pots, sherds of one pot are pulled together and apart from the others;
colour and scale are kept. Both start from the network trained on ImageNet; what ships averages old and new weights.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

import torch
from torch import Tensor, nn

from motifs.embedding.network import pool
from motifs.training.crops import Batch, CropMaker, CropSettings
from motifs.training.losses import supervised_contrast
from motifs.training.surfaces import GROUP, MAP_STEP

if TYPE_CHECKING:
    from collections.abc import Callable

    from motifs.embedding.network import SherdNetwork
    from motifs.training.surfaces import Surfaces


@dataclass(frozen=True, slots=True)
class Recipe:
    """How long and how hard to train."""

    seconds: float
    batch: int = 512
    rate: float = 4e-4
    weight_decay: float = 0.02
    temperature: float = 0.08
    seed: int = 1


MOTIF_CROPS = CropSettings(scale_sd=0.2, gain_sd=0.05, size_mm=(22.0, 80.0))
VESSEL_CROPS = CropSettings(scale_sd=0.01, gain_sd=0.025, size_mm=(14.0, 60.0))
PHOTOS = 3


def train_vessel(network: SherdNetwork, surfaces: Surfaces, recipe: Recipe, device: torch.device) -> SherdNetwork:
    """Train in place for recipe.seconds; returns the network in evaluation mode."""
    maker = CropMaker(surfaces, device, VESSEL_CROPS)
    generator = torch.Generator(device).manual_seed(recipe.seed + 1)
    group = torch.from_numpy(surfaces.group).to(device).long()
    groups, each = int(group.max()) + 1, 4

    def loss(step: int) -> Tensor:
        del step
        count = recipe.batch // (GROUP * each)
        chosen = torch.randperm(groups, generator=generator, device=device)[:count]
        pot = (chosen[:, None] * GROUP + torch.arange(GROUP, device=device)).repeat_interleave(each, dim=1).flatten()
        lot = torch.arange(len(chosen), device=device).repeat_interleave(GROUP * each)
        photo = lot * PHOTOS + torch.randint(PHOTOS, (len(pot),), generator=generator, device=device)
        batch = maker.draw(pot, _anywhere(maker, pot, generator), generator, photo)
        vectors = embed(network, batch.images, batch)
        alike = lot[:, None] == lot[None, :]
        same = batch.pot[:, None] == batch.pot[None, :]
        return supervised_contrast(vectors, same, alike & ~same, recipe.temperature)

    return _train(network, loss, recipe)


def _train(network: SherdNetwork, loss: Callable[[int], Tensor], recipe: Recipe) -> SherdNetwork:
    optimiser = torch.optim.AdamW(parameter_groups(network, recipe), lr=recipe.rate)
    network.train()
    begin, step, shown = time.monotonic(), 0, 0.0
    while (gone := (time.monotonic() - begin) / recipe.seconds) < 1:
        warm = min(1.0, (step + 1) / 100)
        for group in optimiser.param_groups:
            group["lr"] = group["base"] * warm * (0.02 + 0.98 * 0.5 * (1 + math.cos(math.pi * gone)))
        value = loss(step)
        optimiser.zero_grad(set_to_none=True)
        value.backward()  # type: ignore[no-untyped-call]
        nn.utils.clip_grad_norm_(network.parameters(), 2.0)
        optimiser.step()
        shown = float(value.detach()) if step % 50 == 0 else shown
        if step % 200 == 0:
            print(f"step {step} gone {gone:.2f} loss {shown:.3f}", flush=True)
        step += 1
    print(f"steps {step} last loss {shown:.3f}", flush=True)
    return network.eval()


def parameter_groups(network: SherdNetwork, recipe: Recipe) -> list[dict[str, object]]:
    """Weights with decay, biases and norms without, the projection at three times the rate; "base" is the rate at its height."""
    head = list(network.projection.parameters()) + ([] if network.cells is None else list(network.cells.parameters()))
    body = list(network.body.parameters())
    plain = [p for p in body if p.ndim < 2]
    weights = [p for p in body if p.ndim >= 2]
    return [
        {"params": weights, "weight_decay": recipe.weight_decay, "base": recipe.rate},
        {"params": plain, "weight_decay": 0.0, "base": recipe.rate},
        {"params": head, "weight_decay": recipe.weight_decay, "base": 3 * recipe.rate},
    ]


def embed(network: SherdNetwork, images: Tensor, batch: Batch) -> Tensor:
    """Unit vectors (B, dim) float32 of a batch, in bfloat16 on a graphics card."""
    with torch.autocast(images.device.type, torch.bfloat16, enabled=images.device.type == "cuda"):
        vectors: Tensor = network(images.contiguous(memory_format=torch.channels_last), batch.masks)
    return nn.functional.normalize(vectors.float(), dim=1)


def embed_cells(network: SherdNetwork, images: Tensor, batch: Batch) -> tuple[Tensor, Tensor | None, Tensor | None]:
    """Unit vectors (B, dim), and where the network has a head for cells their descriptors and says."""
    with torch.autocast(images.device.type, torch.bfloat16, enabled=images.device.type == "cuda"):
        features = network.features(images.contiguous(memory_format=torch.channels_last))
        vectors = network.projection(pool(features, batch.masks, network.pooling))
        cells = None if network.cells is None else network.cells(features, batch.masks)
    unit = nn.functional.normalize(vectors.float(), dim=1)
    return (unit, None, None) if cells is None else (unit, *cells)


def _anywhere(maker: CropMaker, pot: Tensor, generator: torch.Generator) -> Tensor:
    share = torch.rand(len(pot), 2, generator=generator, device=pot.device)
    return (0.06 + 0.88 * share) * maker.size[pot].float()


class Places:
    """Where each family stands on which pots, so that batches hold every family evenly."""

    def __init__(self, surfaces: Surfaces, device: torch.device, most: int = 40) -> None:
        generator = torch.Generator().manual_seed(0)
        motifs = torch.from_numpy(surfaces.motifs)
        rows: list[Tensor] = []
        for pot in range(len(motifs)):
            here = torch.nonzero(motifs[pot] >= 0)
            family = motifs[pot][here[:, 0], here[:, 1]].long()
            for one in torch.unique(family):
                spots = here[family == one]
                pick = spots[torch.randperm(len(spots), generator=generator)[:most]]
                label = torch.tensor([int(one), pot]).expand(len(pick), 2)
                rows.append(torch.cat([label, pick], dim=1))
        table = torch.cat(rows)
        self.table = table[torch.argsort(table[:, 0], stable=True)].to(device)
        family, count = torch.unique_consecutive(self.table[:, 0], return_counts=True)
        self.start = torch.cumsum(count, 0) - count
        self.count, self.families = count, len(family)

    def draw(self, batch: int, generator: torch.Generator, each: int = 4) -> tuple[Tensor, Tensor]:
        """Pots (B,) and centres (B, 2): `each` sherds of every family drawn."""
        device = self.table.device
        family = torch.randperm(self.families, generator=generator, device=device)[: batch // each]
        family = family.repeat_interleave(each)
        share = torch.rand(len(family), generator=generator, device=device)
        row = self.table[self.start[family] + (share * self.count[family]).long()]
        jitter = 40 * torch.randn(len(row), 2, generator=generator, device=device)
        return row[:, 1], row[:, 2:].float() * MAP_STEP + jitter
