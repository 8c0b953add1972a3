"""Practice lots as the program itself sees them: rendered, compressed, read, cut and measured, with their true vessels."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from motifs.errors import PhotoError
from motifs.evidence import KnownLot, measure_sherd
from motifs.imaging import cut_crop, read_photo, read_tray
from motifs.practice import FAMILIES, family_split, make_lot
from motifs.practice.camera import jpeg_bytes
from motifs.records import CueReading

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from motifs.records import SherdCrop, TrayReading

LEAST_IOU = 0.5
KINDS = {"different": (0.0, 0.0), "look-alike": (0.4, 0.6), "near-identical": (0.9, 1.0)}
"""Range of `alike` of each kind of lot."""


@dataclass(frozen=True, slots=True)
class LotOrder:
    """A lot to render. split: whose motif families are used."""

    kind: str
    seed: int
    pots: int
    split: str
    sherds: int = 60

    @property
    def name(self) -> str:
        """A name of the lot's own."""
        return f"practice-{self.kind}-{self.pots}x{self.sherds}-{self.seed}"


@dataclass(frozen=True, slots=True)
class SeenSherd:
    """One sherd of a rendered lot as found, with its true pot and the motifs it shows (share by family)."""

    crop: SherdCrop
    photo: int
    pot: int
    families: dict[str, float]


def orders(count: int, first_seed: int, split: str) -> list[LotOrder]:
    """Lots of all kinds in turn: mostly two pots, some of one, three and four."""
    kinds, pots = tuple(KINDS), (2, 3, 2, 4, 2, 1, 2, 3)
    return [
        LotOrder(kinds[i % 3], first_seed + i, pots[i % 8], split, sherds=25 * pots[i % 8] + 10) for i in range(count)
    ]


def see_lot(order: LotOrder) -> list[SeenSherd]:
    """Render a lot, write its photographs as JPEG, and read them as intake would."""
    cv2.setNumThreads(1)
    rng = np.random.default_rng([31, order.seed])
    low, high = KINDS[order.kind]
    families = [family for family in FAMILIES if family_split(family.name) == order.split]
    chosen = [families[int(i)] for i in rng.choice(len(families), min(len(families), 12), replace=False)]
    lot = make_lot(order.seed, order.pots, float(rng.uniform(low, high)), sherds=order.sherds, families=chosen)
    seen: list[SeenSherd] = []
    with TemporaryDirectory() as folder:
        for number, photo in enumerate(lot.photos):
            file = Path(folder) / f"{number}.jpg"
            file.write_bytes(jpeg_bytes(photo.rgb, int(rng.integers(78, 96))))
            seen += read_sherds(file, number, photo)
    return seen


def read_sherds(file: Path, number: int, photo: Any) -> Iterator[SeenSherd]:
    """Sherds of a photograph as intake finds them, with the truth under each; none where it reads no tray."""
    image = read_photo(file)
    try:
        reading: TrayReading = read_tray(image)
    except PhotoError:
        return
    for found in reading.sherds:
        match = truth_under(found.outline_px, photo.labels)
        if match is not None:
            sherd = next(one for one in photo.sherds if one.number == match)
            crop = cut_crop(image, reading.light, reading.scale, found.outline_px)
            yield SeenSherd(crop, number, sherd.pot, sherd.families)


def truth_under(outline_px: NDArray[np.float32], labels: NDArray[np.int16]) -> int | None:
    """Number of the true sherd under a found outline, or None below LEAST_IOU."""
    mask = np.zeros(labels.shape, np.uint8)
    cv2.fillPoly(mask, [np.rint(outline_px).astype(np.int32)], 1)
    counts = np.bincount(labels[(mask > 0) & (labels > 0)])
    if not counts.any():
        return None
    best = int(counts.argmax())
    union = int(mask.sum()) + int((labels == best).sum()) - int(counts[best])
    return best if counts[best] >= LEAST_IOU * union else None


def known_lot(seen: Sequence[SeenSherd], vectors: Sequence[dict[str, NDArray[np.float32]]]) -> KnownLot:
    """Readings of a lot with its true vessels."""
    readings = tuple(measure_sherd(sherd.crop, vector) for sherd, vector in zip(seen, vectors, strict=True))
    return KnownLot(readings, tuple(sherd.pot for sherd in seen), tuple(sherd.photo for sherd in seen))


def save_lots(lots: dict[str, KnownLot], path: Path) -> None:
    """Write readings and truth as JSON."""
    document = {
        name: {
            "vessels": lot.vessels,
            "photos": lot.photos,
            "readings": [{cue: [_short(r.value), _short(r.sd)] for cue, r in sherd.items()} for sherd in lot.readings],
        }
        for name, lot in lots.items()
    }
    path.write_text(json.dumps(document))


def load_lots(path: Path) -> dict[str, KnownLot]:
    """Read what save_lots wrote."""
    return {
        name: KnownLot(
            tuple({cue: CueReading(tuple(v), tuple(s)) for cue, (v, s) in sherd.items()} for sherd in row["readings"]),
            tuple(row["vessels"]),
            tuple(row["photos"]),
        )
        for name, row in json.loads(path.read_text()).items()
    }


def _short(values: Sequence[float]) -> list[float]:
    return [float(f"{value:.5g}") for value in values]
