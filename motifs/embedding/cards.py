"""The project's own weights: FILE.safetensors and, beside it, its model card FILE.card.json.

The card holds the encoder's specification, with the sha256 of the weight file, and what a reader must
know of how it was made. Nothing is executed on loading: safetensors holds tensors only.
"""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import asdict, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from motifs.embedding.specs import ENCODERS, EncoderSpec
from motifs.errors import ModelError, UnknownName

if TYPE_CHECKING:
    from collections.abc import Mapping

    from motifs.embedding.network import SherdNetwork

MODELS_FOLDER = Path(__file__).resolve().parents[2] / "models"
CARD_SUFFIX = ".card.json"
CARD_NOTES = ("data", "recipe", "seeds", "measures", "limits")
"""What a card has to say beside the specification."""


def sha256_of(path: Path) -> str:
    """Sha256 of a file's bytes, 64 lower-case hex digits. OSError if it cannot be read."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def read_card(path: Path) -> EncoderSpec:
    """Read the specification in a model card.

    Parameters
    ----------
    path: of the JSON file.

    Raises
    ------
    ModelError: not JSON, a key is missing or unknown, or a value cannot be.
    """
    try:
        card = json.loads(path.read_text(encoding="utf-8"))
        entry = card["encoder"]
        unknown = set(entry) - {field.name for field in fields(EncoderSpec)}
    except (OSError, UnicodeDecodeError, json.JSONDecodeError, KeyError, TypeError) as problem:
        raise ModelError(f"{path.name} is no model card ({problem}); put the original file back.") from problem
    if unknown:
        raise ModelError(f"{path.name}: unknown entry {sorted(unknown)[0]!r}; put the original file back.")
    for name in ("mean", "std"):
        entry[name] = tuple(entry.get(name, ()))
    try:
        return EncoderSpec(**entry)
    except (TypeError, ValueError) as problem:
        raise ModelError(f"{path.name} is incomplete ({problem}); put the original file back.") from problem


def shipped_encoders(folder: Path = MODELS_FOLDER) -> tuple[EncoderSpec, ...]:
    """Every encoder that has a card in the folder, in order of file name. ModelError for a broken card."""
    return tuple(read_card(path) for path in sorted(folder.glob(f"*{CARD_SUFFIX}")))


def encoder_named(tag: str, folder: Path = MODELS_FOLDER) -> EncoderSpec:
    """Find an encoder: built in, shipped with a card, or a torchvision network.

    Parameters
    ----------
    tag: ``name.tag``, or ``torchvision.NETWORK.WEIGHTS`` such as ``torchvision.resnet50.IMAGENET1K_V2``.
    folder: where the cards lie.

    Raises
    ------
    UnknownName: no such encoder; the message lists the known ones.
    ModelError: a broken card.
    """
    known = {spec.tag: spec for spec in (*ENCODERS, *shipped_encoders(folder))}
    if tag in known:
        return known[tag]
    if tag.startswith("torchvision."):
        from motifs.embedding.torchvision_bodies import spec_named  # noqa: PLC0415  (slow to import, seldom used)

        return spec_named(tag)
    raise UnknownName(f"No encoder {tag!r}; choose one of {', '.join(known)}, or torchvision.NETWORK.WEIGHTS.")


def write_model(folder: Path, spec: EncoderSpec, network: SherdNetwork, notes: Mapping[str, Any]) -> EncoderSpec:
    """Store a trained network and its card.

    Matrices and kernels are stored as float16, one-dimensional values (biases, normalisation) as float32.

    Parameters
    ----------
    folder: where to; made if need be.
    spec: its ``weights`` names the file (``models/FILE.safetensors``); its sha256 is ignored.
    network: as built by build_network(spec), on any device.
    notes: what CARD_NOTES lists, and more if wanted; JSON values.

    Returns
    -------
    The specification with the sha256 of the file.

    Raises
    ------
    ModelError: a note is missing, the file name does not fit, or a weight is not finite in float16.
    """
    from motifs.embedding.weights import packed_state  # noqa: PLC0415  (torch only when it is needed)

    missing = [name for name in CARD_NOTES if name not in notes]
    if missing:
        raise ModelError(f"The card of {spec.tag!r} says nothing of {missing[0]!r}; add it.")
    path = folder / weights_file_name(spec)
    folder.mkdir(parents=True, exist_ok=True)
    _replace(path, packed_state(spec, network))
    finished = replace(spec, sha256=sha256_of(path))
    card = {"encoder": asdict(finished), **notes}
    _replace(path.with_suffix(CARD_SUFFIX), (json.dumps(card, indent=2, ensure_ascii=False) + "\n").encode())
    return finished


def weights_file_name(spec: EncoderSpec) -> str:
    """File name of the project's own weights. ModelError when the spec's weights are no such file."""
    folder, _, name = spec.weights.partition("/")
    if folder != "models" or Path(name).name != name or Path(name).suffix != ".safetensors":
        raise ModelError(f"Encoder {spec.tag!r}: weights cannot be {spec.weights!r}; use models/FILE.safetensors.")
    return name


def _replace(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole or not at all."""
    draft = path.with_name(path.name + ".part")
    draft.write_bytes(content)
    os.replace(draft, path)
