"""Train the vessel encoder in one go: paint, train, measure, write weights and figures. The motif encoder: motif_run.py."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import safetensors.torch
import torch

from motifs.embedding.network import build_network
from motifs.embedding.specs import EFFICIENTNET_LITE0
from motifs.embedding.weights import packed_state
from motifs.training.encoders import Recipe, train_vessel
from motifs.training.measuring import vessel_separation
from motifs.training.surfaces import Surfaces, open_surfaces, paint_surfaces

if TYPE_CHECKING:
    from pathlib import Path

    from motifs.embedding.network import SherdNetwork

COLOUR_SPEC = replace(EFFICIENTNET_LITE0, features="head", picture="colour", rotations=1, dim=1280)
MOTIF_SPEC = replace(COLOUR_SPEC, tag="motif.training", picture="contrast", has_cells=True)
VESSEL_SPEC = replace(COLOUR_SPEC, tag="vessel.training", dim=64, has_projection=True)
SEED_OF_SPLIT = {"train": 100_000, "tune": 200_000, "report": 300_000}


@dataclass(frozen=True, slots=True)
class Plan:
    """Times in seconds, seeds and places of one training run."""

    work: Path
    out: Path
    plain: Path
    paint_seconds: float
    train_seconds: float
    workers: int
    seed: int = 1
    held_groups: int = 60


def run_vessel(plan: Plan) -> None:
    """Paint surfaces that are not there yet, train, measure, and write everything to plan.out."""
    plan.out.mkdir(parents=True, exist_ok=True)
    surfaces = {split: _surfaces(plan, split) for split in ("tune", "report", "train")}
    print({split: len(one.packed) for split, one in surfaces.items()}, flush=True)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    recipe = Recipe(seconds=plan.train_seconds, seed=plan.seed, rate=3e-4, temperature=0.1)
    tuned = train_vessel(plain_network(plan.plain, device, projected=True), surfaces["train"], recipe, device)
    (plan.out / "vessel.safetensors").write_bytes(packed_state(VESSEL_SPEC, tuned))
    figures = {split: vessel_separation(tuned, surfaces[split], device) for split in ("tune", "report")}
    tell(plan.out, "vessel", figures)


def _surfaces(plan: Plan, split: str) -> Surfaces:
    folder = plan.work / split
    if not (folder / "about.json").exists():
        groups = 4000 if split == "train" else plan.held_groups
        seconds = plan.paint_seconds if split == "train" else 120.0
        paint_surfaces(folder, split, groups, SEED_OF_SPLIT[split] + plan.seed, workers=plan.workers, seconds=seconds)
    return open_surfaces(folder)


def plain_network(file: Path, device: torch.device, *, projected: bool) -> SherdNetwork:
    """The network trained on ImageNet, or a motif encoder of before, on a device; heads that the file lacks are fresh.

    projected : with the vessel encoder's last layer, else with the motif encoder's cells.
    """
    network = build_network(VESSEL_SPEC if projected else MOTIF_SPEC)
    state = safetensors.torch.load_file(file)
    network.load_state_dict(
        {name: value for name, value in state.items() if not name.startswith("second.")}, strict=False
    )
    network.to(device)
    network.to(memory_format=torch.channels_last)
    return network


def tell(out: Path, name: str, figures: dict[str, Any]) -> None:
    """Write a run's figures beside its weights and print them."""
    (out / f"{name}.json").write_text(json.dumps(figures, indent=1))
    print(name, json.dumps(figures), flush=True)
