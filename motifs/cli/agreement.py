"""`agreement`: tag a sample again, blind, and see how far the two looks agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection, positive_count
from motifs.errors import InputError

if TYPE_CHECKING:
    import argparse

    from motifs.catalogue import Catalogue
    from motifs.workflows.agreement import LookReport

SUMMARY = (
    "tag a sample of sherds a second time, blind, and measure agreement (kappa, alpha, what is confused with what)"
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("name", metavar="NAME", help="of the second look")
    one = parser.add_mutually_exclusive_group()
    one.add_argument("--begin", metavar="KIND", help="draw a sample of sherds that have one term of this kind")
    one.add_argument("--answer", nargs=2, metavar=("SHERD", "TERM"), help="what you see now")
    one.add_argument("--next", action="store_true", help="which sherd to look at next")
    parser.add_argument("--size", type=positive_count, default=30, metavar="N", help="of the sample (default: 30)")
    parser.add_argument("--seed", type=int, default=0, metavar="S", help="of the draw (default: 0)")
    parser.add_argument("--lot", metavar="LOT", help="draw from this lot only")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Begin, answer, ask for the next sherd, or report."""
    from motifs.workflows.agreement import begin_second_look, look_again, report_agreement

    by = by_name(arguments)
    if arguments.seed < 0:
        raise InputError(f"--seed {arguments.seed} cannot be; give 0 or more")
    with collection(arguments.collection) as cat:
        if arguments.begin is not None:
            look = begin_second_look(
                cat,
                arguments.name,
                arguments.begin,
                size=arguments.size,
                seed=arguments.seed,
                lot=arguments.lot,
                by=by,
            )
            document = {"name": look.name, "kind": look.kind, "sherds": look.sherds}
            return Answer(
                document, [f"second look '{look.name}': {len(look.sherds)} sherds, {look.kind}", *look.sherds]
            )
        if arguments.answer is not None:
            look_again(cat, arguments.name, *arguments.answer, by=by)
        if arguments.answer is not None or arguments.next:
            return _next(cat, arguments.name, by)
        return _reported(report_agreement(cat, arguments.name))


def _next(cat: Catalogue, name: str, by: str) -> Answer:
    from motifs.workflows.agreement import next_to_look_at

    number = next_to_look_at(cat, name, by=by)
    line = f"next: {number}" if number is not None else "all looked at again; leave out --next for the agreement"
    return Answer({"name": name, "next": number}, [line])


def _reported(report: LookReport) -> Answer:
    rows = []
    lines = []
    told = []
    for looker in report.lookers:
        found = looker.agreement
        rows.append([looker.by, found.units, found.observed, found.expected, found.kappa, found.alpha])
        lines += [f"{looker.by}: {found.reading}"]
        lines += [f"  first '{one.first}', then '{one.second}': {one.times}" for one in found.confusions]
        told.append(
            {
                "by": looker.by,
                "looked_at": looker.looked_at,
                "complete": looker.is_complete,
                "units": found.units,
                "observed": found.observed,
                "expected": found.expected,
                "kappa": found.kappa,
                "alpha": found.alpha,
                "reading": found.reading,
                "confusions": [
                    {"first": one.first, "second": one.second, "times": one.times} for one in found.confusions
                ],
            }
        )
    head = ["by", "sherds", "observed", "by chance", "kappa", "alpha"]
    document = {
        "name": report.name,
        "kind": report.kind,
        "sample": report.sample,
        "lookers": told,
        "alpha_of_all": report.alpha_of_all,
    }
    return Answer(document, [*table(head, rows), *lines])
