"""The photo mat: printed for a lot, and what its code says set against what was typed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from motifs.catalogue import check_name
from motifs.errors import InputError
from motifs.imaging.mat_design import mat_design

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from motifs.workflows.intake import ReadPhoto


def print_mat(size: str, file: Path, *, lot: str | None = None, site: str | None = None) -> None:
    """Write the mat of a paper size as a PDF at true size.

    Parameters
    ----------
    size : "A4" or "A3".
    file : where to; must not be there yet.
    lot, site : printed on it and held in its square code.

    Raises
    ------
    InputError
        No such size, a name that cannot be one or is too long for the code, or the file is there or cannot be written.
    """
    content = mat_content(size, lot=lot, site=site)
    try:
        with file.open("xb") as stream:
            stream.write(content)
    except FileExistsError as error:
        raise InputError(f"{file} is there already; name another file with --out") from error
    except OSError as error:
        raise InputError(f"{file} cannot be written ({error.strerror}); name another file with --out") from error


def mat_content(size: str, *, lot: str | None = None, site: str | None = None) -> bytes:
    """The same PDF as bytes; InputError for a size or a name that cannot be."""
    design = mat_design(size)
    for what, name in (("lot", lot), ("site", site)):
        if name is not None:
            check_name(name, what)
    # Not before it is needed: the PDF library takes its time.
    from motifs.imaging.mat_page import mat_pdf  # noqa: PLC0415

    return mat_pdf(design, lot=lot, site=site)


def settle_lot(
    photos: Sequence[ReadPhoto], *, lot: str | None, site: str | None
) -> tuple[tuple[ReadPhoto, ...], str, str | None]:
    """Lot and site of the photographs: as typed, else as the codes of their mats say.

    What was typed wins over a code that says otherwise, and the photograph gets a warning.

    Returns
    -------
    tuple
        The photographs with their warnings, the lot, and the site or None.

    Raises
    ------
    InputError
        No lot was typed, and the codes name none, or more than one; or what a code names cannot be a name.
    """
    settled_lot = lot if lot is not None else _only(_named(photos, "lot"), "lot")
    # A sheet that was printed for another lot says nothing of this one's site.
    sites = _named([photo for photo in photos if photo.reading and photo.reading.lot in {None, settled_lot}], "site")
    settled_site = sites[0] if site is None and len(sites) == 1 else site
    for what, name in (("lot", settled_lot), ("site", settled_site)):
        if name is not None:
            check_name(name, what)
    proposals = {
        "lot": None if lot is not None else settled_lot,
        "site": None if site is not None else settled_site,
    }
    warned = tuple(_warned(photo, {"lot": settled_lot, "site": settled_site}, proposals) for photo in photos)
    return warned, settled_lot, settled_site


def _named(photos: Sequence[ReadPhoto], what: str) -> list[str]:
    """Names of lots or sites that the codes give, each once."""
    names = [getattr(photo.reading, what) for photo in photos if photo.reading is not None]
    return list(dict.fromkeys(name for name in names if name))


def _only(names: list[str], what: str) -> str:
    if not names:
        raise InputError(f"no {what} was given, and no photograph shows a mat whose code names one; give --{what}")
    if len(names) > 1:
        listed = " and ".join(f"'{name}'" for name in names[:3])
        raise InputError(f"the mats' codes name the {what}s {listed}; take them in one by one, or give --{what}")
    return names[0]


def _warned(photo: ReadPhoto, settled: dict[str, str | None], proposals: dict[str, str | None]) -> ReadPhoto:
    if photo.reading is None:
        return photo
    lines = []
    for what, name in settled.items():
        said = getattr(photo.reading, what)
        if said and name is not None and said != name:
            lines.append(
                f"the mat's code says {what} '{said}', but '{name}' was taken; check the sheet under the sherds"
            )
        elif said and said == proposals[what]:
            lines.append(f"{what} '{said}' was taken from the mat's code")
    return replace(photo, reading=replace(photo.reading, warnings=(*photo.reading.warnings, *lines)))
