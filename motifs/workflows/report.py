"""A report of a lot or a site, as PDF and as static HTML; the same collection gives the same bytes."""

from __future__ import annotations

import hashlib
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import motifs
from motifs.catalogue.files import write_atomically
from motifs.errors import CollectionNotWritable, InputError, UnknownName
from motifs.evidence import VERSION as CUES_VERSION
from motifs.evidence.calibration import CALIBRATION_FILE
from motifs.workflows import report_lot, site_figures
from motifs.workflows.encoders import list_encoders
from motifs.workflows.file_names import file_stem
from motifs.workflows.plates import cut_pieces, plates
from motifs.workflows.report_html import report_html
from motifs.workflows.report_parts import Grid, Listing, Report, Section, Shown, Words, grid
from motifs.workflows.report_pdf import report_pdf
from motifs.workflows.sites import ComparingSettings, compare_sites, in_order
from motifs.workflows.sort import KIND as VESSELS

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.sites import CountTable
    from motifs.workflows import Progress
    from motifs.workflows.report_parts import Block
    from motifs.workflows.table import LotTable

REDUCTION = 2.0
"""Plates are printed at 1 : 2; decorated pieces are published at 1 : 2 or 1 : 1 (common practice)."""

MOTIFS_ACROSS = 8
STEPS_A_LOT, STEPS_BESIDE = 3, 2
"""Steps that are told: comparanda, pictures and sections of each lot; then both files."""

CAUTIONS = (
    "A proposal is no attribution: look at fresh breaks, temper, thickness and profile before anything is relied on.",
    "Decide first whether to mend at all; a mended pot can be weaker than its sherds. Record and sample before cleaning.",
    "Lay everything out dry, then hold it with low-tack tape (not on friable paint or slip), and plan the order before any "
    "adhesive is opened. Adhesive, solvent and method are a trained conservator's decision; they must come off again.",
    "Solvents burn and harm: ventilation, no flame, the gloves and eye protection that the safety sheet names.",
    "Edges cut; old glazes can hold lead, old collections arsenic, mercury or pesticides: gloves, washed hands, no food.",
    "Human remains, burial goods, sacred or sensitive designs: stop, consult the descendant communities, follow local law.",
    "Local rules, your institution and a trained conservator come before this report.",
)


@dataclass(frozen=True, slots=True)
class WrittenReport:
    """The files of a report."""

    pdf: Path
    html: Path
    sherds: int
    pages_of: tuple[str, ...]


class _Steps:
    """Counts the steps of a report, and tells them; each is also a place where it can be stopped."""

    def __init__(self, progress: Progress | None, of: int) -> None:
        self.progress, self.of, self.done = progress, of, -1

    def next(self) -> None:
        """Begin the next step."""
        self.done += 1
        if self.progress is not None:
            self.progress("putting the report together", min(self.done, self.of), self.of)


def write_report(
    cat: Catalogue,
    folder: Path,
    *,
    lot: str | None = None,
    site: str | None = None,
    reduction: float = REDUCTION,
    by: str,
    progress: Progress | None = None,
) -> WrittenReport:
    """Write the report of one lot, or of one site with its lots, into a folder that is made if need be.

    An earlier report of the same name is replaced. Nothing is written to the catalogue but vectors that were not there yet.

    Parameters
    ----------
    lot, site : one of the two.
    reduction : plates are drawn at 1 : reduction, 1 to 10.

    Raises
    ------
    UnknownName, InputError
        No such lot or site; both or neither given; a reduction that cannot be.
    CollectionNotWritable
        No permission or no space there.
    """
    if (lot is None) == (site is None):
        raise InputError("name one lot or one site to report on")
    if not 1.0 <= reduction <= 10.0:
        raise InputError(f"plates cannot be drawn at 1 : {reduction:g}; give 1 (true size) to 10")
    name = str(lot if lot is not None else site)
    with tempfile.TemporaryDirectory() as scratch:
        steps = _Steps(progress, STEPS_A_LOT * len(_lots(cat, lot, site)) + STEPS_BESIDE)
        made = make_report(cat, Path(scratch), lot=lot, site=site, reduction=reduction, by=by, steps=steps)
        steps.next()
        pdf = report_pdf(made)
        steps.next()
        html = report_html(made)
        steps.next()
    stem = f"report {file_stem(name)}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise CollectionNotWritable(f"'{folder}' cannot be made ({problem.strerror}); name another folder") from problem
    files = folder / f"{stem}.pdf", folder / f"{stem}.html"
    for file, content in zip(files, (pdf, html.encode()), strict=True):
        write_atomically(file, content, is_lasting=True)
    lots = (str(lot),) if lot is not None else tuple(one.name for one in cat.lots(site))
    return WrittenReport(*files, sum(len(cat.sherds(one)) for one in lots), lots)


