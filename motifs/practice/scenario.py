"""The demonstration scenario: three invented sites, four lots of broken pots, about 150 sherds."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from motifs.practice.lots import lot_truth, make_lot, write_photos
from motifs.practice.photos import PhotoSettings

PX_PER_MM = 9.0
SHARED_MOTIFS = ("spiral-running", "triangle-hatched", "meander-one-turn", "lozenge-nested")


@dataclass(frozen=True, slots=True)
class LotPlan:
    """One lot of the scenario."""

    site: str
    lot: str
    pots: int
    alike: float
    sherds: int
    own_motifs: tuple[str, ...]
    techniques: tuple[str, ...]
    backdrop: str
    bar_design: str | None = None


LOT_PLANS: tuple[LotPlan, ...] = (
    LotPlan("Ossery Tarn", "OT-1", 2, 0.5, 38, ("disc-rays-twelve", "cable-two-eyed"), ("painted",), "grey"),
    LotPlan("Ossery Tarn", "OT-2", 2, 0.0, 36, ("disc-rays-twelve", "cable-two-eyed"), ("painted", "incised"), "white"),
    LotPlan(
        "Callowmere Rise",
        "CR-1",
        3,
        0.5,
        42,
        ("scallops-hanging", "branch-lines"),
        ("painted in two colours",),
        "black",
        "two rows on card",
    ),
    LotPlan("Bruntholm Spit", "BS-1", 2, 0.0, 36, ("checker-two", "bird-solid"), ("incised", "punctated"), "blue"),
)

README = """# Demonstration photographs

Everything here is invented: the sites, the lots, the pots and the motifs. The photographs were rendered by
`motifs.practice`; no real vessel, site or collection is shown.

Three sites, four lots: {lots}. {sherds} sherds on {photos} photographs, {alike}.

`truth.json` holds the seed and, for each photograph, its lot, site and scale, and each sherd's outline (px), pot and
motifs (share of the sherd's surface). To make the folder again:

    python -m motifs.practice scenario reference_images_demo --seed {seed}
"""


def make_scenario(folder: Path, seed: int = 2) -> Path:
    """Write the scenario's photographs, truth.json and README.md; returns the truth file.

    Parameters
    ----------
    folder : Path; photographs go to <folder>/<site>/<lot>/tray_NN.jpg
    seed : int >= 0
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    lots = [_write_lot(folder, plan, seed * 1000 + k) for k, plan in enumerate(LOT_PLANS)]
    truth = folder / "truth.json"
    truth.write_text(json.dumps({"seed": seed, "lots": lots}) + "\n", encoding="utf-8")
    text = README.format(
        lots="; ".join(f"{plan.lot} ({plan.site}, {plan.pots} pots)" for plan in LOT_PLANS),
        sherds=sum(len(photo["sherds"]) for lot in lots for photo in lot["photos"]),
        photos=sum(len(lot["photos"]) for lot in lots),
        alike="; ".join(f"{plan.lot} has look-alike pots" for plan in LOT_PLANS if plan.alike >= 0.5),
        seed=seed,
    )
    (folder / "README.md").write_text(text, encoding="utf-8")
    return truth


def _write_lot(folder: Path, plan: LotPlan, seed: int) -> dict[str, Any]:
    """Write one lot's photographs and return what is true of it."""
    lot = make_lot(
        seed,
        plan.pots,
        plan.alike,
        sherds=plan.sherds,
        families=(*SHARED_MOTIFS, *plan.own_motifs),
        techniques=plan.techniques,
        settings=PhotoSettings(px_per_mm=PX_PER_MM, gap_mm=5.0, backdrop=plan.backdrop, bar_design=plan.bar_design),
        px_per_mm=PX_PER_MM,
    )
    place = folder / plan.site.lower().replace(" ", "_") / plan.lot.lower()
    files = write_photos(place, lot.photos)
    truth = lot_truth(lot)
    for photo, file in zip(truth["photos"], files, strict=True):
        photo |= {"file": file.relative_to(folder).as_posix(), "lot": plan.lot, "site": plan.site}
    return {"site": plan.site, "lot": plan.lot} | truth
