"""Commands that made models/: `python -m motifs.training motif|vessel|plain|evidence|joins|ship --help`."""

from __future__ import annotations

import argparse
import os
from pathlib import Path


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m motifs.training", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    motif = commands.add_parser("motif", help="train the motif encoder; run again with the same folders to go on")
    motif.add_argument("--fonts", type=Path, required=True, help="folder of font files (see motifs/training/atlas.py)")
    motif.add_argument("--total-seconds", type=float, default=1000, help="of the whole training")
    motif.add_argument("--stop-after", type=float, default=1e9, help="seconds of this stretch of it")
    motif.add_argument("--groups", type=int, default=1200, help="groups of three painted pots")
    motif.add_argument("--batch", type=int, default=512, help="sherds a step on each card")
    motif.add_argument("--rate", type=float, default=5e-4)
    motif.add_argument("--held-groups", type=int, default=40)
    motif.add_argument("--start", type=Path, help="safetensors to start from instead of the plain network")
    motif.add_argument("--seed", type=int, default=2)
    vessel = commands.add_parser("vessel", help="paint practice surfaces, train the vessel encoder, measure it")
    vessel.add_argument("--paint-seconds", type=float, default=240)
    vessel.add_argument("--train-seconds", type=float, default=240)
    vessel.add_argument("--held-groups", type=int, default=60)
    vessel.add_argument("--seed", type=int, default=1)
    for one in (motif, vessel):
        one.add_argument("--work", type=Path, required=True, help="folder for painted surfaces (tens of GB)")
        one.add_argument("--out", type=Path, required=True, help="folder for weights and figures")
        one.add_argument("--plain", type=Path, required=True, help="safetensors of the plain network (see `plain`)")
        one.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    plain = commands.add_parser("plain", help="write the packaged ImageNet weights as safetensors")
    plain.add_argument("file", type=Path)
    evidence = commands.add_parser("evidence", help="fit models/evidence.json on practice lots")
    evidence.add_argument("--work", type=Path, required=True, help="folder for readings, kept between runs")
    evidence.add_argument("--out", type=Path, required=True, help="the table to write")
    evidence.add_argument("--lots", type=int, default=40)
    evidence.add_argument("--seed", type=int, default=7000)
    _add_joins(commands.add_parser("joins", help="fit models/joins.json on practice lots, print its figures on others"))
    shipping = commands.add_parser("ship", help="write models/ from the weights of a run")
    shipping.add_argument("which", choices=["motif", "vessel"])
    shipping.add_argument("--run", type=Path, required=True, help="folder that `motif` or `vessel` wrote")
    shipping.add_argument("--plain", type=Path, help="safetensors that `plain` wrote (motif)")
    shipping.add_argument("--into", type=Path, default=Path("models"))
    shipping.add_argument("--second-share", type=float, default=0.25, help="the plain network's share of a similarity")
    shipping.add_argument("--tag", default="practice2")
    return parser


def main() -> int:
    """Run one training command; returns the exit code."""
    arguments = _parser().parse_args()
    if arguments.command == "ship":
        from motifs.training.shipping import ship_motif, ship_vessel  # noqa: PLC0415

        if arguments.which == "vessel":
            ship_vessel(arguments.run, arguments.into, arguments.tag)
        else:
            ship_motif(arguments.run, arguments.plain, arguments.into, arguments.second_share, arguments.tag)
        return 0
    if arguments.command == "evidence":
        from motifs.training.evidence import fit_evidence  # noqa: PLC0415

        fit_evidence(arguments.work, arguments.out, arguments.lots, arguments.seed)
        return 0
    if arguments.command == "joins":
        return _fit_joins(arguments)
    if arguments.command == "plain":
        return _write_plain(arguments.file)
    options = vars(arguments)
    if options.pop("command") == "motif":
        from motifs.training.motif_run import MotifPlan, run_motif  # noqa: PLC0415 - torch only when it is needed

        run_motif(MotifPlan(**options))
        return 0
    from motifs.training.running import Plan, run_vessel  # noqa: PLC0415

    run_vessel(Plan(**options))
    return 0


def _add_joins(joins: argparse.ArgumentParser) -> None:
    joins.add_argument("--out", type=Path, required=True, help="the table to write")
    joins.add_argument("--lots", type=int, default=16)
    joins.add_argument("--seed", type=int, default=9001)
    joins.add_argument("--held-lots", type=int, default=4)


def _fit_joins(arguments: argparse.Namespace) -> int:
    from motifs.training.joins import fit_join_model, measure_join_model  # noqa: PLC0415

    model = fit_join_model(arguments.out, arguments.lots, arguments.seed)
    for one in measure_join_model(model, arguments.held_lots, arguments.seed + arguments.lots):
        print(one)
    return 0


def _write_plain(file: Path) -> int:
    from motifs.embedding.specs import EFFICIENTNET_LITE0  # noqa: PLC0415
    from motifs.embedding.weights import load_network, packed_state  # noqa: PLC0415

    file.write_bytes(packed_state(EFFICIENTNET_LITE0, load_network(EFFICIENTNET_LITE0)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
