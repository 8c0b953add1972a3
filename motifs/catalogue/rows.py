"""Typed rows that come out of a catalogue. Frozen; texts are as typed; times are UTC in ISO 8601."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias, Union

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from motifs.records import LightField, Scale

Json: TypeAlias = Union[bool, int, float, str, list["Json"], dict[str, "Json"], None]  # noqa: UP007 (forward names)
"""What a JSON document can hold (no NaN, no infinity)."""

BoxPx: TypeAlias = tuple[int, int, int, int]
"""x, y, width, height in px of the sherd's crop."""

TAG_KINDS = ("motif", "element", "layout", "technique", "position", "treatment", "symmetry", "condition")
"""What a tag can say something about."""


@dataclass(frozen=True, slots=True)
class SiteRow:
    """One site."""

    name: str
    lots: int  # how many lots it has


@dataclass(frozen=True, slots=True)
class LotRow:
    """One lot: a provenience as bagged."""

    name: str
    site: str | None
    sherds: int  # sherds that are kept (not dropped, not merged into another)
    photos: int


@dataclass(frozen=True, slots=True)
class PhotoRow:
    """One photograph; the original lies untouched under its content hash."""

    photo_id: int
    sha256: str
    file_name: str  # as it was called when it came in
    lot: str
    width_px: int  # of the oriented photograph
    height_px: int
    scale: Scale | None
    light: LightField | None = field(compare=False)
    crumbs: int  # pieces too small to catalogue, counted only
    warnings: tuple[str, ...]
    added_at: str


@dataclass(frozen=True, slots=True)
class SherdRow:
    """One sherd.

    outline_px: (N, 2) float32 closed polygon, N >= 3, on the oriented photograph. content_key: sha256 (hex)
    of photo, outline, scale and light; whatever is derived from the sherd is kept under it, so that a
    changed outline or scale can never meet an old crop, vector or measurement. The rim-up angle is no part of it: it
    says how the sherd is shown, not what it is.
    """

    number: str  # catalogue number, <lot>-<NNN>, never reused
    lot: str
    site: str | None
    photo_id: int
    photo_name: str
    outline_px: NDArray[np.float32] = field(compare=False)
    area_mm2: float | None
    max_dimension_mm: float | None
    look: str | None  # why an analyst should look at this outline
    state: str  # "kept" | "dropped" | "merged"
    merged_into: str | None
    content_key: str
    added_at: str
    rim_up_deg: float | None = None  # turn the photograph so far clockwise, 0 to below 360, and the rim is up
    outline_by: str | None = None  # the person who drew the outline; None: as the program found it


@dataclass(frozen=True, slots=True)
class Measurement:
    """One measured value with its standard uncertainty: a number, a list of numbers, or any JSON."""

    value: Json
    sd: Json = None


@dataclass(frozen=True, slots=True)
class LinkRow:
    """The analyst's word on a pair of sherds of one lot."""

    link_id: int
    lot: str
    a: str
    b: str
    relation: str  # "same" | "different"
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class AttributionRow:
    """A person's judgement. vessel None: the person left the sherd unassigned on purpose."""

    sherd: str
    vessel: str | None
    by: str
    note: str
    at: str


@dataclass(frozen=True, slots=True)
class ProposalRow:
    """What the program proposed for a lot.

    lot_version: Catalogue.version(lot) when it was saved. is_current: nothing a proposal rests on (sherds,
    outlines, scale, links, attributions, tags) has changed since.
    """

    proposal_id: int
    lot: str
    kind: str
    encoder_tags: tuple[str, ...]
    parameters: dict[str, Json]
    result: Json
    lot_version: int
    is_current: bool
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class TagRow:
    """A term put on a sherd, or on a box of its crop. confidence: 0..1 or None (not stated)."""

    tag_id: int
    sherd: str
    term: str
    kind: str  # one of TAG_KINDS
    box_px: BoxPx | None
    confidence: float | None
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class EventRow:
    """One line of the history. change: the transaction it belongs to; undo takes back a whole change.

    before, after: the columns that changed, [{"table", "id", "row"}, ...].
    """

    event_id: int
    change: int
    at: str
    by: str
    verb: str
    lot: str | None
    subject: str  # what it happened to: a sherd's number, a photo's name, a lot, a site
    before: Json = field(compare=False)
    after: Json = field(compare=False)
    is_undoable: bool
    is_undone: bool


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing `check` found wrong. kind: one of FINDING_KINDS."""

    kind: str
    subject: str
    message: str
    is_repaired: bool = False


FINDING_KINDS = (
    "missing original",
    "altered original",
    "orphan original",
    "missing derived",
    "damaged derived",
    "orphan derived",
    "unfinished file",
    "broken reference",
    "damaged catalogue",
)
