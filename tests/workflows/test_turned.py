"""Sherds shown rim up, and copies of photographs for the screen."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image

from motifs.workflows import correct
from motifs.workflows.check import check_collection
from motifs.workflows.pictures import (
    COPY_SIDES_PX,
    THUMBNAIL_PX_PER_MM,
    photo_copies,
    picture_key,
    sherd_pictures,
    small_pictures,
    turned,
)
from motifs.workflows.sheets import sorting_sheet
from motifs.workflows.sorting import LotSorting, PlacedSherd
from tests.workflows.conftest import LOT

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.pictures import SherdPicture

A, B = f"{LOT}-001", f"{LOT}-002"


def alpha(picture: SherdPicture) -> np.ndarray:
    with Image.open(io.BytesIO(picture.webp)) as image:
        return np.asarray(image)[..., 3] > 127


def trimmed(mask: np.ndarray) -> np.ndarray:
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    return mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


def draw(cat: Catalogue, number: str) -> SherdPicture:
    ((_, picture),) = small_pictures(cat, [cat.sherd(number)])
    return picture


@pytest.mark.parametrize(("turn_deg", "quarters"), [(90, 3), (180, 2), (270, 1)])
def test_a_quarter_turn_is_exact(turn_deg: int, quarters: int, cat: Catalogue) -> None:
    """numpy's rot90 turns against the clock; three of its quarters are one with the clock."""
    before = trimmed(alpha(draw(cat, A)))
    correct.set_rim_up(cat, [A], turn_deg, by="test")
    assert np.array_equal(trimmed(alpha(draw(cat, A))), np.rot90(before, quarters))


def test_what_lies_at_the_rim_comes_up() -> None:
    """A dot on the right of the middle is the rim: the turn that the arrow gives brings it to the top."""
    image = Image.new("RGBA", (101, 101), (0, 0, 0, 255))
    image.putpixel((95, 50), (255, 255, 255, 255))
    from motifs.imaging import rim_up_deg

    upright = np.asarray(turned(image, rim_up_deg((50, 50), (95, 50))).convert("L"))
    y, x = np.unravel_index(int(upright.argmax()), upright.shape)
    assert (x, y) == (50, 5)


def test_any_angle_keeps_area_and_scale(cat: Catalogue) -> None:
    before = alpha(draw(cat, A)).sum()
    correct.set_rim_up(cat, [A], 37.5, by="test")
    picture = draw(cat, A)
    after = alpha(picture)
    assert after.sum() == pytest.approx(before, rel=0.01)
    assert picture.width_mm == pytest.approx(after.shape[1] / THUMBNAIL_PX_PER_MM)
    ((_, large),) = sherd_pictures(cat, [cat.sherd(A)], px_per_mm=8.0)
    assert alpha(large).sum() == pytest.approx(4 * before, rel=0.01)
    assert large.width_mm == pytest.approx(picture.width_mm, abs=1.0)


def test_turning_needs_no_new_files_and_leaves_no_orphans(cat: Catalogue) -> None:
    sherd = cat.sherd(A)
    draw(cat, A)
    files = sorted(cat.derived_folder.rglob("*"))
    correct.set_rim_up(cat, [A], 90, by="test")
    draw(cat, A)
    assert sorted(cat.derived_folder.rglob("*")) == files
    assert check_collection(cat, by="test").is_sound
    assert picture_key(cat.sherd(A)) != picture_key(sherd)
    correct.set_rim_up(cat, [A], 0, by="test")
    assert picture_key(cat.sherd(A)) == picture_key(sherd)


def test_sheets_show_sherds_rim_up(cat: Catalogue) -> None:
    placed = tuple(PlacedSherd(number, 0, 0.9, None) for number in (A, B))
    sorting = LotSorting(LOT, 1, (1, 1), placed, ())
    before = np.asarray(Image.open(sorting_sheet(cat, sorting)))
    correct.set_rim_up(cat, [A], 90, by="test")
    after = np.asarray(Image.open(sorting_sheet(cat, sorting)))
    assert before.shape != after.shape or (before != after).any()


def test_copies_of_a_photograph_are_kept_and_made_again(cat: Catalogue) -> None:
    photo = cat.photos(LOT)[0]
    copies = photo_copies(cat, photo)
    sizes = [Image.open(io.BytesIO(jpeg)).size for jpeg in (copies.small, copies.screen, copies.detail)]
    assert max(sizes[0]) == COPY_SIDES_PX[0]
    assert sizes[1:] == [(photo.width_px, photo.height_px)] * 2  # never enlarged
    files = sorted((cat.derived_folder / "screen").rglob("*.jpg"))
    assert len(files) == len(COPY_SIDES_PX)
    files[0].write_bytes(files[0].read_bytes()[:-5])
    assert photo_copies(cat, photo) == copies
    assert check_collection(cat, by="test").is_sound
    cat.photo_file(photo).unlink()
    assert photo_copies(cat, photo) == copies  # what was kept is shown all the same
