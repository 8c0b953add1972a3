"""Pictures to look at: true outlines in green, found ones in red, on the photograph."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from tests.outsider.truth import PhotoTruth

GREEN, RED = (0, 200, 0), (0, 0, 255)
SHOWN_PX = 1600


def write_overlay(photo: Path, truth: PhotoTruth, reading: dict[str, Any], target: Path) -> None:
    """Write a PNG, 1600 px wide at most."""
    picture = cv2.imread(str(photo))
    if picture is None:
        raise OSError(f"{photo.name} cannot be read as an image")
    for outline, colour in [
        *((sherd.outline_px, GREEN) for sherd in truth.sherds),
        *((sherd["outline_px"], RED) for sherd in reading["sherds"]),
    ]:
        _draw(picture, outline, colour)
    shrink = min(1.0, SHOWN_PX / picture.shape[1])
    target.parent.mkdir(parents=True, exist_ok=True)
    cv2.imwrite(str(target), cv2.resize(picture, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA))


def _draw(picture: Any, outline: Sequence[Sequence[float]], colour: tuple[int, int, int]) -> None:
    points = np.round(np.asarray(outline, float) * 16).astype(np.int32)
    cv2.polylines(picture, [points], True, colour, max(2, picture.shape[1] // 900), cv2.LINE_AA, 4)
