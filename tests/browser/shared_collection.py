"""The collection that most journeys begin with: three demo sites, one lot gone all the way. Built once, copied for each module."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.catalogue import Catalogue
from motifs.workflows.agreement import begin_second_look
from motifs.workflows.comparanda_lists import keep_comparandum
from motifs.workflows.demo import demo_lots
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.joins import find_joins
from motifs.workflows.pipeline import run_lot
from motifs.workflows.practice import ExerciseSettings, prepare_exercise
from motifs.workflows.tagging import tag_sherds
from motifs.workflows.treatment import add_entry
from motifs.workflows.vectors import comparanda_encoder, ensure_vectors

if TYPE_CHECKING:
    from pathlib import Path

BY = "M. Oduya"
MOTIFS = ("meander", "chevron band", "running spiral", "leaf row", "checkerboard")
EXERCISE = "first pots"
LIST = "zigzag and flower"


@dataclass(frozen=True)
class Lots:
    """Names of the lots: sorted and laid out; one photograph of another site; one of a third."""

    whole: str = "OT-1"
    second: str = "CR-1"
    third: str = "BS-1"


LOTS = Lots()


def build(folder: Path) -> None:
    """Make it: about half a minute of one core."""
    by_name = {lot.lot: lot for lot in demo_lots()}
    with Catalogue.open(folder, create=True) as cat:
        whole = by_name[LOTS.whole]
        run_lot(cat, whole.photos, lot=whole.lot, site=whole.site, by=BY)
        find_joins(cat, whole.lot, by=BY)
        for lot in (by_name[LOTS.second], by_name[LOTS.third]):
            catalogue_photos(cat, read_photos(lot.photos[:1]), lot=lot.lot, site=lot.site, by=BY)
        ensure_vectors(cat, comparanda_encoder(), cat.sherds(), by=BY)
        tag_in_turn(cat)
        write_up(cat)
    prepare_exercise(folder / "exports" / "practice", EXERCISE, settings=ExerciseSettings(2, 0.0, 11, 12))


def tag_in_turn(cat: Catalogue) -> None:
    """Motifs on two sherds of three, other ones at each site; the rest waits for a person."""
    for shift, lot in enumerate((LOTS.whole, LOTS.second, LOTS.third)):
        numbers = [sherd.number for sherd in cat.sherds(lot)]
        for place, term in enumerate(MOTIFS[shift : shift + 3]):
            tag_sherds(cat, numbers[place :: 4 + shift], "motif", term, by=BY)


def write_up(cat: Catalogue) -> None:
    """A list of comparanda, a treatment, a second look: something on every page."""
    query, other = cat.sherds(LOTS.whole)[0].number, cat.sherds(LOTS.third)[0].number
    keep_comparandum(cat, LIST, query, other, "the same zigzag under the rim", by=BY)
    today = datetime.date(2026, 3, 2).isoformat()
    add_entry(cat, LOTS.whole, "1", "condition", {"found": "sound, breaks clean"}, done_on=today, person=BY, by=BY)
    begin_second_look(cat, "March", "motif", size=10, seed=3, by=BY)
