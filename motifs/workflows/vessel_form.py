"""The form of a vessel: profile, rim, repeats and bands, and what stands around the vessel on its outside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.catalogue import FormRow
from motifs.errors import InputError, UnknownName
from motifs.joins.layout_picture import PAPER
from motifs.joins.walls import RoundWall, wall_of_profile
from motifs.sites.rims import repeats_round
from motifs.workflows.layout_sheets import cut_outs
from motifs.workflows.table import lay_out_table
from motifs.workflows.unjoined import POSITIONS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue
    from motifs.joins import SherdCutOut
    from motifs.workflows.layout import VesselLayout

OFF_REPEAT: Final = 0.15
"""A repeat that goes round this far from a whole number of times is told."""
UNROLLED_PX_PER_MM: Final = 4.0


@dataclass(frozen=True, slots=True)
class Band:
    """What is known of one part of the vessel, from the rim down. motifs: terms of its sherds, most frequent first."""

    part: str
    motifs: tuple[str, ...]
    sherds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Unrolled:
    """The outside of a vessel unrolled, x along the girth at the widest place, y down the wall.

    image: (H, W, 3) uint8 sRGB. there: (H, W) bool, sherd lies here. repeated: (H, W) bool, taken from another repeat: conjecture.
    """

    image: NDArray[np.uint8]
    there: NDArray[np.bool_]
    repeated: NDArray[np.bool_]
    px_per_mm: float
    girth_mm: float


def record_form(
    cat: Catalogue,
    lot: str,
    vessel: str,
    profile_mm: Sequence[tuple[float, float]],
    *,
    wall_mm: float | None = None,
    repeats: int | None = None,
    sure_to_mm: float | None = None,
    note: str = "",
    by: str,
) -> FormRow:
    """Record a form; it replaces the earlier one. UnknownName, NameRefused, InputError as the catalogue's, and for a vessel not on the table."""
    lay_out_table(cat, lot).vessel(vessel)
    for name, value, most in (("wall", wall_mm, 60.0), ("measured depth", sure_to_mm, 5000.0)):
        if value is not None and not 0 < value <= most:
            raise InputError(f"a {name} of {value:g} mm cannot be; give a number above 0 and up to {most:g}")
    with cat.transaction(by=by):
        return cat.record_form(FormRow(lot, vessel, tuple(profile_mm), wall_mm, repeats, sure_to_mm, note))


def form_or_cylinder(cat: Catalogue, lot: str, vessel: str) -> FormRow:
    """The recorded form, or a wall straight down from the recorded rims for as far as the sherds reach, all of it conjecture.

    Raises
    ------
    UnknownName
        No such lot; neither a form nor a rim diameter is recorded.
    """
    form = cat.vessel_form(lot, vessel)
    if form is not None:
        return form
    members = {sherd.number for sherd in lay_out_table(cat, lot).vessel(vessel).sherds}
    diameters = [
        rim.reading.diameter_mm
        for number, rim in cat.rims(lot).items()
        if number in members and rim.reading.diameter_mm is not None
    ]
    if not diameters:
        raise UnknownName(
            f"neither a profile nor a rim diameter of vessel {vessel} is recorded; give --profile, or record a rim first"
        )
    radius = float(np.median(diameters)) / 2
    return FormRow(lot, vessel, ((0.0, radius), (radius, radius)), None, None, 1.0, "from the rims alone")


def repeats_of(diameter_mm: float, repeat_mm: float) -> tuple[int, str | None]:
    """How often a repeat goes round, to the nearest whole number, and what is odd about it.

    Parameters
    ----------
    diameter_mm : where the repeat was measured. repeat_mm : along the girth.

    Raises
    ------
    InputError
        Lengths that cannot be, or a repeat longer than the girth.
    """
    if not (0 < repeat_mm < 5000 and 0 < diameter_mm < 5000):
        raise InputError(f"a repeat of {repeat_mm:g} mm on a diameter of {diameter_mm:g} mm cannot be; give mm above 0")
    exact = repeats_round(diameter_mm, repeat_mm)
    count = round(exact)
    if count < 1:
        raise InputError(
            f"a repeat of {repeat_mm:g} mm is longer than the girth at {diameter_mm:g} mm; measure both again"
        )
    if abs(exact - count) > OFF_REPEAT:
        return count, f"{exact:.2f} repeats go round: no whole number; was one squeezed, or the diameter misread?"
    return count, None


def bands_of(cat: Catalogue, lot: str, vessel: str) -> tuple[Band, ...]:
    """Parts of a vessel from rim to base with the motifs tagged on their sherds; UnknownName for lot and vessel."""
    numbers = [sherd.number for sherd in lay_out_table(cat, lot).vessel(vessel).sherds]
    tags = cat.tags_of(numbers)
    found: dict[str, tuple[list[str], list[str]]] = {}
    for number in numbers:
        part = next((tag.term for tag in tags[number] if tag.kind == "position" and tag.term in POSITIONS), None)
        if part is None:
            continue
        motifs, sherds = found.setdefault(part, ([], []))
        motifs += [tag.term for tag in tags[number] if tag.kind == "motif"]
        sherds.append(number)
    return tuple(
        Band(
            part, tuple(sorted(set(found[part][0]), key=lambda m: (-found[part][0].count(m), m))), tuple(found[part][1])
        )
        for part in POSITIONS
        if part in found
    )


