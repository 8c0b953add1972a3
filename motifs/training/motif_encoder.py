"""Train the motif encoder: painted practice pots and composed sherds together, on one or more graphics cards.

Sherds of other pots that show the same family are pulled together whatever their colour, size of hand, technique and turn.
Half of the composed families of a batch are drawn together with the families that the network still confuses them with
(hard negatives, found among running means of the families' vectors). Work stops after a while and goes on from its checkpoint.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

import torch
from torch import Tensor, distributed, nn

from motifs.training.altering import alter_looks, show_contrast
from motifs.training.crops import Batch, CropMaker
from motifs.training.encoders import MOTIF_CROPS, Places, Recipe, embed_cells, parameter_groups
from motifs.training.losses import meetings, shared_motif, similarity_contrast

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from motifs.embedding.network import SherdNetwork
    from motifs.training.composing import Composer
    from motifs.training.surfaces import Surfaces

EACH = 4
"""Sherds of one family in a batch."""
NEIGHBOURS = 3
REFRESH_STEPS = 150


@dataclass(frozen=True, slots=True)
class Shift:
    """One stretch of work. total_seconds: of the whole training, which the rate's curve follows; stop_after: of this stretch."""

    total_seconds: float
    stop_after: float
    checkpoint: Path
    rank: int = 0
    world: int = 1


