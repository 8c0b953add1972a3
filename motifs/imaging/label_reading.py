"""Catalogue numbers on paper slips beside sherds, or inked on them: read, and given to the nearest sherd. Proposals only.

Text is found and recognised by RapidOCR (the PP-OCRv4 networks, shipped in its wheel, run by ONNX Runtime; no network).
It is imported when something is to be read, not before: loading takes a second. Every line of text is recognised both
ways up; where both make sense (``66`` and ``99``), the other reading is told as well. Text stays text.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np
from scipy.optimize import linear_sum_assignment

from motifs.imaging.outline import as_outline

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from motifs.records import PhotoImage

    Corners = NDArray[np.float64]

DETECT_SIDE_PX: Final = 2000
"""Text is looked for on a photograph reduced to this side, and recognised at full resolution."""

LEAST_CONFIDENCE: Final = 0.6
RIVAL_SHARE: Final = 0.8
"""An upside-down reading this share as confident as the better one is told as well."""

SLIP_REACH: Final = 1.0
"""A slip lies no farther from its sherd than this share of the median sherd's size; common practice, no source."""

CLEAR_MARGIN: Final = 0.6
"""A slip is clearly its sherd's if the next sherd is farther by this ratio."""

_NUMBER: Final = re.compile(r"(?=.*\d)[0-9A-Za-z][0-9A-Za-z ./\-]{0,23}")
_DASHES: Final = str.maketrans({"–": "-", "—": "-", "−": "-", "‐": "-", "一": "-", "_": "-", "：": "-"})
_MARGIN: Final = 0.12
_EITHER_WAY_UP: Final = frozenset("01689HINOSXZ-/. ")
"""Signs that are signs upside down as well."""


@dataclass(frozen=True, slots=True)
class ReadText:
    """One line of text. confidence: 0..1, the network's own. rival: the line read upside down, where that makes sense.

    box_px: (4, 2) float64, corners in px of the photograph in the reading direction, from the upper left of the text.
    """

    text: str
    confidence: float
    rival: str | None
    box_px: Corners


@dataclass(frozen=True, slots=True)
class LabelledSherd:
    """A number given to a sherd. sherd: its place in the outlines given. is_clear: no other sherd lies nearly as near."""

    sherd: int
    read: ReadText
    is_inked: bool
    is_clear: bool


