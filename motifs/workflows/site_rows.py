"""What the sites' statistics count: one row a tag, from the catalogue; with periods and places from tables where given."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from motifs.catalogue import TAG_KINDS
from motifs.design.starter import INDETERMINATE
from motifs.errors import InputError, UnknownName
from motifs.workflows.table import lay_out_table

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
    from pathlib import Path

    from motifs.catalogue import Catalogue, SherdHead

COLUMNS = ("site", "lot", "sherd", "vessel", "motif")
LARGEST_PLACE_KM = 20_000.0
ROUNDED_KM = 10.0
"""Places are rounded to a grid of this size unless their owner says otherwise: exact ones invite looting."""

Allowed = "Callable[[SherdHead], bool]"


@dataclass(frozen=True, slots=True)
class TagRows:
    """Tag rows of sherds whose site is recorded.

    frame: text columns COLUMNS, one row a tag, a blank motif for a sherd without one, a blank vessel for a sherd that lies
    with none. judged, proposed: vessels that rest on a person's word, and on a proposal alone. notes: what was left out.
    """

    frame: pd.DataFrame
    sherds: tuple[SherdHead, ...]
    judged: int
    proposed: int
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a site lies, km east and north of any origin, as rounded. rounded_km: to what; 0 for not at all."""

    site: str
    east_km: float
    north_km: float
    rounded_km: float


def tag_rows(
    cat: Catalogue,
    kind: str = "motif",
    *,
    sites: Collection[str] = (),
    judged_only: bool = False,
    is_shown: Callable[[SherdHead], bool] | None = None,
) -> TagRows:
    """Gather what is tagged at each site.

    Parameters
    ----------
    kind : of the tags that are counted.
    sites : only these; all when empty.
    judged_only : vessels as people judged them; otherwise the latest proposal stands where nobody judged.
    is_shown : sherds it says no to are left out (restricted material), and counted in a note.

    Raises
    ------
    UnknownName, InputError
        No such site; no such kind of tag.
    """
    if kind not in TAG_KINDS:
        raise InputError(f"'{kind}' is no kind of tag; the kinds are {', '.join(TAG_KINDS)}")
    known = {site.name for site in cat.sites()}
    lost = [name for name in sites if name not in known]
    if lost:
        raise UnknownName(f"no site '{lost[0]}' in this collection; it has {', '.join(sorted(known)) or 'none'}")
    every = cat.sherd_heads()
    placed = [sherd for sherd in every if sherd.site is not None and (not sites or sherd.site in sites)]
    shown = [sherd for sherd in placed if is_shown is None or is_shown(sherd)]
    vessels, by_person, by_program = _vessels(cat, {sherd.lot for sherd in shown}, judged_only=judged_only)
    tags = cat.tags_of([sherd.number for sherd in shown])
    rows, undecided = [], 0
    for sherd in shown:
        said = sorted({tag.term for tag in tags.get(sherd.number, ()) if tag.kind == kind})
        undecided += said == [INDETERMINATE]
        terms = [term for term in said if term != INDETERMINATE] or [""]
        rows += [(sherd.site, sherd.lot, sherd.number, vessels.get(sherd.number, ""), term) for term in terms]
    notes = [
        *_left_out(sum(sherd.site is None for sherd in every) if not sites else 0, "have no recorded site"),
        *_left_out(len(placed) - len(shown), "are restricted"),
        *_left_out(undecided, f"have an indeterminate {kind}"),
    ]
    frame = pd.DataFrame(rows, columns=list(COLUMNS), dtype=object)
    return TagRows(frame, tuple(shown), by_person, by_program, tuple(notes))


