"""`check`: integrity of the collection."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection

if TYPE_CHECKING:
    import argparse

SUMMARY = "look for missing, altered or orphan files and broken references; exit code 2 if any is left"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument(
        "--repair", action="store_true", help="mend what is derived (crops are cut again); originals are never touched"
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Check, list the findings, and say by the exit code whether all is well."""
    from motifs.workflows.check import check_collection

    with collection(arguments.collection) as cat:
        health = check_collection(cat, repair=arguments.repair, by=by_name(arguments))
    findings = [
        {"kind": found.kind, "subject": found.subject, "message": found.message, "repaired": found.is_repaired}
        for found in health.findings
    ]
    document = {
        "is_sound": health.is_sound,
        "lots": health.lots,
        "photos": health.photos,
        "sherds": health.sherds,
        "findings": findings,
    }
    verdict = "sound" if health.is_sound else "NOT sound"
    lines = [f"{health.lots} lots, {health.photos} photos, {health.sherds} sherds: {verdict}"]
    if findings:
        rows = [
            [found.kind, found.subject, found.message, "mended" if found.is_repaired else ""]
            for found in health.findings
        ]
        lines += table(["kind", "what", "finding", ""], rows)
    return Answer(document, lines, exit_code=0 if health.is_sound else 2)