def read_texts(photo: PhotoImage) -> tuple[ReadText, ...]:
    """Read every line of text on a photograph that could be a catalogue number, surest first.

    Figures of a scale bar or ruler (three or more in a row that count up) are left out.
    """
    engine = _engine()
    height, width = photo.rgb.shape[:2]
    factor = min(1.0, DETECT_SIDE_PX / max(height, width))
    bgr = np.asarray(cv2.cvtColor(photo.rgb, cv2.COLOR_RGB2BGR), np.uint8)
    small = bgr if factor == 1.0 else cv2.resize(bgr, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    boxes, _ = engine(small, use_det=True, use_cls=False, use_rec=False)
    lines = [_recognised(bgr, np.asarray(box, np.float64) / factor) for box in boxes or ()]
    found = [line for line in lines if line is not None and line.confidence >= LEAST_CONFIDENCE]
    counting = _counting_up(found)
    kept = [line for place, line in enumerate(found) if place not in counting]
    return tuple(sorted(kept, key=lambda line: -line.confidence))


def read_line(line: NDArray[np.uint8]) -> tuple[str, float]:
    """Recognise one level line of text, (h, w, 3) uint8 sRGB: as it stands, and the network's confidence, 0..1."""
    answer, _ = _engine()(np.ascontiguousarray(line[..., ::-1]), use_det=False, use_cls=False, use_rec=True)
    return (str(answer[0][0]), float(answer[0][1])) if answer else ("", 0.0)


def label_sherds(
    texts: Sequence[ReadText], outlines: Sequence[ArrayLike], *, with_slips: bool = True
) -> tuple[LabelledSherd, ...]:
    """Give numbers to sherds: one inked on a sherd is its own, a slip is that of the sherd it lies nearest to.

    Slips are shared out one to one at least total distance. A sherd with an inked number needs no slip.

    Parameters
    ----------
    texts
        As read.
    outlines
        (N, 2) polygons in px of the same photograph.
    with_slips
        False: only what is inked on the sherds.

    Returns
    -------
    tuple of LabelledSherd
        In the order of the outlines; a sherd without a number is absent.
    """
    polygons = [as_outline(outline) for outline in outlines]
    if not polygons or not texts:
        return ()
    distance = np.array([[_distance(text.box_px, polygon) for polygon in polygons] for text in texts])
    labelled: dict[int, LabelledSherd] = {}
    for place, text in enumerate(texts):
        inside = int(distance[place].argmin())
        if distance[place, inside] < 0 and inside not in labelled:
            labelled[inside] = LabelledSherd(inside, text, is_inked=True, is_clear=True)
    slips = [place for place in range(len(texts)) if distance[place].min() >= 0]
    bare = [place for place in range(len(polygons)) if place not in labelled]
    if with_slips and slips and bare:
        for sherd, place, is_clear in _share_out(distance[np.ix_(slips, bare)], _reach(polygons)):
            labelled[bare[sherd]] = LabelledSherd(bare[sherd], texts[slips[place]], is_inked=False, is_clear=is_clear)
    return tuple(labelled[place] for place in sorted(labelled))


def as_number(text: str) -> str | None:
    """Return what was read as a catalogue number in plain signs, or None if it cannot be one.

    Full-width signs become plain ones, every dash a hyphen, and gaps around them close; nothing else changes: ``0012`` stays ``0012``, and an O
    is not made a zero.
    """
    plain = " ".join(unicodedata.normalize("NFKC", text).translate(_DASHES).split()).strip(" .-/")
    # The reader sets points and dashes apart in small type; nobody writes them so.
    plain = re.sub(r" *([./-]) *", r"\1", plain)
    if not _NUMBER.fullmatch(plain) or re.search(r"\d\s*(?:cm|mm)\b", plain, re.IGNORECASE):
        return None
    parts = plain.split(" ")
    return None if len(parts) >= 3 and all(part.isdigit() for part in parts) else plain


@cache
def _engine() -> Any:
    """The recogniser, on one thread so that it gives the same everywhere and leaves the other cores alone."""
    from rapidocr_onnxruntime import RapidOCR  # type: ignore[import-untyped]  # noqa: PLC0415  (slow; only when needed)

    return RapidOCR(intra_op_num_threads=1, inter_op_num_threads=1, max_side_len=DETECT_SIDE_PX)


def _recognised(bgr: NDArray[np.uint8], box: Corners) -> ReadText | None:
    """Recognise one line both ways up; None where neither could be a number."""
    corners = _lengthwise(box)
    line = _cut(bgr, corners)
    readings = []
    for turned, order in ((line, (0, 1, 2, 3)), (np.ascontiguousarray(line[::-1, ::-1]), (2, 3, 0, 1))):
        text, confidence = read_line(np.ascontiguousarray(turned[..., ::-1]))
        number = as_number(text)
        if number is not None:
            readings.append((confidence, number, corners[list(order)]))
    if not readings:
        return None
    readings.sort(key=lambda reading: -reading[0])
    doubtful = [reading for reading in readings if _reads_either_way(reading, readings[0])]
    if len(doubtful) == 2:
        # Most labels lie the way the photograph is looked at.
        doubtful.sort(key=lambda reading: reading[2][0, 0] - reading[2][1, 0])
        return ReadText(doubtful[0][1], doubtful[0][0], doubtful[1][1], doubtful[0][2])
    confidence, number, placed = readings[0]
    return ReadText(number, confidence, None, placed)


def _reads_either_way(reading: tuple[float, str, Corners], best: tuple[float, str, Corners]) -> bool:
    """Whether a reading is about as sure as the best, and both are of signs that are signs upside down as well."""
    if reading is best:
        return set(best[1]) <= _EITHER_WAY_UP
    return reading[1] != best[1] and reading[0] >= RIVAL_SHARE * best[0] and set(reading[1]) <= _EITHER_WAY_UP


def _lengthwise(box: Corners) -> Corners:
    """Corners of a box from its upper left on, clockwise, so that its longer side comes first."""
    first, second = np.hypot(*(box[1] - box[0])), np.hypot(*(box[2] - box[1]))
    return box if first >= second else np.roll(box, -1, axis=0)


def _cut(bgr: NDArray[np.uint8], corners: Corners) -> NDArray[np.uint8]:
    """Cut a line of text out at full resolution, level, with a little margin; 48 px high at least."""
    length, height = float(np.hypot(*(corners[1] - corners[0]))), float(np.hypot(*(corners[2] - corners[1])))
    zoom = max(1.0, 48.0 / max(height, 1.0))
    edge = _MARGIN * height * zoom
    wide, high = max(2, round(length * zoom + 2 * edge)), max(2, round(height * zoom + 2 * edge))
    goal = np.array([[edge, edge], [wide - edge, edge], [wide - edge, high - edge], [edge, high - edge]], np.float32)
    move = cv2.getPerspectiveTransform(corners.astype(np.float32), goal)
    return np.asarray(
        cv2.warpPerspective(bgr, move, (wide, high), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    )


def _counting_up(texts: Sequence[ReadText]) -> set[int]:
    """Places of figures that count up evenly along a line, three or more: those of a ruler or scale bar."""
    figures = [
        (int(text.text), place) for place, text in enumerate(texts) if text.text.isdigit() and len(text.text) <= 3
    ]
    figures.sort()
    counting: set[int] = set()
    for (a, i), (b, j) in pairwise(figures):
        for c, k in figures:
            if not b - a == c - b > 0:
                continue
            first, second, third = (texts[place].box_px.mean(axis=0) for place in (i, j, k))
            if np.hypot(*(second - first - (third - second))) < 0.25 * np.hypot(*(second - first)):
                counting |= {i, j, k}
    return counting


def _distance(box: Corners, polygon: NDArray[np.float32]) -> float:
    """Px from a box of text to an outline; negative if its middle lies inside."""
    middle = box.mean(axis=0)
    contour = polygon.reshape(-1, 1, 2)
    if cv2.pointPolygonTest(contour, (float(middle[0]), float(middle[1])), False) > 0:
        return -1.0
    edges = [(box[i] * (1 - t) + box[(i + 1) % 4] * t) for i in range(4) for t in (0.0, 0.25, 0.5, 0.75)]
    return max(0.0, min(-cv2.pointPolygonTest(contour, (float(x), float(y)), True) for x, y in edges))


def _reach(polygons: Sequence[NDArray[np.float32]]) -> float:
    sizes = [float(np.ptp(polygon, axis=0).max()) for polygon in polygons]
    return SLIP_REACH * float(np.median(sizes))


def _share_out(distance: NDArray[np.float64], reach: float) -> list[tuple[int, int, bool]]:
    """(sherd, slip, is clear) of least total distance, none beyond reach. distance: (slips, sherds)."""
    # Beyond reach all are equally far, so that a stray text does not push a slip from its sherd.
    rows, columns = linear_sum_assignment(np.minimum(distance, 2 * reach))
    shared = []
    for slip, sherd in zip(rows.tolist(), columns.tolist(), strict=True):
        own = float(distance[slip, sherd])
        if own <= reach:
            others = np.delete(distance[slip], sherd)
            shared.append((sherd, slip, bool(not others.size or own <= CLEAR_MARGIN * float(others.min()))))
    return shared
