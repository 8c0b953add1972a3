"""Commands that made models/: `python -m motifs.training encoders|ship|evidence --help`."""

from __future__ import annotations

import argparse
import os
from pathlib import Path


def main() -> int:
    """Run one training command; returns the exit code."""
    parser = argparse.ArgumentParser(prog="python -m motifs.training", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    encoders = commands.add_parser("encoders", help="paint practice surfaces, train both encoders, measure them")
    encoders.add_argument("--work", type=Path, required=True, help="folder for painted surfaces (tens of GB)")
    encoders.add_argument("--out", type=Path, required=True, help="folder for weights and figures")
    encoders.add_argument("--plain", type=Path, required=True, help="safetensors of the plain network (see `plain`)")
    encoders.add_argument("--paint-seconds", type=float, default=240)
    encoders.add_argument("--train-seconds", type=float, default=240)
    encoders.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    encoders.add_argument("--held-groups", type=int, default=60)
    encoders.add_argument("--seed", type=int, default=1)
    plain = commands.add_parser("plain", help="write the packaged ImageNet weights as safetensors")
    plain.add_argument("file", type=Path)
    evidence = commands.add_parser("evidence", help="fit models/evidence.json on practice lots")
    evidence.add_argument("--work", type=Path, required=True, help="folder for readings, kept between runs")
    evidence.add_argument("--out", type=Path, required=True, help="the table to write")
    evidence.add_argument("--lots", type=int, default=40)
    evidence.add_argument("--seed", type=int, default=7000)
    shipping = commands.add_parser("ship", help="write models/ from the weights of a run of `encoders`")
    shipping.add_argument("--run", type=Path, required=True, help="folder that `encoders` wrote")
    shipping.add_argument("--plain", type=Path, required=True, help="safetensors that `plain` wrote")
    shipping.add_argument("--into", type=Path, default=Path("models"))
    shipping.add_argument("--share", type=float, default=0.75, help="share of the tuned weights in the motif encoder")
    shipping.add_argument("--tag", default="practice1")
    arguments = parser.parse_args()
    if arguments.command == "ship":
        from motifs.training.shipping import ship  # noqa: PLC0415

        ship(arguments.run, arguments.plain, arguments.into, arguments.share, arguments.tag)
        return 0
    if arguments.command == "evidence":
        from motifs.training.evidence import fit_evidence  # noqa: PLC0415

        fit_evidence(arguments.work, arguments.out, arguments.lots, arguments.seed)
        return 0
    if arguments.command == "plain":
        return _write_plain(arguments.file)
    from motifs.training.running import Plan, run  # noqa: PLC0415 - torch only when it is needed

    options = vars(arguments)
    options.pop("command")
    run(Plan(**options))
    return 0


def _write_plain(file: Path) -> int:
    from motifs.embedding.specs import EFFICIENTNET_LITE0  # noqa: PLC0415
    from motifs.embedding.weights import load_network, packed_state  # noqa: PLC0415

    file.write_bytes(packed_state(EFFICIENTNET_LITE0, load_network(EFFICIENTNET_LITE0)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