def make_report(
    cat: Catalogue,
    scratch: Path,
    *,
    lot: str | None,
    site: str | None,
    reduction: float,
    by: str,
    steps: _Steps,
) -> Report:
    """Put a report together; pictures lie in `scratch` until it is written out."""
    lots = _lots(cat, lot, site)
    sections: list[Section] = []
    for name in lots:
        one = lot_sections(cat, name, scratch, reduction=reduction, by=by, steps=steps)
        sections += one if lot is not None else [Section(f"Lot {name}", ()), *(_lowered(part) for part in one)]
    if site is not None:
        sections.insert(0, _site_section(cat, site, by=by))
    method = _method(cat, lots)
    latest = cat.history(lot, limit=1)
    as_of = f"{latest[0].at[:16].replace('T', ' ')} UTC" if latest else "the beginning"
    facts = [
        ("Collection", cat.folder.name),
        ("State", f"change {cat.version(lot)} of the record, {as_of}"),
        *([("Site", cat.lot(lot).site or "not recorded")] if lot is not None else [("Lots", ", ".join(lots))]),
        ("Program", f"motifs {motifs.__version__}"),
    ]
    title = f"Report on lot {lot}" if lot is not None else f"Report on site {site}"
    subtitle = "Photographs of decorated sherds: vessels, motifs, comparanda, with reasons"
    closing = [_restricted(cat, lots), _treatment(cat, lots), _uncertainties(cat, lots), _availability(cat, lots)]
    return Report(title, subtitle, tuple(facts), as_of, (*sections[:1], method, *sections[1:], *closing))


def lot_sections(cat: Catalogue, lot: str, scratch: Path, *, reduction: float, by: str, steps: _Steps) -> list[Section]:
    """Everything that is told of one lot, in the order of the work."""
    steps.next()
    table = report_lot.table_of(cat, lot)
    near, shown = report_lot.comparanda(cat, table, by=by, progress=steps.progress)
    steps.next()
    own = [cat.sherd(one.number) for one in table.sherds]
    numbers = {sherd.number for sherd in own}
    strangers = [cat.sherd(number) for number in shown if number not in numbers]
    folder = scratch / hashlib.sha256(lot.encode()).hexdigest()[:8]
    folder.mkdir()
    pieces = cut_pieces(cat, [*own, *strangers], folder, reduction=reduction)
    steps.next()
    beside = plates(
        [pieces[number] for number in shown if number in pieces], f"Lot {lot}, comparanda", reduction=reduction
    )
    return [
        report_lot.came_in(cat, lot),
        *report_lot.vessels(cat, lot, table, pieces, reduction=reduction),
        report_lot.motifs(cat, lot, table),
        Section(near.title, (*near.blocks, *map(Shown, beside))),
        report_lot.joins(cat, lot),
    ]


def _lots(cat: Catalogue, lot: str | None, site: str | None) -> tuple[str, ...]:
    if lot is not None:
        return (cat.lot(lot).name,)
    names = [one.name for one in cat.sites()]
    if site not in names:
        raise UnknownName(f"no site '{site}' in this collection; it has {', '.join(names) or 'none'}")
    return tuple(one.name for one in cat.lots(site))


