"""An exercise on paper: sherds at true size to cut out and tape, and the sheet for the class."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

from motifs.workflows.plates import Piece, plates
from motifs.workflows.report_parts import Listing, Report, Section, Shown, Words
from motifs.workflows.report_pdf import report_pdf

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from motifs.workflows.exercise import ExercisePiece, OpenExercise

JPEG_QUALITY = 90
MARGIN_MM = 1.5
SUPERSAMPLED = 4

CLASS_SHEET = (
    "For pots broken on purpose: new, commercial, unglazed pots only, bought for this. Never artefacts, never anything from a site, a "
    "museum or a family's past.",
    "Decorate two or more pots alike, let them dry, then break them: each pot in a cloth bag, laid on a board, one tap with a hammer. Whoever "
    "breaks wears eye protection and closed shoes; the others stand back. Gloves for the pieces: edges cut.",
    "Keep the bag over the dust; damp-wipe the table afterwards. No food or drink there, hands washed at the end.",
    "Number every piece on its inside in pencil before the pots are mixed, and keep a list of which pot it came from: that is the answer.",
    "Take a few pieces away, mix the rest, photograph them with a scale bar, and sort: paste, wall, line and curve before the motif.",
    "Lay out dry first. Tape across the join, on the inside, with low-tack tape; then a washable glue that comes off in water (white school "
    "glue, wheat paste). Nothing that cannot be undone, and no solvents in a classroom.",
    "Younger classes: an adult does the breaking, elsewhere. School rules and the law of the place come first.",
)

PAPER_WORK = (
    "Print at 100 %, without fitting to the page, and check the bar with a ruler: it must be 50 mm long.",
    "Write its number on the back of every piece before it is cut out; scissors or a knife on a cutting mat, cutting away from the hand.",
    "Sort the pieces into piles, one for each pot; leave aside what you cannot tell. Write the piles into piles.csv, then mark them.",
    "Then lay each pile out dry, tape it together from the inside, and look where pieces are missing.",
)


@dataclass(frozen=True, slots=True)
class PiecePicture:
    """A sherd of an exercise cut out of its photograph. image: RGBA. width_mm, height_mm: of the whole picture."""

    image: Image.Image
    width_mm: float
    height_mm: float

    def webp(self) -> bytes:
        """The picture as WebP, transparent around the sherd."""
        stream = io.BytesIO()
        self.image.save(stream, "WEBP", quality=82, method=2)
        return stream.getvalue()


def piece_pictures(exercise: OpenExercise) -> Iterator[tuple[ExercisePiece, PiecePicture]]:
    """Cut every sherd out of its photograph, at the photograph's own resolution."""
    for place, file in enumerate(exercise.photos, start=1):
        with Image.open(file) as opened:
            photo = opened.convert("RGB")
        for piece in exercise.pieces:
            if piece.photo == place:
                yield piece, _cut(photo, piece)


def cut_out_pdf(exercise: OpenExercise, scratch: Path) -> bytes:
    """Every sherd at true size with its number, a bar of 50 mm, and the rules for a class; `scratch` holds pictures meanwhile."""
    pieces = []
    for piece, shown in piece_pictures(exercise):
        paper = Image.new("RGB", shown.image.size, (255, 255, 255))
        paper.paste(shown.image, mask=shown.image.getchannel("A"))
        file = scratch / f"{piece.key}.jpg"
        paper.save(file, "JPEG", quality=JPEG_QUALITY)
        pieces.append(Piece(piece.key, file, shown.width_mm, shown.height_mm, True))
    sheets = plates(pieces, f"Exercise {exercise.name}", reduction=1.0)
    sections = (
        Section("What to do", (Listing(PAPER_WORK),)),
        *(Section(f"Sheet {number}", (Shown(sheet),)) for number, sheet in enumerate(sheets, start=1)),
        Section("For the class", (Words("Before real pots are broken", is_caution=True), Listing(CLASS_SHEET))),
    )
    subtitle = f"{len(pieces)} sherds at true size, to cut out, sort and tape together"
    facts = (("Made from", "rendered pots; everything is invented"), ("Sherds", str(len(pieces))))
    return report_pdf(Report(f"Exercise {exercise.name}", subtitle, facts, f"seed {exercise.answer['seed']}", sections))


def _cut(photo: Image.Image, piece: ExercisePiece) -> PiecePicture:
    """The sherd within its outline, with a little room around it."""
    points = np.array(piece.outline_px)
    margin = MARGIN_MM / piece.mm_per_px
    low = np.floor(points.min(axis=0) - margin).astype(int)
    high = np.ceil(points.max(axis=0) + margin).astype(int)
    image = photo.crop((int(low[0]), int(low[1]), int(high[0]), int(high[1])))
    # Drawn larger and taken together, so that the edge is smooth.
    wide = (image.width * SUPERSAMPLED, image.height * SUPERSAMPLED)
    mask = Image.new("L", wide, 0)
    ImageDraw.Draw(mask).polygon([tuple(p) for p in ((points - low + 0.5) * SUPERSAMPLED).tolist()], fill=255)
    image.putalpha(mask.resize(image.size, Image.Resampling.BOX))
    return PiecePicture(image, image.width * piece.mm_per_px, image.height * piece.mm_per_px)
