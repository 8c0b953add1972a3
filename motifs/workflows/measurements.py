"""Everything that is measured on a sherd, each figure with its unit and standard uncertainty.

Figures are derived: kept under the sherd's content key and under what they rest on (`basis`), measured again when either
changes. Every length carries the uncertainty of the photograph's scale.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import chain, islice
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import binary_dilation

from motifs.evidence import VERSION as CUES_VERSION
from motifs.evidence.line import FINE_PX_PER_MM, stroke_widths
from motifs.evidence.paste import measure as measure_paste
from motifs.evidence.surface import read_face
from motifs.imaging import outline_measures, read_photo
from motifs.imaging.face_colours import paint_colours, region_colour
from motifs.imaging.line_directions import band_height, line_direction
from motifs.imaging.munsell import nearest_chips
from motifs.imaging.quality import shot_quality
from motifs.workflows.crops import crops_of
from motifs.workflows.figures import FIGURES, Figure, pack_figures, shown_basis, unpack_figures
from motifs.workflows.repeats import repeat_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, Json, Measurement, SherdRow
    from motifs.evidence.surface import Face
    from motifs.records import PhotoImage, Scale, SherdCrop
    from motifs.workflows import Progress

BATCH = 24
LEAST_STROKE_MM = 6.0

UNKNOWN_MM = Figure(None, "mm")


def ensure_figures(
    cat: Catalogue,
    sherds: Sequence[SherdRow],
    *,
    by: str,
    crops: Mapping[str, SherdCrop] | None = None,
    progress: Progress | None = None,
) -> dict[str, dict[str, Figure]]:
    """Figures of the sherds by number and name; measured now where there are none that hold.

    Parameters
    ----------
    crops : crops by number that are at hand already; the others are taken from the cache or cut.

    Raises
    ------
    CollectionDamaged
        An original is missing or altered.
    """
    scales = _scales(cat, sherds)
    kept = _kept(cat, sherds, scales)
    absent = [sherd for sherd in sherds if sherd.number not in kept]
    measured = _measured(cat, absent, scales, crops or {})
    done = 0
    while batch := dict(islice(measured, BATCH)):
        with cat.transaction(by=by):
            cat.save_measurements({number: {FIGURES: packed} for number, packed in batch.items()})
        done += len(batch)
        if progress is not None:
            progress("measuring sherds", done, len(absent))
    # As kept (rounded through JSON), so that the first answer and the next are the same.
    kept.update(_kept(cat, absent, scales))
    return {sherd.number: kept[sherd.number] for sherd in sherds}


def figures_of(cat: Catalogue, sherds: Sequence[SherdRow]) -> dict[str, dict[str, Figure]]:
    """Figures kept for the sherds that still hold, by number and name; a sherd without any is absent. Writes nothing."""
    return _kept(cat, sherds, _scales(cat, sherds))


def measure_figures(photo: PhotoImage, sherd: SherdRow, crop: SherdCrop, scale: Scale | None) -> dict[str, Figure]:
    """Measure everything on one sherd.

    Parameters
    ----------
    photo : the whole photograph, as shot.
    sherd : with its outline on that photograph.
    crop : the sherd cut out, light-corrected.
    scale : of the photograph; without one, nothing in mm is known.
    """
    figures = {**_size(sherd, scale), **_quality(photo, sherd)}
    face = read_face(crop)
    if face is None:
        return figures
    relative_sd = None if scale is None else scale.relative_sd
    return {**figures, **_colours(face), **_decoration(face, relative_sd)}


def basis(scale: Scale | None) -> str:
    """What the figures of a sherd rest on besides its content key: their version, the scale's uncertainty, the cues'."""
    return shown_basis(scale) + CUES_VERSION


def _scales(cat: Catalogue, sherds: Sequence[SherdRow]) -> dict[int, Scale | None]:
    return {photo_id: cat.photo(photo_id).scale for photo_id in sorted({sherd.photo_id for sherd in sherds})}


def _kept(
    cat: Catalogue, sherds: Sequence[SherdRow], scales: Mapping[int, Scale | None]
) -> dict[str, dict[str, Figure]]:
    measured = cat.measurements_of([sherd.number for sherd in sherds])
    found = {
        sherd.number: unpack_figures(measured[sherd.number].get(FIGURES), basis(scales[sherd.photo_id]))
        for sherd in sherds
    }
    return {number: figures for number, figures in found.items() if figures is not None}


def _measured(
    cat: Catalogue,
    sherds: Sequence[SherdRow],
    scales: Mapping[int, Scale | None],
    crops: Mapping[str, SherdCrop],
) -> Iterator[tuple[str, Measurement]]:
    """Measure sherds photo by photo, so that each original is decoded once."""
    at_hand = [(sherd, crops[sherd.number]) for sherd in sherds if sherd.number in crops]
    others = crops_of(cat, [sherd for sherd in sherds if sherd.number not in crops])
    photo_id, photo = None, None
    for sherd, crop in chain(at_hand, others):
        if photo is None or sherd.photo_id != photo_id:
            photo_id, photo = sherd.photo_id, read_photo(cat.photo_file(cat.photo(sherd.photo_id)))
        scale = scales[sherd.photo_id]
        yield sherd.number, pack_figures(measure_figures(photo, sherd, crop, scale), basis(scale))


def _size(sherd: SherdRow, scale: Scale | None) -> dict[str, Figure]:
    size = outline_measures(sherd.outline_px, scale)
    return {
        "area": Figure(_short(size.area_mm2), "mm2", _short(size.area_mm2_sd)),
        "max_dimension": Figure(_short(size.max_dimension_mm), "mm", _short(size.max_dimension_mm_sd)),
    }


def _quality(photo: PhotoImage, sherd: SherdRow) -> dict[str, Figure]:
    quality = shot_quality(photo, sherd.outline_px)
    return {
        "blur": Figure(_short(quality.blur_px), "px", _short(quality.blur_px_sd)),
        "burnt_share": Figure(_short(quality.burnt_share), "share"),
        "blocked_share": Figure(_short(quality.blocked_share), "share"),
    }


def _colours(face: Face) -> dict[str, Figure]:
    """Paste (the ground of the face) and paint, each with its three nearest chips."""
    figures: dict[str, Figure] = {}
    ground, paste = region_colour(face.linear[face.ground]), measure_paste(face)
    if ground is not None and paste is not None:
        figures["paste_colour"] = Figure(_list(ground.lab), "L*a*b*", _list(paste.sd))
        figures["paste_spread"] = Figure(_list(ground.spread), "L*a*b*")
        figures["paste_munsell"] = Figure(_chips(ground.lab), "CIEDE2000")
    paints = paint_colours(face.linear[face.ink]) if face.ink_is_known else ()
    if paints:
        figures["paint_colour"] = Figure(
            [_list(paint.lab) for paint in paints], "L*a*b*", [_list(paint.spread) for paint in paints]
        )
        figures["paint_share"] = Figure([_short(paint.share) for paint in paints], "share")
        figures["paint_munsell"] = Figure([_chips(paint.lab) for paint in paints], "CIEDE2000")
    return figures


def _decoration(face: Face, relative_sd: float | None) -> dict[str, Figure]:
    if not face.ink_is_known:
        return {}
    face = replace(face, coverage=_ink_in_linear_light(face))
    figures = {"decorated_share": _decorated(face)}
    direction = line_direction(face.coverage, face.inner, face.px_per_mm)
    if direction is not None:
        figures["line_direction"] = Figure(_angle(direction.direction_deg), "deg", _short(direction.direction_sd_deg))
        figures["line_parallel"] = Figure(_short(direction.strength), "share")
    if relative_sd is None:
        return figures
    figures["line_width"] = _line_width(face, relative_sd)
    band = band_height(face.coverage, face.inner, face.px_per_mm)
    figures["band_height"] = UNKNOWN_MM if band is None else _length(band.height_mm, band.height_sd_mm, relative_sd)
    if band is not None:
        figures["band_direction"] = Figure(_angle(band.direction_deg), "deg", 1.0)
    repeat = repeat_of(face.coverage, face.inner, face.px_per_mm)
    figures["repeat"] = UNKNOWN_MM if repeat is None else _length(repeat.length_mm, repeat.length_sd_mm, relative_sd)
    return figures


def _ink_in_linear_light(face: Face) -> NDArray[np.float32]:
    """Share of ink in each pixel, from linear light: half ink and half ground is half way there, and an edge lies where it is.

    The evidence's own coverage is in log-ratio colour, where half way lies nearer the darker of the two.
    """
    bare, full = np.median(face.linear[face.ground], axis=0), np.median(face.linear[face.ink], axis=0)
    axis = (full - bare) / max(float(((full - bare) ** 2).sum()), 1e-9)
    share = np.clip((face.linear - bare) @ axis, 0.0, 1.0)
    near = binary_dilation(face.coverage > 0, iterations=2)
    return np.where(near, share, 0.0).astype(np.float32)


def _decorated(face: Face) -> Figure:
    """Share of the face that is inked; half a working pixel either way along every edge of the ink is uncertain."""
    ink = face.coverage[face.inner] > 0.5
    inked = (face.coverage > 0.5) & face.inner
    edge_px = float((inked[:, 1:] != inked[:, :-1]).sum() + (inked[1:] != inked[:-1]).sum()) * np.pi / 4
    return Figure(_short(float(ink.mean())), "share", _short(min(0.5 * edge_px / ink.size, 0.5)))


def _line_width(face: Face, relative_sd: float) -> Figure:
    """Lower quartile, median and upper quartile of the widths of strokes."""
    widths = stroke_widths(face, of_ink=True)
    if widths.size < LEAST_STROKE_MM * FINE_PX_PER_MM:
        return UNKNOWN_MM
    quartiles = np.quantile(widths, [0.25, 0.5, 0.75])
    strokes = max(1.0, widths.size / FINE_PX_PER_MM / 4.0)
    # Standard error of a quantile from the quartiles of a roughly normal spread, and of the scale.
    own = 1.2533 * (quartiles[2] - quartiles[0]) / 1.349 / np.sqrt(strokes)
    sd = np.hypot(np.hypot(own, 0.02 * quartiles), relative_sd * quartiles)
    return Figure(_list(quartiles), "mm", _list(sd))


def _length(value_mm: float, sd_mm: float, relative_sd: float) -> Figure:
    return Figure(_short(value_mm), "mm", _short(float(np.hypot(sd_mm, relative_sd * value_mm))))


def _chips(lab: Sequence[float]) -> Json:
    """Three chips, each with its distance: never one alone."""
    return [{"chip": near.chip, "de": round(near.de, 2)} for near in nearest_chips(lab)]


def _short(number: float | None) -> float | None:
    return None if number is None else float(f"{number:.5g}")


def _angle(direction_deg: float) -> float:
    return round(direction_deg, 1) % 180.0


def _list(numbers: Sequence[float] | np.ndarray) -> list[Json]:
    return [float(f"{float(number):.5g}") for number in numbers]