def _lowered(section: Section) -> Section:
    return Section(section.title, section.blocks, 2)


def _site_section(cat: Catalogue, site: str, *, by: str) -> Section:
    """The site beside the other sites."""
    found = compare_sites(cat, ComparingSettings(permutations=499), by=by)
    blocks: list[Block] = [
        Words(
            f"Counted: {found.unit}. {found.judged} vessels were judged by a person, {found.proposed} are proposed only."
        )
    ]
    if found.tagged is not None:
        tagged = found.tagged
        blocks += _motif_grids(tagged.table)
        order = in_order(found)
        blocks.append(Shown(site_figures.heat_map(tagged.similarity, order)))
        blocks.append(Shown(site_figures.battleship(tagged.table, order, "in the order of the first axis")))
        pairs: list[tuple[object, ...]] = [
            (p.a, p.b, p.tested.similarity, p.tested.p_value) for p in tagged.pairs if site in (p.a, p.b)
        ]
        if pairs:
            blocks.append(
                grid(
                    ("site", "site", "Brainerd-Robinson (0-200)", "p (permutation)"), pairs, f"{site} beside the others"
                )
            )
    if found.untagged is not None:
        near: list[tuple[object, ...]] = [
            (p.a, p.b, p.similarity, p.tagged, p.why) for p in found.untagged.pairs if site in (p.a, p.b)
        ]
        caption = f"The same without tags, by {found.untagged.encoder}"
        blocks.append(grid(("site", "site", "similarity (0-200)", "by tags", "why they may differ"), near, caption))
    if found.notes:
        blocks.append(Listing(found.notes))
    return Section("The site beside the others", tuple(blocks))


def _motif_grids(table: CountTable) -> list[Grid]:
    """The motif table, a few motifs at a time, so that it fits a page."""
    frame = table.frame()
    grids = []
    for start in range(0, len(frame.columns), MOTIFS_ACROSS):
        part = frame.iloc[:, start : start + MOTIFS_ACROSS]
        rows: list[tuple[object, ...]] = [
            (name, *row) for name, row in zip(part.index, part.to_numpy().tolist(), strict=True)
        ]
        grids.append(grid(("site", *map(str, part.columns)), rows, f"Motifs at each site ({table.unit})"))
    return grids


def _method(cat: Catalogue, lots: tuple[str, ...]) -> Section:
    """What made the proposals: encoders, cues, calibration, settings."""
    rows: list[tuple[object, ...]] = [
        (one.spec.tag, one.spec.sha256[:16], one.spec.licence, ", ".join(one.used_for))
        for one in list_encoders()
        if one.used_for
    ]
    calibration = (
        hashlib.sha256(CALIBRATION_FILE.read_bytes()).hexdigest()[:16] if CALIBRATION_FILE.exists() else "missing"
    )
    said = [
        "Sherds were outlined on each photograph and corrected for its light; lengths are in the plane of the scale.",
        f"Vessels: cues of paste, paint, line, texture, a learned vector and joins (version {CUES_VERSION}), calibrated on practice pots "
        f"with known answers (evidence.json, sha256 begins {calibration}); a person's word is obeyed exactly.",
        "Support: how often a sherd with such evidence is with its right vessel, by that calibration.",
        "Shares: Wilson intervals, 95 % (Wilson 1927). Similarity of sites: Brainerd & Robinson 1951, permutation tests.",
    ]
    for lot in lots:
        kept = cat.latest_proposal(lot, VESSELS)
        if kept is not None:
            settings = ", ".join(
                f"{name} {value}" for name, value in sorted(kept.parameters.items()) if value is not None
            )
            said.append(
                f"Lot {lot} was last sorted {kept.at[:16].replace('T', ' ')} UTC ({settings or 'no settings'}; {', '.join(kept.encoder_tags) or 'no encoder'})."
            )
    caption = "Encoders; weights are named by the first digits of their sha256"
    return Section(
        "Method",
        (
            Listing(tuple(said)),
            grid(("encoder", "sha256 begins", "licence", "used for"), rows, caption, (0.3, 0.26, 0.2, 0.24)),
        ),
    )