def read_periods(file: Path) -> tuple[dict[str, str], dict[str, float]]:
    """Read a CSV table with columns ``lot``, ``period`` and, if wanted, ``year`` (the middle of the period).

    Returns
    -------
    Period by lot, periods in the order of the file (earliest first); and year by period, empty without that column.

    Raises
    ------
    InputError
        No such file, a missing column, a lot in two periods, or a year that is no number or not one for each period.
    """
    frame = _table_file(file, ("lot", "period"))
    twice = frame["lot"][frame["lot"].duplicated()]
    if len(twice):
        raise InputError(f"'{file}': lot '{twice.iloc[0]}' is listed twice; keep one row for it")
    periods = dict(zip(frame["lot"], frame["period"], strict=True))
    if "year" not in frame or not (frame["year"] != "").any():
        return periods, {}
    years: dict[str, float] = {}
    for period, text in zip(frame["period"], frame["year"], strict=True):
        year = _number(text, f"'{file}': the year of period '{period}'")
        if years.setdefault(period, year) != year:
            raise InputError(f"'{file}': period '{period}' has two years ({years[period]:g}, {year:g}); keep one")
    return periods, years


def read_places(file: Path, *, rounded_km: float = ROUNDED_KM) -> tuple[Place, ...]:
    """Read a CSV table with columns ``site``, ``east_km``, ``north_km``; rounded at once, the exact values are not kept.

    Raises
    ------
    InputError
        No such file, a missing column, a site twice, a number that is none, or a rounding below 0.
    """
    if not (math.isfinite(rounded_km) and rounded_km >= 0):
        raise InputError(f"places cannot be rounded to {rounded_km:g} km; give 0 or more")
    frame = _table_file(file, ("site", "east_km", "north_km"))
    if frame["site"].duplicated().any():
        raise InputError(
            f"'{file}': site '{frame['site'][frame['site'].duplicated()].iloc[0]}' is listed twice; keep one row for it"
        )
    return tuple(
        Place(
            str(row.site),
            _rounded(_place(row.east_km, "east_km", file), rounded_km),
            _rounded(_place(row.north_km, "north_km", file), rounded_km),
            rounded_km,
        )
        for row in frame.itertuples()
    )


def _vessels(cat: Catalogue, lots: Collection[str], *, judged_only: bool) -> tuple[dict[str, str], int, int]:
    """Vessel of each sherd, named "lot / vessel"; how many vessels hold a judged sherd, and how many none."""
    of_sherd: dict[str, str] = {}
    judged: set[str] = set()
    for lot in sorted(lots):
        for vessel in lay_out_table(cat, lot).vessels:
            name = f"{lot} / {vessel.name}"
            members = [one for one in vessel.sherds if one.judged_by is not None or not judged_only]
            of_sherd.update((one.number, name) for one in members)
            if any(one.judged_by is not None for one in members):
                judged.add(name)
    return of_sherd, len(judged), len(set(of_sherd.values()) - judged)


def _left_out(number: int, why: str) -> tuple[str, ...]:
    return (f"{number} sherd(s) {why} and are left out",) if number else ()


def _table_file(file: Path, needed: tuple[str, ...]) -> pd.DataFrame:
    try:
        frame = pd.read_csv(file, dtype=str, keep_default_na=False, encoding="utf-8-sig")
    except OSError as problem:
        raise InputError(f"'{file}' cannot be read ({problem.strerror}); name a CSV table") from problem
    except (UnicodeDecodeError, pd.errors.ParserError, pd.errors.EmptyDataError) as problem:
        raise InputError(f"'{file}' is no CSV table in UTF-8 ({problem}); save it as one") from problem
    missing = [name for name in needed if name not in frame.columns]
    if missing:
        raise InputError(f"'{file}' has no column '{missing[0]}'; the columns are {', '.join(needed)}")
    frame = frame.apply(lambda column: column.str.strip())
    blank = [name for name in needed if (frame[name] == "").any()]
    if blank:
        raise InputError(f"'{file}': a row has no {blank[0]}; fill it in or leave the row out")
    return frame


def _number(text: str, what: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise InputError(f"{what} is {text!r}, no number; write it with a decimal point")
    return number


def _place(text: object, side: str, file: Path) -> float:
    number = _number(str(text), f"'{file}': {side} of a site")
    if abs(number) > LARGEST_PLACE_KM:
        raise InputError(f"'{file}': {side} {number:g} is farther than half way round the Earth; give kilometres")
    return number


def _rounded(value_km: float, step_km: float) -> float:
    return value_km if step_km == 0 else round(value_km / step_km) * step_km + 0.0
