"""A collection folder: `catalogue.sqlite`, `photos/` (originals), `derived/` (rebuildable), `exports/`.

    with Catalogue.open(folder, create=True) as cat:
        with cat.transaction(by="M. Oduya"):
            cat.ensure_lot("B-03", site="Kestrel Ford")
            ...

Reading needs nothing; every write happens inside `cat.transaction(by=...)` (RuntimeError otherwise) and
is everything or nothing, files included. Transactions nest (the inner one joins the outer one); reads inside
one see its writes. One Catalogue may be shared by threads, each with its own transaction.
Sherds are named by catalogue number, lots and sites by name, photos by photo_id or sha256.
Wherever a name is unknown: UnknownName with the nearest names. Names given to `ensure_*`: NameRefused.
"""

from __future__ import annotations

from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.catalogue.rows import (
    FINDING_KINDS,
    TAG_KINDS,
    AttributionRow,
    BoxPx,
    EventRow,
    Finding,
    Json,
    LinkRow,
    LotRow,
    Measurement,
    PhotoRow,
    ProposalRow,
    SherdRow,
    SiteRow,
    TagRow,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from types import TracebackType

    import numpy as np
    from numpy.typing import NDArray

    from motifs.records import LightField, Scale, SherdCrop

__all__ = [
    "FINDING_KINDS",
    "TAG_KINDS",
    "AttributionRow",
    "BoxPx",
    "Catalogue",
    "EventRow",
    "Finding",
    "Json",
    "LinkRow",
    "LotRow",
    "Measurement",
    "PhotoRow",
    "ProposalRow",
    "SherdRow",
    "SiteRow",
    "TagRow",
    "check_name",
]


def check_name(name: str, what: str = "name") -> str:
    """Return the name (NFC, otherwise as typed) or raise NameRefused: empty, '/', '\\\\', '..', control or
    invisible direction characters, leading or trailing space, over 200 characters. `what`: "lot", "site"...
    """
    raise NotImplementedError


class Catalogue:
    """One collection folder, open."""

    folder: Path
    photos_folder: Path
    derived_folder: Path
    exports_folder: Path

    @classmethod
    def open(cls, folder: Path | str, *, create: bool = False, url: str | None = None) -> Catalogue:
        """Open (or create) a collection. url: a SQLAlchemy URL of a PostgreSQL database in place of
        catalogue.sqlite. CollectionError (no collection there), CollectionNotWritable, CollectionTooNew,
        CollectionDamaged (not a catalogue).
        """
        raise NotImplementedError

    def close(self) -> None: ...
    def __enter__(self) -> Catalogue:
        raise NotImplementedError

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None: ...

    def transaction(self, by: str) -> AbstractContextManager[None]:
        """Everything or nothing; one transaction is one change in the history, and one step of undo."""
        raise NotImplementedError

    def version(self, lot: str | None = None) -> int:
        """A number that grows with every change (of the lot): a key for caches."""
        raise NotImplementedError

    # --- sites and lots -----------------------------------------------------------------------------
    def ensure_site(self, name: str) -> SiteRow:
        """The site of that name, made if it is not there."""
        raise NotImplementedError

    def sites(self) -> tuple[SiteRow, ...]:
        raise NotImplementedError

    def ensure_lot(self, name: str, site: str | None = None) -> LotRow:
        """The lot, made if it is not there (and its site). A lot without a site gets it; a lot of another
        site: InputError. Lot names are unique in the collection.
        """
        raise NotImplementedError

    def lot(self, name: str) -> LotRow:
        raise NotImplementedError

    def lots(self, site: str | None = None) -> tuple[LotRow, ...]:
        raise NotImplementedError

    def set_site(self, lot: str, site: str | None) -> LotRow:
        """Give the lot to another site (made if it is not there), or to none. Undoable."""
        raise NotImplementedError

    # --- photos -------------------------------------------------------------------------------------
    def add_photo(
        self,
        lot: str,
        content: bytes | Path,
        *,
        file_name: str,
        width_px: int,
        height_px: int,
        scale: Scale | None = None,
        light: LightField | None = None,
        crumbs: int = 0,
        warnings: Sequence[str] = (),
        sha256: str | None = None,
    ) -> PhotoRow:
        """Keep the original and its record. The same photo again in the same lot: the row that is there,
        unchanged (ask photo_by_hash first, and do not add its sherds again). In another lot: InputError.
        sha256 given and different (file changed since it was read): PhotoUnreadable.
        """
        raise NotImplementedError

    def photo(self, photo_id: int) -> PhotoRow:
        raise NotImplementedError

    def photo_by_hash(self, sha256: str) -> PhotoRow | None:
        raise NotImplementedError

    def photos(self, lot: str | None = None) -> tuple[PhotoRow, ...]:
        """In the order they came in."""
        raise NotImplementedError

    def photo_file(self, photo: PhotoRow) -> Path:
        """Path of the original; CollectionDamaged if it is not there."""
        raise NotImplementedError

    def set_scale(
        self, photo_id: int, scale: Scale | None, measures: Mapping[str, tuple[float | None, float | None]]
    ) -> PhotoRow:
        """Change the scale. measures: (area_mm2, max_dimension_mm) of every kept sherd of the photo. Undoable."""
        raise NotImplementedError

    def move_photo(self, photo_id: int, lot: str) -> PhotoRow:
        """Give a photo and its sherds to another lot. Numbers stay; links across lots are withdrawn. Undoable."""
        raise NotImplementedError

    # --- sherds -------------------------------------------------------------------------------------
    def add_sherd(
        self,
        photo_id: int,
        outline_px: NDArray[np.float32],
        *,
        area_mm2: float | None = None,
        max_dimension_mm: float | None = None,
        look: str | None = None,
    ) -> SherdRow:
        """Catalogue a sherd of the photo's lot under the next number. Outline kept to 0.01 px."""
        raise NotImplementedError

    def sherd(self, number: str) -> SherdRow:
        """Also a dropped or merged one (see its state)."""
        raise NotImplementedError

    def sherds(
        self, lot: str | None = None, *, photo_id: int | None = None, with_dropped: bool = False
    ) -> tuple[SherdRow, ...]:
        """Kept sherds in catalogue order: the lot's order everywhere."""
        raise NotImplementedError

    def replace_outline(
        self,
        number: str,
        outline_px: NDArray[np.float32],
        *,
        area_mm2: float | None = None,
        max_dimension_mm: float | None = None,
        look: str | None = None,
    ) -> SherdRow:
        """Undoable."""
        raise NotImplementedError

    def drop_sherd(self, number: str) -> None:
        """Not a sherd after all: it leaves the lot and stays in the history. Undoable."""
        raise NotImplementedError

    def merge_sherds(
        self,
        numbers: Sequence[str],
        outline_px: NDArray[np.float32],
        *,
        area_mm2: float | None = None,
        max_dimension_mm: float | None = None,
        look: str | None = None,
    ) -> SherdRow:
        """Two or more sherds of one photo become one new sherd with a new number, which takes over their links,
        tags, and their attribution where they agree. InputError, LinksContradict. Undoable.
        """
        raise NotImplementedError

    # --- derived: crops, measurements, vectors (all keyed by SherdRow.content_key) --------------------
    def save_crop(self, number: str, crop: SherdCrop) -> Path:
        """Crop and mask as PNG under derived/; the path of the crop's image."""
        raise NotImplementedError

    def crop(self, number: str) -> SherdCrop | None:
        """The crop as saved for the sherd's present outline, scale and light, or None: cut it again."""
        raise NotImplementedError

    def crop_file(self, number: str) -> Path | None:
        """PNG of the crop, to show, or None."""
        raise NotImplementedError

    def save_measurements(self, measured: Mapping[str, Mapping[str, Measurement]]) -> None:
        """By sherd number, then by name. Same name again: replaced. Never an analyst's judgement."""
        raise NotImplementedError

    def measurements(self, number: str) -> dict[str, Measurement]:
        raise NotImplementedError

    def measurements_of(self, numbers: Iterable[str]) -> dict[str, dict[str, Measurement]]:
        """Every number asked for is in the answer, with {} where nothing valid is there."""
        raise NotImplementedError

    def save_vectors(self, encoder_tag: str, vectors: Mapping[str, NDArray[np.float32]]) -> None:
        """By sherd number, (dim,) each. InputError where dim differs from what the tag already has."""
        raise NotImplementedError

    def vectors(self, encoder_tag: str, numbers: Iterable[str]) -> dict[str, NDArray[np.float32]]:
        """The valid ones only; a number without one is absent."""
        raise NotImplementedError

    # --- the analyst's word ---------------------------------------------------------------------------
    def tell(self, lot: str, a: str, b: str, relation: str) -> int:
        """relation "same" | "different"; the number of links the lot has now. Told again: no change.
        LinksContradict names the chain. InputError: a sherd with itself.
        """
        raise NotImplementedError

    def links(self, lot: str) -> tuple[LinkRow, ...]:
        """Links between kept sherds, oldest first."""
        raise NotImplementedError

    def withdraw(self, lot: str, a: str, b: str) -> int:
        """Take a link back; the number of links left. UnknownName if there is none."""
        raise NotImplementedError

    def attribute(self, number: str, vessel: str | None, *, note: str = "") -> AttributionRow:
        """A person's judgement; replaces the earlier one (history keeps it). Undoable."""
        raise NotImplementedError

    def withdraw_attribution(self, number: str) -> None:
        """Leave the sherd to the proposals again. Undoable."""
        raise NotImplementedError

    def attributions(self, lot: str) -> dict[str, AttributionRow]:
        """By sherd number; a sherd nobody judged is absent."""
        raise NotImplementedError

    def save_proposal(
        self, lot: str, kind: str, *, encoder_tags: Sequence[str], parameters: Mapping[str, Json], result: Json
    ) -> ProposalRow:
        raise NotImplementedError

    def latest_proposal(self, lot: str, kind: str) -> ProposalRow | None:
        raise NotImplementedError

    def add_tag(
        self, number: str, term: str, kind: str, *, box_px: BoxPx | None = None, confidence: float | None = None
    ) -> TagRow:
        """The same tag again: the row that is there. Undoable."""
        raise NotImplementedError

    def remove_tag(self, tag_id: int) -> None:
        """Undoable."""
        raise NotImplementedError

    def tags(self, number: str) -> tuple[TagRow, ...]:
        raise NotImplementedError

    def tags_of(self, numbers: Iterable[str]) -> dict[str, tuple[TagRow, ...]]:
        raise NotImplementedError

    # --- history, upkeep --------------------------------------------------------------------------------
    def history(self, lot: str | None = None, *, limit: int | None = None) -> tuple[EventRow, ...]:
        """Newest first."""
        raise NotImplementedError

    def undo(self, lot: str) -> tuple[EventRow, ...]:
        """Revert the lot's latest change that is undoable and not undone. InputError: nothing to undo."""
        raise NotImplementedError

    def check(
        self, *, repair: bool = False, recut: Callable[[SherdRow], SherdCrop] | None = None
    ) -> tuple[Finding, ...]:
        """What is wrong with the collection. repair mends what is derived (crops through recut), nothing else."""
        raise NotImplementedError

    def backup(self, file: Path | str) -> Path:
        """A consistent copy (catalogue and originals) in one .zip, also while others write. InputError: exists."""
        raise NotImplementedError
