"""Rows of a made collection, as this program would have written them. Everything in it is invented."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from motifs.catalogue.tables import BULKY
from motifs.records import CueReading, CueVote
from motifs.workflows.describe import evidence_basis, evidence_encoders
from motifs.workflows.evidence_json import EVIDENCE, pack_evidence
from motifs.workflows.figures import FIGURES, Figure, pack_figures
from motifs.workflows.measurements import basis
from motifs.workflows.sort import KIND
from motifs.workflows.sorting import LotSorting, PairQuestion, PlacedSherd, packed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.records import Scale

Row = dict[str, Any]
MADE = {"made_by": "setup", "made_at": "2026-01-05T09:00:00.000000+00:00"}
SITES = tuple(
    f"{first} {second}" for first in ("Alder", "Brack", "Corrie", "Dunnock") for second in ("Holm", "Rigg", "Wath")
)
MOTIFS = (
    "chevron",
    "spiral",
    "scroll",
    "key",
    "lozenge",
    "wave",
    "dot row",
    "net",
    "guilloche",
    "comb",
    "star",
    "tree",
)
OTHER_TAGS = {"technique": ("painted", "incised", "stamped"), "position": ("rim", "neck", "body", "base")}
PERIODS = ("phase I", "phase II", "phase III")


def sites() -> list[Row]:
    """A dozen sites."""
    return [{"id": place, "name": name, **MADE} for place, name in enumerate(SITES, start=1)]


def lot_name(number: int) -> str:
    """The name of a lot, by its place."""
    return f"{SITES[number % len(SITES)][0]}H-{number:04d}"


def lot(number: int, name: str, size: int) -> Row:
    """One lot of one of the sites."""
    return {"id": number, "name": name, "site_id": number % len(SITES) + 1, "last_number": size, **MADE}


def measurements(sherds: Sequence[Row], scale: Scale, rng: np.random.Generator) -> list[Row]:
    """Figures and evidence of every sherd, on the basis that this program asks for."""
    cues = evidence_basis(evidence_encoders())
    found = []
    for sherd in sherds:
        here = {"sherd_id": sherd["id"], "content_key": sherd["content_key"], **MADE}
        figures = pack_figures(_figures(sherd, rng), basis(scale))
        found.append({**here, "name": FIGURES, "value": figures.value, "sd": figures.sd})
        evidence = pack_evidence(_readings(rng), cues)
        found.append({**here, "name": EVIDENCE, "value": evidence.value, "sd": evidence.sd})
    return found


def _figures(sherd: Row, rng: np.random.Generator) -> dict[str, Figure]:
    colour, paint = _short(rng.normal((52, 11, 22), 4)), _short(rng.normal((80, 2, 9), 4))
    chips = [{"chip": f"{hue} 5/{4 + place}", "de": 2.0 + place} for place, hue in enumerate(("5YR", "7.5YR", "10YR"))]
    width = sorted(_short(np.abs(rng.normal(1.5, 0.3, 3)) + 0.2))
    return {
        "area": Figure(sherd["area_mm2"], "mm2", 11.5),
        "max_dimension": Figure(sherd["max_dimension_mm"], "mm", 0.24),
        "blur": Figure(0.47, "px", 0.16),
        "burnt_share": Figure(0.0, "share"),
        "blocked_share": Figure(0.0, "share"),
        "paste_colour": Figure(colour, "L*a*b*", [0.6, 0.3, 0.4]),
        "paste_spread": Figure([1.4, 0.6, 0.9], "L*a*b*"),
        "paste_munsell": Figure(chips, "CIEDE2000"),
        "paint_colour": Figure([paint], "L*a*b*", [[2.4, 0.5, 0.7]]),
        "paint_share": Figure([1.0], "share"),
        "paint_munsell": Figure([chips], "CIEDE2000"),
        "decorated_share": Figure(round(float(rng.uniform(0.1, 0.5)), 4), "share", 0.025),
        "line_direction": Figure(round(float(rng.uniform(0, 180)), 1), "deg", 5.9),
        "line_parallel": Figure(0.6, "share"),
        "line_width": Figure(list(width), "mm", [0.23, 0.23, 0.23]),
        "band_height": Figure(round(float(rng.uniform(4, 12)), 3), "mm", 0.25),
        "band_direction": Figure(41.0, "deg", 1.0),
        "repeat": Figure(None, "mm"),
    }


def _readings(rng: np.random.Generator) -> dict[str, CueReading]:
    sizes = {"paste": 3, "paint": 3, "texture": 5, "line": 1, "gap": 1}
    found = {cue: CueReading(tuple(rng.normal(size=size)), (0.3,) * size) for cue, size in sizes.items()}
    vector = rng.normal(size=64)
    return {**found, "vessel_vector": CueReading(tuple(vector / np.linalg.norm(vector)), (0.05,) * 64)}


def _short(numbers: NDArray[np.floating]) -> list[Any]:
    return [float(f"{number:.5g}") for number in numbers]


def tags(sherds: Sequence[Row], families: NDArray[np.integer], rng: np.random.Generator) -> list[Row]:
    """Motifs on most sherds, and a technique or a position on some."""
    found = []
    for sherd, family in zip(sherds, families.tolist(), strict=True):
        if rng.random() < 0.7:
            found.append(_tag(sherd, "motif", MOTIFS[family % len(MOTIFS)]))
        for kind, terms in OTHER_TAGS.items():
            if rng.random() < 0.4:
                found.append(_tag(sherd, kind, terms[int(rng.integers(len(terms)))]))
    return found


def _tag(sherd: Row, kind: str, term: str) -> Row:
    return {
        "sherd_id": sherd["id"], "term": term, "kind": kind, "box_px": None, "confidence": None, "is_active": True, **MADE,
    }  # fmt: skip


def records(sherds: Sequence[Row], rng: np.random.Generator) -> list[Row]:
    """A written record of every other find."""
    return [
        {
            "number": sherd["number"], "lot_id": sherd["lot_id"], "is_active": True, **MADE,
            "fields": {"context": f"{sherd['lot_id']}.{sherd['id'] % 7}", "period": PERIODS[int(rng.integers(3))], "weight g": "12.5"},
        }
        for sherd in sherds
        if rng.random() < 0.5
    ]  # fmt: skip


def attributions(sherds: Sequence[Row], rng: np.random.Generator) -> list[Row]:
    """A person's judgement on a fifth of the sherds."""
    return [
        {"sherd_id": sherd["id"], "vessel": str(sherd["id"] % 3 + 1), "note": "", "is_active": True, **MADE}
        for sherd in sherds
        if rng.random() < 0.2
    ]


