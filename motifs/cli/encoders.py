"""`encoders`: which encoders there are."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table

if TYPE_CHECKING:
    import argparse

SUMMARY = "list the encoders that turn a sherd into a vector, and what each is used for"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """No arguments of its own."""


def run(arguments: argparse.Namespace) -> Answer:
    """List them; the default of comparanda comes first."""
    from dataclasses import asdict

    from motifs.workflows.encoders import list_encoders

    listed = list_encoders()
    rows = [
        [item.spec.tag, item.spec.dim, item.spec.px_per_mm, ", ".join(item.used_for), item.spec.licence]
        for item in listed
    ]
    return Answer(
        {"encoders": [{**asdict(item.spec), "used_for": item.used_for} for item in listed]},
        [
            *table(["tag", "dim", "px/mm", "used for", "licence"], rows),
            "torchvision.NETWORK.WEIGHTS is taken too where the weights lie in torch's cache on this machine",
        ],
    )