def unroll(cat: Catalogue, laid: VesselLayout, wall: RoundWall, *, repeats: int | None) -> Unrolled:
    """Lay the joined sherds round the vessel; where the repeat is known, gaps are filled from other repeats.

    Parameters
    ----------
    laid : a layout on this wall (its y is the way down from the rim).
    repeats : how often the decoration goes round, None unknown.
    """
    sherds, poses = cut_outs(cat, laid)
    zoom = UNROLLED_PX_PER_MM
    size = (max(1, round(wall.height_mm * zoom)), max(1, round(wall.girth_mm * zoom)))
    image, there = np.full((*size, 3), PAPER, np.uint8), np.zeros(size, np.bool_)
    for one, sherd, pose in zip(laid.sherds, sherds, poses, strict=True):
        if one.by == "joins":
            _wrap(image, there, sherd, np.array([pose[0], pose[1], np.radians(pose[2])]), wall, zoom)
    repeated = np.zeros_like(there)
    if repeats is not None and repeats > 1:
        image, repeated = _filled(image, there, repeats)
    return Unrolled(image, there, repeated, zoom, wall.girth_mm)


def _wrap(
    image: NDArray[np.uint8],
    there: NDArray[np.bool_],
    sherd: SherdCutOut,
    pose: NDArray[np.float64],
    wall: RoundWall,
    zoom: float,
) -> None:
    """Lay one sherd round the wall: every place it may cover is looked up on its crop."""
    reach = float(np.hypot(*sherd.mask.shape)) / sherd.px_per_mm
    stretch = wall.widest_mm / float(wall.radius_mm.min())
    low, high = (int((pose[1] + sign * reach) * zoom) for sign in (-1, 1))
    rows = np.arange(max(low, 0), min(high, image.shape[0]))
    half = min(int(reach * stretch * zoom), image.shape[1] // 4)
    columns = int(pose[0] * zoom) + np.arange(-half, half + 1)
    grid_y, grid_x = np.meshgrid(rows, columns, indexing="ij")
    places = (np.stack([grid_x.ravel(), grid_y.ravel()], axis=1) + 0.5) / zoom
    on_sherd = wall.seen(places, pose)
    filled_rows, filled_columns = np.nonzero(sherd.mask)
    pixel = on_sherd * sherd.px_per_mm + [filled_columns.mean(), filled_rows.mean()]
    pixel = np.where(np.isfinite(pixel), np.round(pixel), -1).astype(np.intp)
    inside = (pixel >= 0).all(axis=1) & (pixel[:, 1] < sherd.mask.shape[0]) & (pixel[:, 0] < sherd.mask.shape[1])
    inside[inside] = sherd.mask[pixel[inside, 1], pixel[inside, 0]]
    at = (grid_y.ravel()[inside], grid_x.ravel()[inside] % image.shape[1])
    image[at] = sherd.image[pixel[inside, 1], pixel[inside, 0]]
    there[at] = True


def _filled(
    image: NDArray[np.uint8], there: NDArray[np.bool_], repeats: int
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """Fill what is missing from the nearest repeat that has it."""
    filled, known = image.copy(), there.copy()
    width = image.shape[1]
    columns = np.arange(width)
    order = sorted(range(1, repeats), key=lambda k: min(k, repeats - k))
    for k in order:
        source = np.round(columns + k * width / repeats).astype(np.intp) % width
        take = ~known & there[:, source]
        filled[take] = image[:, source][take]
        known |= take
    return filled, known & ~there


def seen_from_outside(view: Unrolled, wall: RoundWall, *, px_per_mm: float, facing_deg: float = 0.0) -> Unrolled:
    """The right half of the outside as seen from the side: x from the centre line, y below the rim, both in mm.

    Parameters
    ----------
    facing_deg : what stands at the centre line, degrees along the girth from x = 0.
    """
    depth, reach = float(wall.drop_mm.max()), wall.widest_mm
    y = (np.arange(max(1, round(depth * px_per_mm))) + 0.5) / px_per_mm
    x = (np.arange(max(1, round(reach * px_per_mm))) + 0.5) / px_per_mm
    down = np.interp(y, wall.drop_mm, wall.down_mm)
    radius = np.interp(down, wall.down_mm, wall.radius_mm)
    inside = x[None, :] <= radius[:, None]
    angle = np.arcsin(np.clip(x[None, :] / radius[:, None], 0.0, 1.0)) + np.radians(facing_deg)
    columns = np.floor(angle / (2 * np.pi) * view.image.shape[1]).astype(np.intp) % view.image.shape[1]
    rows = np.clip((down * view.px_per_mm).astype(np.intp), 0, view.image.shape[0] - 1)[:, None]
    image = view.image[rows, columns]
    image[~inside] = 255
    there, repeated = view.there[rows, columns] & inside, view.repeated[rows, columns] & inside
    return Unrolled(image, there, repeated, px_per_mm, view.girth_mm)


def best_facing_deg(view: Unrolled) -> float:
    """The side of which the most is there: where a quarter of the girth to the right of it is fullest."""
    cover = view.there.mean(axis=0)
    quarter = max(1, len(cover) // 4)
    sums = np.convolve(np.concatenate([cover, cover[: quarter - 1]]), np.ones(quarter), mode="valid")
    return float(np.argmax(np.round(sums, 6)) / len(cover) * 360.0)


def wall_of_form(form: FormRow) -> RoundWall:
    """The wall of a recorded form."""
    return wall_of_profile(form.profile_mm)
