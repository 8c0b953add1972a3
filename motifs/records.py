"""Frozen records that travel between the packages. Arrays are read-only by convention.

Colours are sRGB (8 bit) or CIE L*a*b* (D65, 2 degree observer); lengths carry their unit in the name.
Pixel coordinates are (x, y) of the oriented photograph, pixel centres at whole numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

CROP_PX_PER_MM = 10.0
"""Every derived crop is resampled to this many pixels a millimetre."""

NOISE = -1
"""Label of a sherd that is left unassigned."""


@dataclass(frozen=True, slots=True)
class PhotoImage:
    """A decoded photograph.

    rgb: (H, W, 3) uint8 sRGB, EXIF orientation already applied. sha256: of the file's bytes. focal_px: focal length in px
    where the camera wrote it down, else None; no other metadata is kept, so that no place can leak.
    """

    rgb: NDArray[np.uint8]
    sha256: str
    file_name: str
    focal_px: float | None = None


@dataclass(frozen=True, slots=True)
class Plane:
    """How the plane of the sherds lies in a photograph taken at a slant: px of the oriented photograph to mm in the plane.

    A pixel is first straightened, c + (p - c) (1 + k1 r^2 + k2 r^4) with r = |p - c| / radius_px and c = centre_px
    (radial lens distortion), then taken by a homography to mm. to_mm: its nine numbers, row by row.
    """

    to_mm: tuple[float, ...]
    centre_px: tuple[float, float]
    radius_px: float
    k1: float = 0.0
    k2: float = 0.0


@dataclass(frozen=True, slots=True)
class Scale:
    """Scale in the plane of the sherds. relative_sd is the standard uncertainty of px_per_mm over px_per_mm.

    plane: where it is known, lengths go through it, and px_per_mm is that of the middle of the mat.
    """

    px_per_mm: float
    source: str  # "bar" | "typed" | "mat" | "ruler"
    relative_sd: float
    plane: Plane | None = None


@dataclass(frozen=True, slots=True)
class LightField:
    """Illumination of one photograph, estimated from its backdrop and references.

    gain: (h, w, 3) float32 coarse grid over the whole photograph, in linear sRGB; a pixel's corrected
    linear value is linear / gain (bilinear between grid centres). reference: what fixed the cast, one of "card", "mat",
    "bar", "backdrop", "none". backdrop_lab: L*a*b* of the backdrop after correction. residual_de: CIEDE2000 spread of the
    backdrop after correction (median). colour: what a colour card adds, or None. reference_de: median CIEDE2000 of the
    reference patches after correction, None where no patches were seen.
    """

    gain: NDArray[np.float32]
    reference: str
    backdrop_lab: tuple[float, float, float]
    residual_de: float
    colour: ColourFit | None = None
    reference_de: float | None = None


@dataclass(frozen=True, slots=True)
class ColourFit:
    """Tone curve and mixing of channels, applied after the gain: reflectance = matrix @ (light ** exponent) + offset.

    exponent, offset: three numbers; matrix: nine, row by row; all in linear sRGB.
    """

    exponent: tuple[float, ...]
    matrix: tuple[float, ...]
    offset: tuple[float, ...] = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class FoundSherd:
    """One sherd found on a tray photograph. outline_px: (N, 2) float32 closed polygon, N >= 3."""

    outline_px: NDArray[np.float32]
    area_px: float
    touches_frame: bool
    look: str | None  # why an analyst should look at this outline, or None


@dataclass(frozen=True, slots=True)
class TrayReading:
    """What was read off a tray photograph.

    crumbs: pieces below the stated size, counted only. lot, site: what the code of a photo mat says, not checked; or None.
    """

    scale: Scale | None
    light: LightField
    sherds: tuple[FoundSherd, ...]
    crumbs: int
    warnings: tuple[str, ...]
    lot: str | None = None
    site: str | None = None


@dataclass(frozen=True, slots=True)
class SherdCrop:
    """A sherd cut out, light-corrected, at fixed px/mm.

    image: (h, w, 3) uint8 sRGB; pixels outside the mask keep the (corrected) backdrop. mask: (h, w) bool.
    px_per_mm: CROP_PX_PER_MM, also where the photograph has no scale (then is_scaled is False and the
    scale is nominal). source_px_per_mm: resolution of the photograph, so that upsampling is known.
    """

    image: NDArray[np.uint8]
    mask: NDArray[np.bool_]
    px_per_mm: float
    source_px_per_mm: float
    is_scaled: bool


@dataclass(frozen=True, slots=True)
class LocalFeatures:
    """Descriptors of the cells of a sherd's decoration, in one turn of it.

    places_px: (N, 2) float32, cell centres in px of the crop. seen_px: (N, 2) float32, the same places on the turned
    (and mirrored) picture, at the crop's px/mm. descriptors: (N, d) float32, rows of unit length. cell_px: side of a
    cell in px of the crop. turn_deg: how far the picture was turned, anticlockwise.
    """

    places_px: NDArray[np.float32]
    seen_px: NDArray[np.float32]
    descriptors: NDArray[np.float32]
    cell_px: float
    turn_deg: float = 0.0
    is_mirrored: bool = False


@dataclass(frozen=True, slots=True)
class CueReading:
    """One cue measured on one sherd: values with their standard uncertainties, same length."""

    value: tuple[float, ...]
    sd: tuple[float, ...]


SherdEvidence = "Mapping[str, CueReading]"
"""Readings by cue name; a cue that could not be measured is simply absent (unknown)."""


@dataclass(frozen=True, slots=True)
class CueBlock:
    """One cue over a whole lot of n sherds, in calibrated units: within one vessel every component has variance `spread`.

    x: (n, d) float64, rows of absent readings are zero. present: (n,) bool. spread: (n,) variance of a reading, 1 for a
    usual sherd, more for a crumb. between: (d,) variance of vessel means among the vessels of one lot. photo_sd: (d,) standard
    deviation of what one photograph adds to all its sherds. tail: degrees of freedom of the heavy-tailed (Student) spread.
    say: 0..1, how much of its log likelihood a cue is given where a sherd is placed (below 1 for what varies within a vessel in
    lumps). number_say: 0..1, the same where the number of vessels is weighed: lumps (zones of decoration, fire clouds) look like
    vessels of their own. seen_here: how many readings of this very lot (surely joined pairs) stand behind `spread`.
    """

    name: str
    x: NDArray[np.float64]
    present: NDArray[np.bool_]
    spread: NDArray[np.float64]
    between: NDArray[np.float64]
    photo_sd: NDArray[np.float64]
    tail: float
    say: float = 1.0
    number_say: float = 1.0
    seen_here: float = 0.0


@dataclass(frozen=True, slots=True)
class Links:
    """The analyst's word: pairs of positions in the lot's order of sherds. open: pairs that she could not tell, not to be asked again."""

    same: tuple[tuple[int, int], ...] = ()
    different: tuple[tuple[int, int], ...] = ()
    open: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class CueVote:
    """What one cue says of a comparison: natural-log likelihood ratio, > 0 for the same vessel, and why."""

    cue: str
    llr: float
    why: str


@dataclass(frozen=True, slots=True)
class Assignment:
    """Where one sherd stands. vessel: 0.. or None (unassigned). support: 0..1."""

    vessel: int | None
    support: float
    next_best: int | None
    votes: tuple[CueVote, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """The pair (positions in the lot) whose answer would change most."""

    a: int
    b: int
    why: str


@dataclass(frozen=True, slots=True)
class VesselSorting:
    """A proposal for a whole lot; assignments in the lot's order of sherds."""

    vessels: int
    vessels_range: tuple[int, int]
    assignments: tuple[Assignment, ...]
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Term:
    """One entry of the vocabulary. kind: one of the kinds of tags; label and synonyms are unique within a kind, in any case.

    broader: labels of the same kind. examples: catalogue numbers. drawing: lines in the unit square, y downwards, written as
    the path data of an SVG with M, L and Z only. exact_match: URI of the same concept in a published thesaurus. A motif is
    described three ways, each free text and each optional, since no one tree holds them: style_type, style_element, symmetry.
    """

    kind: str
    label: str
    definition: str = ""
    synonyms: tuple[str, ...] = ()
    broader: tuple[str, ...] = ()
    period_note: str = ""
    region_note: str = ""
    examples: tuple[str, ...] = ()
    drawing: str = ""
    exact_match: str = ""
    style_type: str = ""
    style_element: str = ""
    symmetry: str = ""
