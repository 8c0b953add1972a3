"""An outline in a JSON file: as `intake --json` prints it, or the bare list of points."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from motifs.errors import InputError

if TYPE_CHECKING:
    from pathlib import Path

    from motifs.catalogue import Json, SherdRow

MOST_BYTES = 20_000_000
"""An outline of more is none; some 500,000 points."""


def read_outline_file(path: Path) -> list[Any]:
    """Points of an outline: ``[[x, y], ...]`` or ``{"outline_px": [[x, y], ...]}``, in px of the oriented photograph.

    Only that it is a list is looked at here; whether it is an outline is told where it is used.

    Raises
    ------
    InputError
        No such file, unreadable, too large, not JSON, or without an outline.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputError(f"'{path}' is larger than an outline can be; give a JSON file of one outline")
        document = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        raise InputError(f"no file '{path}'; give a JSON file with an outline") from error
    except OSError as error:
        raise InputError(f"'{path}' cannot be read ({error.strerror}); give a JSON file with an outline") from error
    except (ValueError, RecursionError) as error:
        raise InputError(f"'{path}' is not JSON; write the outline as [[x, y], ...] in px of the photograph") from error
    points = document.get("outline_px") if isinstance(document, dict) else document
    if not isinstance(points, list):
        raise InputError(f"'{path}' holds no outline; write it as [[x, y], ...] or {{\"outline_px\": [[x, y], ...]}}")
    return points


def outline_document(sherd: SherdRow) -> dict[str, Json]:
    """One sherd's outline and how it stands, as JSON; its `outline_px` can be read back by `read_outline_file`."""
    return {
        "sherd": sherd.number,
        "lot": sherd.lot,
        "photo": sherd.photo_id,
        "state": sherd.state,
        "outline_px": [[round(float(x), 2), round(float(y), 2)] for x, y in sherd.outline_px],
        "area_mm2": sherd.area_mm2,
        "max_dimension_mm": sherd.max_dimension_mm,
        "rim_up_deg": sherd.rim_up_deg,
        "drawn_by": sherd.outline_by,
        "look": sherd.look,
    }
