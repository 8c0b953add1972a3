"""One run of motif training: paint in the background, train on every graphics card there is, measure, write."""

from __future__ import annotations

import os
import socket
from dataclasses import dataclass
from multiprocessing import get_context
from typing import TYPE_CHECKING

import numpy as np
import torch
from torch import distributed

from motifs.embedding.weights import packed_state
from motifs.training.atlas import Atlas, make_atlas
from motifs.training.composing import Composer
from motifs.training.encoders import MOTIF_CROPS, Recipe
from motifs.training.measuring import measure_shares
from motifs.training.motif_encoder import Shift, train_motif
from motifs.training.running import MOTIF_SPEC, SEED_OF_SPLIT, plain_network, tell
from motifs.training.surfaces import Surfaces, open_surfaces, paint_surfaces

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class MotifPlan:
    """Seconds, seeds and places of one run.

    fonts: folder with the font files that the atlas names (others are skipped).
    start: weights to start from, where not the plain network's.
    """

    work: Path
    out: Path
    plain: Path
    fonts: Path
    total_seconds: float
    stop_after: float
    groups: int
    workers: int
    batch: int = 512
    rate: float = 5e-4
    seed: int = 2
    held_groups: int = 40
    start: Path | None = None


def run_motif(plan: MotifPlan) -> None:
    """Do one stretch of work; once the training is done, measure it. Run again with the same folders to go on."""
    plan.out.mkdir(parents=True, exist_ok=True)
    plan.work.mkdir(parents=True, exist_ok=True)
    context = get_context("spawn")
    painter = context.Process(target=_paint, args=(plan,))
    if not (plan.work / "atlas.npz").exists():
        one = make_atlas(sorted(plan.fonts.glob("*.ttf")), plan.workers)
        np.savez(plan.work / "atlas.npz", tiles=one.tiles, aspect=one.aspect, ident=one.ident, own=one.own)
        print("atlas", one.tiles.shape, "families", len(np.unique(one.ident)), flush=True)
    painter.start()
    world = max(torch.cuda.device_count(), 1)
    port = _free_port()
    crew = [context.Process(target=_work, args=(plan, rank, world, port)) for rank in range(world)]
    for member in crew:
        member.start()
    for member in crew:
        member.join()
    painter.join()


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def _paint(plan: MotifPlan) -> None:
    for split, groups in (("tune", plan.held_groups), ("report", plan.held_groups), ("train", plan.groups)):
        folder = plan.work / split
        if not (folder / "about.json").exists():
            first = SEED_OF_SPLIT[split] + plan.seed
            paint_surfaces(folder, split, groups, first, workers=plan.workers, seconds=300.0)
            print("painted", split, flush=True)


def _opened(folder: Path) -> Callable[[], Surfaces | None]:
    return lambda: open_surfaces(folder) if (folder / "about.json").exists() else None


def _work(plan: MotifPlan, rank: int, world: int, port: int) -> None:
    has_card = torch.cuda.is_available()
    device = torch.device("cuda", rank) if has_card else torch.device("cpu")
    if has_card:
        torch.cuda.set_device(device)
        torch.backends.cudnn.benchmark = True
    if world > 1:
        os.environ.update(MASTER_ADDR="127.0.0.1", MASTER_PORT=str(port))
        distributed.init_process_group("nccl", rank=rank, world_size=world)
    kept = np.load(plan.work / "atlas.npz")
    atlas = Atlas(kept["tiles"], kept["aspect"], kept["ident"], int(kept["own"]))
    composer = Composer(atlas, device, MOTIF_CROPS)
    torch.manual_seed(plan.seed)  # fresh heads are alike on every card
    network = plain_network(plan.start or plan.plain, device, projected=False)
    recipe = Recipe(seconds=plan.total_seconds, batch=plan.batch, rate=plan.rate, seed=plan.seed)
    shift = Shift(plan.total_seconds, plan.stop_after, plan.work / "checkpoint.pt", rank, world)
    done = train_motif(network, composer, _opened(plan.work / "train"), recipe, shift)
    if rank == 0:
        (plan.out / "motif.safetensors").write_bytes(packed_state(MOTIF_SPEC, network))
        if done:
            plain = plain_network(plan.plain, device, projected=False).eval()
            held = {split: open_surfaces(plan.work / split) for split in ("tune", "report")}
            tell(plan.out, "motif", measure_shares(plain, network, held, device))
    if world > 1:
        distributed.destroy_process_group()