def _restricted(cat: Catalogue, lots: tuple[str, ...]) -> Section:
    kept_back = sum(cat.withheld(lot) for lot in lots)
    if not kept_back:
        text = "Nothing of this report was left out as restricted."
    else:
        text = f"{kept_back} sherd(s) are restricted and left out of every list, number and picture of this report."
    places = "No coordinates of sites are given."
    return Section("Restricted material", (Words(f"{text} {places}", is_caution=bool(kept_back)),))


def _treatment(cat: Catalogue, lots: tuple[str, ...]) -> Section:
    rows: list[tuple[object, ...]] = []
    for lot in lots:
        tags = cat.tags_of([sherd.number for sherd in cat.sherds(lot)])
        for number, said in tags.items():
            rows += [
                (number, tag.kind, tag.term, tag.by, tag.at[:10])
                for tag in said
                if tag.kind in {"treatment", "condition"}
            ]
        rows += [
            (
                f"vessel {one.vessel}",
                one.kind,
                "; ".join([*(f"{k}: {v}" for k, v in sorted(one.fields.items())), one.note]).strip("; "),
                one.person,
                one.done_on,
            )
            for one in cat.treatments(lot)
        ]
        for record in cat.records(lot):
            rows += [
                (record.number, name, record.fields[name], record.by, record.at[:10])
                for name in ("condition", "treatment", "surface treatment")
                if name in record.fields
            ]
    blocks: list[Block] = (
        [grid(("sherd or vessel", "what", "said", "by", "on"), rows, "Condition and treatment on record")]
        if rows
        else []
    )
    if not rows:
        blocks.append(Words("No treatment and no condition are on record for these sherds."))
    return Section("Treatment and cautions", (*blocks, Listing(CAUTIONS)))


def _uncertainties(cat: Catalogue, lots: tuple[str, ...]) -> Section:
    said = []
    for lot in lots:
        table: LotTable = report_lot.table_of(cat, lot)
        looks = sum(sherd.look is not None for sherd in cat.sherds(lot))
        unscaled = sum(photo.scale is None for photo in cat.photos(lot))
        weak = sum(one.support is not None and one.support < 0.9 for one in table.sherds)
        said.append(
            f"Lot {lot}: {looks} outlines wait for a look; {unscaled} photographs have no scale; {weak} sherds lie with a support "
            f"under 0.9; {len(table.unassigned)} are unassigned; {len(table.questions)} questions are open."
        )
    general = (
        "The calibration comes from rendered practice pots; ware unlike them gets supports that are less trustworthy.",
        "Curved sherds are measured as they are seen: lengths across the curve come out short.",
        "Colours are those of photographs, corrected by what the photograph offers; two photographs may still differ.",
    )
    return Section("Uncertainties", (Listing((*said, *general)),))


def _availability(cat: Catalogue, lots: tuple[str, ...]) -> Section:
    photos = [photo for lot in lots for photo in cat.photos(lot)]
    together = hashlib.sha256("".join(sorted(photo.sha256 for photo in photos)).encode()).hexdigest()
    people = sorted({event.by for lot in lots for event in cat.history(lot)})
    said = (
        f"The original photographs ({len(photos)}) lie unchanged in the collection '{cat.folder.name}', under their sha256; the "
        f"sha256 of their sorted sums together is {together[:16]}…",
        "Every number here comes from that collection; its history says who judged what, and when.",
        f"On record for these lots: {', '.join(people) or 'nobody yet'}.",
        "Ask the holder of the sherds about rights of use before pictures are published.",
    )
    return Section("Availability of the data", (Listing(said),))