class Rivals:
    """Running mean vector of every composed family, and which families lie nearest to which."""

    def __init__(self, families: int, dim: int, device: torch.device) -> None:
        self.mean = torch.zeros(families, dim, device=device)
        self.nearest: Tensor | None = None

    def note(self, family: Tensor, vectors: Tensor) -> None:
        """Move the means of the families (B,) towards their vectors (B, D)."""
        old = self.mean[family]
        self.mean[family] = torch.where(old.abs().sum(dim=1, keepdim=True) > 0, 0.9 * old + 0.1 * vectors, vectors)

    def refresh(self, most: int = 12) -> None:
        """Find the nearest families anew."""
        unit = nn.functional.normalize(self.mean, dim=1)
        seen = self.mean.abs().sum(dim=1) > 0
        rows = []
        for first in range(0, len(unit), 2048):
            alike = unit[first : first + 2048] @ unit.T
            alike[:, ~seen] = -2
            alike[torch.arange(len(alike)), torch.arange(first, first + len(alike))] = -2
            rows.append(alike.topk(most, dim=1).indices)
        self.nearest = torch.cat(rows)

    def gather(self, family: Tensor, generator: torch.Generator) -> Tensor:
        """Replace three quarters of the first half of the families (F,) by rivals of the remaining quarter."""
        if self.nearest is None:
            return family
        half = len(family) // 2
        leads = family[: half // (1 + NEIGHBOURS)]
        pick = torch.rand(len(leads), self.nearest.shape[1], generator=generator, device=family.device).argsort(dim=1)
        rivals = self.nearest[leads].gather(1, pick[:, :NEIGHBOURS]).flatten()
        rest = family[len(leads) + len(rivals) :]  # always as many in all: cuDNN tunes itself to a size
        return torch.cat([leads, rivals, rest])


def train_motif(
    network: SherdNetwork, composer: Composer, painted: Callable[[], Surfaces | None], recipe: Recipe, shift: Shift
) -> bool:
    """Train in place until the shift or the training ends; returns whether the training is done.

    painted() gives the painted surfaces once they are there, None before. The checkpoint is read if it is there, and written at the end.
    """
    device = next(network.parameters()).device
    optimiser = torch.optim.AdamW(parameter_groups(network, recipe), lr=recipe.rate)
    before = _resume(shift.checkpoint, network, optimiser)
    generator = torch.Generator(device).manual_seed(recipe.seed * 1000 + shift.rank + 10 * int(before))
    rivals = Rivals(len(composer.idents), network.body.channels, device)  # type: ignore[arg-type]
    drawing = _Drawing(composer, painted, recipe, generator, rivals, device)
    network.train()
    calm = _Calm(network, shift.checkpoint)
    begin, step = time.monotonic(), 0
    while True:
        here = _agreed(time.monotonic() - begin, device, shift.world)
        gone = (before + here) / shift.total_seconds
        if gone >= 1 or here >= shift.stop_after:
            break
        warm = min(1.0, (step + 1) / 100)
        for group in optimiser.param_groups:
            group["lr"] = group["base"] * warm * (0.01 + 0.99 * 0.5 * (1 + math.cos(math.pi * min(gone, 1))))
        value = drawing.loss(network, step)
        optimiser.zero_grad(set_to_none=True)
        value.backward()  # type: ignore[no-untyped-call]
        _share_gradients(network, shift.world)
        nn.utils.clip_grad_norm_(network.parameters(), 2.0)
        optimiser.step()
        calm.follow(network)
        if step % 200 == 0 and shift.rank == 0:
            print(f"step {step} gone {gone:.3f} loss {drawing.told()}", flush=True)
        step += 1
    network.eval()
    if shift.rank == 0:
        print(f"steps {step} in {time.monotonic() - begin:.0f} s", flush=True)
        state = {"network": network.state_dict(), "optimiser": optimiser.state_dict(), "seconds": before + here}
        torch.save(state | {"calm": calm.state}, shift.checkpoint)
    if before + here >= shift.total_seconds:
        network.load_state_dict(calm.state)
    return before + here >= shift.total_seconds


class _Calm:
    """Running mean of the weights (Polyak & Juditsky 1992), which generalises better than the last step's."""

    def __init__(self, network: SherdNetwork, checkpoint: Path, keep: float = 0.998) -> None:
        self.keep = keep
        kept = torch.load(checkpoint, map_location="cpu", weights_only=True)["calm"] if checkpoint.exists() else None
        device = next(network.parameters()).device
        self.state = {
            name: (kept or network.state_dict())[name].detach().clone().to(device) for name in network.state_dict()
        }

    @torch.no_grad()
    def follow(self, network: SherdNetwork) -> None:
        """Move towards the network's weights of this step."""
        for name, value in network.state_dict().items():
            if value.is_floating_point():
                self.state[name].lerp_(value, 1 - self.keep)
            else:
                self.state[name].copy_(value)


class _Drawing:
    """Draws both halves of a batch and their loss."""

    def __init__(
        self,
        composer: Composer,
        painted: Callable[[], Surfaces | None],
        recipe: Recipe,
        generator: torch.Generator,
        rivals: Rivals,
        device: torch.device,
    ) -> None:
        self.composer, self.painted, self.recipe, self.generator = composer, painted, recipe, generator
        self.rivals, self.device = rivals, device
        self.maker: CropMaker | None = None
        self.places: Places | None = None
        self.last = [torch.zeros(()), torch.zeros(())]

    def told(self) -> str:
        return " ".join(f"{float(one):.3f}" for one in self.last)

    def loss(self, network: SherdNetwork, step: int) -> Tensor:
        if self.maker is None and step % 20 == 0 and (surfaces := self.painted()) is not None:
            self.maker, self.places = CropMaker(surfaces, self.device, MOTIF_CROPS), Places(surfaces, self.device)
        if step % REFRESH_STEPS == REFRESH_STEPS - 1 and step > 600:
            self.rivals.refresh()
        size = self.recipe.batch if self.maker is None else self.recipe.batch // 2
        family = self.rivals.gather(self.composer.pick(size // EACH, self.generator), self.generator)
        family = family.repeat_interleave(EACH)
        with torch.no_grad():
            composed = self.composer.draw(family, self.generator)
            batch = self._with_pots(composed, size)
            seen = show_contrast(
                alter_looks(batch.images, batch.masks, self.generator), batch.masks, MOTIF_CROPS.px_per_mm
            )
        vectors, descriptors, says = embed_cells(network, seen, batch)
        sure = composed.shares[:, 0] > 0.15
        self.rivals.note(family[sure], vectors.detach()[: len(family)][sure])
        same, other = shared_motif(batch.families, batch.shares)
        across = (batch.pot[:, None] != batch.pot[None, :]) | (batch.pot[:, None] < 0)
        split = len(family)
        parts = []
        for part in (slice(0, split), slice(split, None)):
            if not len(vectors[part]):
                continue
            pairs = (same & across)[part][:, part], (other & across)[part][:, part]
            parts.append(similarity_contrast(vectors[part] @ vectors[part].T, *pairs, self.recipe.temperature))
            if descriptors is not None and says is not None:
                met = meetings(descriptors[part], says[part])
                parts.append(similarity_contrast(met, *pairs, self.recipe.temperature))
        self.last = [one.detach() for one in parts]
        return torch.stack(parts).mean()

    def _with_pots(self, composed: Batch, size: int) -> Batch:
        if self.maker is None or self.places is None:
            return composed
        pot, centre = self.places.draw(size, self.generator, EACH)
        return _joined(composed, self.maker.draw(pot, centre, self.generator))


def _joined(first: Batch, second: Batch) -> Batch:
    lacking = second.families.shape[1] - first.families.shape[1]
    families = nn.functional.pad(first.families, (0, lacking), value=-1)
    shares = nn.functional.pad(first.shares, (0, lacking))
    return Batch(
        torch.cat([first.images, second.images]),
        torch.cat([first.masks, second.masks]),
        torch.cat([families, second.families]),
        torch.cat([shares, second.shares]),
        torch.cat([first.pot, second.pot]),
    )


def _resume(file: Path, network: SherdNetwork, optimiser: torch.optim.Optimizer) -> float:
    """Go on from a checkpoint of this program's own run; returns the seconds trained before."""
    if not file.exists():
        return 0.0
    state = torch.load(file, map_location="cpu", weights_only=True)
    network.load_state_dict(state["network"])
    optimiser.load_state_dict(state["optimiser"])
    return float(state["seconds"])


def _agreed(seconds: float, device: torch.device, world: int) -> float:
    """The first process's clock, so that all stop together."""
    if world == 1:
        return seconds
    clock = torch.tensor([seconds], device=device)
    distributed.broadcast(clock, 0)
    return float(clock)


def _share_gradients(network: SherdNetwork, world: int) -> None:
    if world == 1:
        return
    gradients = [p.grad for p in network.parameters() if p.grad is not None]
    flat = torch.cat([one.flatten() for one in gradients]) / world  # one message a step
    distributed.all_reduce(flat)
    for gradient, mean in zip(gradients, torch.split(flat, [one.numel() for one in gradients]), strict=True):
        gradient.copy_(mean.view_as(gradient))
