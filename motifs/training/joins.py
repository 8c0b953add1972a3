"""Fit models/joins.json: practice pots broken, photographed and read as intake reads them, with the contacts that are true."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.errors import PhotoError
from motifs.evidence.colour import linear_to_lab
from motifs.evidence.surface import read_face
from motifs.imaging import cut_crop, read_photo, read_tray
from motifs.joins import SherdEdge, fields_on_outline
from motifs.joins.fits import save_model
from motifs.joins.fitting import JoinFigures, figures, fit_joins, known_joins
from motifs.practice import make_lot
from motifs.practice.camera import jpeg_bytes
from motifs.training.lots import truth_under

if TYPE_CHECKING:
    from motifs.joins import JoinModel
    from motifs.practice import PracticeLot, PracticePhoto

ALIKE: Final = (0.5, 1.0, 0.0)
SHERDS: Final = 60

Pieces = "tuple[list[SherdEdge], dict[tuple[int, int], float]]"


def fit_join_model(out: Path, count: int, first_seed: int) -> JoinModel:
    """Render and read `count` lots from `first_seed` on, fit, and write `out`."""
    lots = [known_joins(*see_pieces(first_seed + place)) for place in range(count)]
    last = first_seed + count - 1
    model = fit_joins(lots, f"python -m motifs.training joins: {count} practice lots, seeds {first_seed} to {last}")
    save_model(model, out)
    return model


def measure_join_model(model: JoinModel, count: int, first_seed: int) -> list[JoinFigures]:
    """Figures of a model on practice lots from `first_seed` on, which it should not have seen."""
    seen = [see_pieces(first_seed + place) for place in range(count)]
    return [figures(known_joins(*one), model, one[1]) for one in seen]


def see_pieces(seed: int, sherds: int = SHERDS) -> tuple[list[SherdEdge], dict[tuple[int, int], float]]:
    """Sherds of a rendered lot of two pots as the program finds them, and true contacts (mm) by places (a < b)."""
    lot, keys, edges = see_lot(seed, sherds)
    return edges, _true_contacts(lot, {key: place for place, key in enumerate(keys)})


def see_lot(seed: int, sherds: int = SHERDS) -> tuple[PracticeLot, list[tuple[int, int]], list[SherdEdge]]:
    """Render a lot of two pots and find its sherds: the lot, and (pot, fragment) and edge of every sherd found."""
    cv2.setNumThreads(1)
    lot = make_lot(seed, 2, ALIKE[seed % len(ALIKE)], sherds=sherds)
    rng = np.random.default_rng([32, seed])
    found: dict[tuple[int, int], SherdEdge] = {}
    with TemporaryDirectory() as folder:
        for number, photo in enumerate(lot.photos):
            file = Path(folder) / f"{number}.jpg"
            file.write_bytes(jpeg_bytes(photo.rgb, int(rng.integers(78, 96))))
            found.update(_found(file, photo))
    return lot, list(found), list(found.values())


def _found(file: Path, photo: PracticePhoto) -> list[tuple[tuple[int, int], SherdEdge]]:
    """Edges on one photograph by (pot, fragment); none where it cannot be read or shows no scale."""
    image = read_photo(file)
    try:
        reading = read_tray(image)
    except PhotoError:
        return []
    if reading.scale is None:
        return []
    out = []
    for found in reading.sherds:
        match = truth_under(found.outline_px, photo.labels)
        if match is None:
            continue
        sherd = next(one for one in photo.sherds if one.number == match)
        crop = cut_crop(image, reading.light, reading.scale, found.outline_px)
        outline_mm = found.outline_px / reading.scale.px_per_mm
        face = read_face(crop)
        fields = None
        if face is not None:
            ink = face.coverage if face.ink_is_known else None
            lab = linear_to_lab(face.linear).astype(np.float32)
            fields = fields_on_outline(outline_mm, crop.mask, crop.px_per_mm, ink=ink, lab=lab, face=face.inner)
        out.append(((sherd.pot, sherd.fragment), SherdEdge(outline_mm, fields)))
    return out


def _true_contacts(lot: PracticeLot, places: dict[tuple[int, int], int]) -> dict[tuple[int, int], float]:
    contacts = {}
    for (pot, fragment), place in places.items():
        for other, length in lot.fragments[pot][fragment].neighbours.items():
            beside = places.get((pot, other))
            if beside is not None and place < beside:
                contacts[(place, beside)] = length
    return contacts
