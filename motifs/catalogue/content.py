"""What a sherd's derived files and measurements depend on, as one key; and light fields as JSON."""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from motifs.errors import InputError
from motifs.records import ColourFit, LightField, Plane, Scale

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray
    from sqlalchemy import RowMapping

OUTLINE_DECIMALS = 2
"""Outlines are kept to 0.01 px: far below what an outline is good for, and exact in float32 up to 20,000 px."""


def outline_list(outline_px: NDArray[np.float32]) -> list[list[float]]:
    """Return an outline as [[x, y], ...] in px, to 0.01 px.

    Raises
    ------
    InputError
        Not (N, 2) with N >= 3, or not finite.
    """
    outline = np.asarray(outline_px, dtype=np.float64)
    if outline.ndim != 2 or outline.shape[1] != 2 or len(outline) < 3:
        raise InputError(f"an outline of shape {outline.shape} is no polygon; give at least three x, y pairs in px")
    if not np.isfinite(outline).all():
        raise InputError("an outline has a corner that is not a number; draw it again")
    rounded: list[list[float]] = outline.round(OUTLINE_DECIMALS).tolist()
    return rounded


def light_json(light: LightField | None) -> dict[str, Any] | None:
    """Return a light field as JSON; the grid as base64 of little-endian float32, so that it comes back exactly."""
    if light is None:
        return None
    gain = np.ascontiguousarray(light.gain, dtype="<f4")
    # What an older version did not know is left out where there is none, so that its keys stay valid.
    extra = {"colour": None if light.colour is None else asdict(light.colour), "reference_de": light.reference_de}
    return {
        "gain": base64.b64encode(gain.tobytes()).decode("ascii"),
        "gain_shape": list(gain.shape),
        "reference": light.reference,
        "backdrop_lab": [float(value) for value in light.backdrop_lab],
        "residual_de": float(light.residual_de),
        **{name: value for name, value in extra.items() if value is not None},
    }


def light_field(stored: Mapping[str, Any] | None) -> LightField | None:
    """Return the light field that `light_json` was given."""
    if stored is None:
        return None
    gain = np.frombuffer(base64.b64decode(stored["gain"]), dtype="<f4").reshape(stored["gain_shape"])
    l_star, a_star, b_star = stored["backdrop_lab"]
    colour = stored.get("colour")
    return LightField(
        gain.astype(np.float32),
        stored["reference"],
        (l_star, a_star, b_star),
        stored["residual_de"],
        colour=None if colour is None else ColourFit(**{name: tuple(numbers) for name, numbers in colour.items()}),
        reference_de=stored.get("reference_de"),
    )


def scale_columns(scale: Scale | None) -> dict[str, Any]:
    """Return a scale as columns of a photo's row.

    Raises
    ------
    InputError
        Not above zero, or not finite.
    """
    if scale is None:
        return {"scale_px_per_mm": None, "scale_source": None, "scale_relative_sd": None, "scale_plane": None}
    if not (np.isfinite(scale.px_per_mm) and scale.px_per_mm > 0):
        raise InputError(f"a scale of {scale.px_per_mm} px per mm is not possible; give a number above zero")
    return {
        "scale_px_per_mm": float(scale.px_per_mm),
        "scale_source": scale.source,
        "scale_relative_sd": float(scale.relative_sd),
        "scale_plane": None if scale.plane is None else _plane_json(scale.plane),
    }


def _plane_json(plane: Plane) -> dict[str, Any]:
    return {name: list(value) if isinstance(value, tuple) else float(value) for name, value in asdict(plane).items()}


def _plane_of(stored: Mapping[str, Any] | None) -> Plane | None:
    if stored is None:
        return None
    x, y = stored["centre_px"]
    return Plane(tuple(stored["to_mm"]), (x, y), stored["radius_px"], stored["k1"], stored["k2"])


def scale_of(row: RowMapping) -> Scale | None:
    """Return the scale kept in the columns of a photo's row."""
    if row["scale_px_per_mm"] is None:
        return None
    return Scale(
        row["scale_px_per_mm"], row["scale_source"], row["scale_relative_sd"], plane=_plane_of(row["scale_plane"])
    )


def content_key(photo: RowMapping | dict[str, Any], outline: list[list[float]]) -> str:
    """Return the sha256 (64 hex digits) of all that a crop of the sherd is cut from.

    Parameters
    ----------
    photo
        Row of the photo: its hash, scale and light count.
    outline
        As kept, to 0.01 px.
    """
    parts = {
        "photo": photo["sha256"],
        "px_per_mm": photo["scale_px_per_mm"],
        "light": photo["light"],
        "outline_px": outline,
    }
    if photo["scale_plane"] is not None:
        parts["plane"] = photo["scale_plane"]
    return hashlib.sha256(json.dumps(parts, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
