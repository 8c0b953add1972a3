"""Numbers read off a lot's photographs: proposed, then accepted or refused by a person; nothing is renamed before."""

import io
import shutil

import pytest
from PIL import Image

from motifs.catalogue import Catalogue
from motifs.errors import InputError, NameRefused, UnknownName
from motifs.workflows.labels_read import accept_labels, read_labels, refuse_labels
from tests.imaging.slips import numbered_tray

LOT = "B-03"
PERSON = "M. Oduya"
TRAY = numbered_tray(3, sherds=4)


@pytest.fixture(scope="module")
def made_once(tmp_path_factory):
    """A lot whose tray has a slip beside each of four sherds; read once."""
    folder = tmp_path_factory.mktemp("labels") / "collection"
    content = io.BytesIO()
    Image.fromarray(TRAY.photo.rgb).save(content, "PNG")
    with Catalogue.open(folder, create=True) as cat:
        with cat.transaction(by="test"):
            cat.ensure_lot(LOT)
            photo = cat.add_photo(LOT, content.getvalue(), file_name="tray.png", width_px=1720, height_px=1300)
            for outline in TRAY.outlines:
                cat.add_sherd(photo.photo_id, outline)
        read_labels(cat, LOT, by="program")
    return folder


@pytest.fixture
def labelled(made_once, tmp_path):
    with Catalogue.open(shutil.copytree(made_once, tmp_path / "collection")) as cat:
        yield cat


def test_what_was_read_is_proposed_and_nothing_renamed(labelled):
    assert [sherd.number for sherd in labelled.sherds(LOT)] == [f"{LOT}-00{n}" for n in (1, 2, 3, 4)]
    labels = labelled.labels(LOT, state="proposed")
    assert [label.text for label in labels] == list(TRAY.numbers)
    assert {label.place for label in labels} == {"slip"}


def test_accepting_numbers_the_sherds_and_undo_takes_it_back(labelled):
    first, second = f"{LOT}-001", f"{LOT}-002"
    done = accept_labels(labelled, LOT, {first: None, second: "0012"}, by=PERSON)
    assert done == ((first, TRAY.numbers[0]), (second, "0012"))
    assert [sherd.number for sherd in labelled.sherds(LOT)][:2] == [TRAY.numbers[0], "0012"]
    assert {(label.sherd, label.state) for label in labelled.labels(LOT)} >= {
        (TRAY.numbers[0], "accepted"),
        ("0012", "refused"),
    }
    with labelled.transaction(by=PERSON):
        labelled.undo(LOT)
    assert labelled.sherds(LOT)[0].number == first
    assert len(labelled.labels(LOT, state="proposed")) == 4


def test_a_refused_reading_is_not_proposed_again(labelled):
    refuse_labels(labelled, LOT, [f"{LOT}-003"], by=PERSON)
    again = read_labels(labelled, LOT, by="program")
    assert [(label.sherd, label.state) for label in again.labels if label.sherd == f"{LOT}-003"] == [
        (f"{LOT}-003", "refused")
    ]
    assert (again.without, again.unclear) == ((), ())


def test_what_cannot_be_accepted(labelled):
    first, second = f"{LOT}-001", f"{LOT}-002"
    refuse_labels(labelled, LOT, [first], by=PERSON)
    for numbers, error in (
        ({first: None}, InputError),
        ({second: f"{LOT}-003"}, NameRefused),
        ({second: "7", f"{LOT}-003": "7"}, InputError),
        ({second: ""}, NameRefused),
        ({f"{LOT}-099": "7"}, UnknownName),
    ):
        with pytest.raises(error):
            accept_labels(labelled, LOT, numbers, by=PERSON)
    with pytest.raises(InputError, match="nothing is proposed"):
        refuse_labels(labelled, LOT, [first], by=PERSON)
    assert [sherd.number for sherd in labelled.sherds(LOT)] == [f"{LOT}-00{n}" for n in (1, 2, 3, 4)]


def test_a_lot_without_photographs_and_no_such_lot(labelled):
    with labelled.transaction(by="test"):
        labelled.ensure_lot("empty")
    assert read_labels(labelled, "empty", by="program").labels == ()
    with pytest.raises(UnknownName):
        read_labels(labelled, "nowhere", by="program")
