"""The list of sherds as JSON text: what is kept as JSON already goes through as it stands.

Taking fifty thousand sherds apart and putting them together again took six times as long. Says word for word what
`listing.list_sherds` says; a test holds the two together.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from json.encoder import encode_basestring_ascii as quoted
from typing import TYPE_CHECKING, Final

from motifs.catalogue import Measurement
from motifs.workflows.evidence_json import EVIDENCE
from motifs.workflows.figure_words import has_slip
from motifs.workflows.figures import FIGURES, LISTED, QUALITY, flags_of, shown_basis, unpack_figures
from motifs.workflows.listing import CUE_UNITS, LONGEST_LISTED, listed_rim

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from motifs.catalogue import Catalogue, Json, ListedTag, RimRow, SherdHead
    from motifs.records import Scale
    from motifs.workflows.figures import Figure

Texts = tuple[str, str]
"""A value and its uncertainty as JSON."""

CUE: Final = re.compile(r'"(\w+)":\[\[([^\[\]]*)\],\[([^\[\]]*)\]\]')
"""A cue of `evidence_json.pack_evidence`: name, values, uncertainties; both are flat lists of numbers."""
QUALITY_VALUE: Final = re.compile(rf'"({"|".join(QUALITY)})":\{{"value":(-?[\d.]+(?:e[-+]?\d+)?),')


@dataclass(frozen=True, slots=True)
class ListedTexts:
    """The JSON documents of all sherds of a list, in catalogue order; unmeasured: how many lack figures."""

    documents: tuple[str, ...]
    unmeasured: int


def list_as_json(cat: Catalogue, lot: str | None = None) -> ListedTexts:
    """Kept sherds of the whole collection or of one lot (UnknownName), each as a JSON document."""
    listed, scales, rims = cat.catalogue_list(lot), cat.scales(), cat.rims(lot)
    documents, unmeasured = [], 0
    for head in listed.heads:
        measured, tags = listed.measured.get(head.number, {}), listed.tags.get(head.number, ())
        figures, flags = _figures(measured.get(FIGURES), scales[head.photo_id], tags)
        unmeasured += figures is None
        parts = [f'"area_mm2": {_number(head.area_mm2)}, "max_dimension_mm": {_number(head.max_dimension_mm)}']
        parts += _measured(measured, scales[head.photo_id])
        parts += [figures] if figures else []
        parts += _rim(rims.get(head.number))
        documents.append(_document(head, ", ".join(parts), tags, flags))
    return ListedTexts(tuple(documents), unmeasured)


def _document(head: SherdHead, measurements: str, tags: Sequence[ListedTag], flags: tuple[str, ...]) -> str:
    told = ", ".join(
        f'{{"term": {quoted(tag.term)}, "kind": {quoted(tag.kind)}, "by": {quoted(tag.by)}}}' for tag in tags
    )
    return (
        f'{{"sherd": {quoted(head.number)}, "lot": {quoted(head.lot)}, "site": {_text(head.site)}, '
        f'"photo": {quoted(head.photo_name)}, "measurements": {{{measurements}}}, "tags": [{told}], '
        f'"look": {_text(head.look)}, "flags": {json.dumps(flags) if flags else "[]"}}}'
    )


def _figures(kept: Texts | None, scale: Scale | None, tags: Sequence[ListedTag]) -> tuple[str | None, tuple[str, ...]]:
    """What stands between the braces of the figures, and the flags; None where there are none that hold."""
    if kept is None:
        return None, ()
    basis, is_slipped = shown_basis(scale), has_slip(tags)
    start, found, end = kept[0].partition(f'","{LISTED}":{{')
    if found and not is_slipped and kept[0].isascii() and start.startswith(f'{{"basis":"{basis}'):
        text = end[:-2]
        quality: dict[str, Json] = {name: float(value) for name, value in QUALITY_VALUE.findall(text)}
        return text, flags_of(quality)
    figures = unpack_figures(Measurement(json.loads(kept[0]), json.loads(kept[1])), basis)
    return (None, ()) if figures is None else _figures_anew(figures, is_slipped=is_slipped)


def _figures_anew(figures: Mapping[str, Figure], *, is_slipped: bool) -> tuple[str, tuple[str, ...]]:
    # What a face shows where nothing is drawn is the slip, where a person said that there is one.
    shown = {
        name.replace("paste_", "slip_") if is_slipped else name: {"value": one.value, "unit": one.unit, "sd": one.sd}
        for name, one in figures.items()
    }
    return json.dumps(shown)[1:-1], flags_of({name: figures[name].value for name in QUALITY if name in figures})


def _measured(measured: Mapping[str, Texts], scale: Scale | None) -> Iterator[str]:
    """The cues of sorting, and whatever else was measured."""
    for name in sorted(measured):
        value, sd = measured[name]
        if name == EVIDENCE:
            yield from _cues(value, scale)
        elif name != FIGURES:
            yield f'{quoted(name)}: {{"value": {_ascii(value)}, "unit": null, "sd": {_ascii(sd)}}}'


def _cues(kept: str, scale: Scale | None) -> Iterator[str]:
    for name, values, sds in CUE.findall(kept):
        if values.count(",") < LONGEST_LISTED:
            unit = CUE_UNITS.get(name, "1")
            sd = _with_scale(values, sds, scale) if unit == "mm" and scale is not None else sds
            yield f'"{name}": {{"value": [{values}], "unit": "{unit}", "sd": [{sd}]}}'


def _with_scale(values: str, sds: str, scale: Scale) -> str:
    pairs = zip(values.split(","), sds.split(","), strict=False)
    return ", ".join(repr(math.hypot(float(sd), scale.relative_sd * float(value))) for value, sd in pairs)


def _rim(rim: RimRow | None) -> list[str]:
    return [] if rim is None else [json.dumps(listed_rim(rim))[1:-1]]


def _number(value: float | None) -> str:
    return "null" if value is None else repr(value)


def _text(value: str | None) -> str:
    return "null" if value is None else quoted(value)


def _ascii(text: str) -> str:
    return text if text.isascii() else json.dumps(json.loads(text))