def proposal(of: Row, sherds: Sequence[Row], latest: int, rng: np.random.Generator) -> Row:
    """A sort of the lot into three vessels, each sherd with two reasons, made when the history had come to line `latest`."""
    votes = (
        CueVote("paste", 3.1, "paste 2.4 apart (CIEDE2000): for"),
        CueVote("line", -1.2, "line 1.10 mm against 1.50 mm: against"),
    )
    placed = tuple(
        PlacedSherd(sherd["number"], sherd["id"] % 3, float(rng.uniform(0.4, 1)), (sherd["id"] + 1) % 3, votes)
        for sherd in sherds
    )
    asked = (PairQuestion(placed[0].sherd, placed[-1].sherd, "it stands between two vessels"),)
    return {
        "lot_id": of["id"], "kind": KIND, "encoder_tags": [], "parameters": {"vessels": None, "seed": 0},
        "result": packed(LotSorting(of["name"], 3, (2, 4), placed, asked)), "lot_version": latest, **MADE,
    }  # fmt: skip


def events(of: Row, photos: Sequence[Row], sherds: Sequence[Row], before: int) -> list[Row]:
    """The history: the lot, its photographs, its sherds; after so many lines before."""
    lines = [("lot added", "lot", of, of["name"], False)]
    lines += [("photo added", "photo", photo, photo["file_name"], False) for photo in photos]
    lines += [("sherd added", "sherd", sherd, sherd["number"], True) for sherd in sherds]
    return [
        {
            "id": place, "change": of["id"], "verb": verb, "lot_id": of["id"], "subject": subject, "is_undoable": is_undoable,
            "undone_by": None, **MADE,
            "before": [{"table": table, "id": row["id"], "row": {"state": "dropped"} if table == "sherd" else {}}],
            "after": [{"table": table, "id": row["id"], "row": _noted(row)}],
        }
        for place, (verb, table, row, subject, is_undoable) in enumerate(lines, start=before + 1)
    ]  # fmt: skip


def _noted(row: Row) -> Row:
    return {name: value for name, value in row.items() if name not in BULKY and name not in {"id", *MADE}}
