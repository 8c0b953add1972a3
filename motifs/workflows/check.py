"""Integrity of a collection, and a copy of it that is consistent while others work."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from motifs.workflows.crops import recut

if TYPE_CHECKING:
    from pathlib import Path

    from motifs.catalogue import Catalogue, Finding


@dataclass(frozen=True, slots=True)
class Health:
    """What check found. is_sound: nothing is wrong, or all of it was mended."""

    findings: tuple[Finding, ...]
    lots: int
    photos: int
    sherds: int

    @property
    def is_sound(self) -> bool:
        """Whether nothing is left to mend."""
        return all(finding.is_repaired for finding in self.findings)


def check_collection(cat: Catalogue, *, repair: bool = False, by: str) -> Health:
    """Compare every original, derived file and reference with the catalogue.

    repair mends what is derived (crops are cut again); originals and records are never touched.
    """
    if repair:
        with cat.transaction(by=by):
            findings = cat.check(repair=True, recut=partial(recut, cat.seeing_all()))
    else:
        findings = cat.check()
    return Health(findings, len(cat.lots()), len(cat.photos()), len(cat.sherds()))


def back_up(cat: Catalogue, file: Path) -> Path:
    """Copy catalogue and originals into one .zip; InputError if the file exists."""
    return cat.backup(file)
