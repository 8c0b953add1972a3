"""A collection in which every text that a person can give is hostile, and a reader that finds what would run."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from motifs.catalogue import Catalogue, Citation
from motifs.records import Term
from motifs.workflows.comparanda_lists import keep_comparandum
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.treatment import FIELDS, add_entry
from motifs.workflows.vectors import comparanda_encoder, vector_key
from tests.workflows.tray import tray_image

if TYPE_CHECKING:
    from pathlib import Path

RUNS = "<img src=x onerror=window.hit=1>"
# A name takes no slash, no backslash and no two dots; everything else that could do harm is in it.
NAME = f"""=1+1"'>{RUNS}<b>$x$ :red[y] `z` {{{{7*7}}}} &lt;"""
LOT, SITE = f"lot {NAME}", f"@site {NAME}"
TERM, VESSEL, NUMBER = f"-term {NAME}", f"+vessel {NAME}", f"=no {NAME}"
NOTE = f'=HYPERLINK("http://x.example","y")</text></svg></style></title></textarea><script>window.hit=1</script>{RUNS}\n- [a](javascript:window.hit=1)'
PERSON = f"M. {NAME}"
PLACE = (51.0, 12.0, 34.5)
CAMERA = "ZZ-camera-of-nobody"


def photo_with_a_place(path: Path, seed: int) -> Path:
    """A tray whose file says where and with what it was taken."""
    exif = Image.Exif()
    exif[0x010F] = CAMERA
    exif.get_ifd(0x8825).update({1: "N", 2: PLACE, 3: "W", 4: (1.0, 2.0, 3.25)})
    tray_image(seed).save(path, quality=95, exif=exif)
    return path


def hostile_collection(folder: Path) -> Path:
    """Make it; return its folder."""
    trays = [photo_with_a_place(folder / f"{RUNS[:-1]} ={seed}.jpg", seed) for seed in (1, 2)]
    with Catalogue.open(folder / "collection", create=True) as cat:
        catalogue_photos(cat, read_photos(trays[:1]), lot=LOT, site=SITE, by=PERSON)
        catalogue_photos(cat, read_photos(trays[1:]), lot="other", site="Marl Hill", by=PERSON)
        numbers = [sherd.number for sherd in cat.sherds()]
        spec = comparanda_encoder()
        rows = np.random.default_rng(5).normal(size=(len(numbers), spec.dim)).astype(np.float32)
        rows /= np.linalg.norm(rows, axis=1, keepdims=True)
        with cat.transaction(by=PERSON):
            cat.save_vectors(vector_key(spec), dict(zip(numbers, rows, strict=True)))
            cat.add_terms([Term("motif", TERM, NOTE, synonyms=(f"s {NAME}",), period_note=NOTE, symmetry=NOTE)])
            cat.renumber({numbers[0]: NUMBER})
            for number in (NUMBER, numbers[1], numbers[4]):
                cat.add_tag(number, TERM, "motif")
            cat.add_tag(NUMBER, NAME, "condition")
            cat.attribute(NUMBER, VESSEL, note=NOTE)
            cat.attribute(numbers[1], VESSEL)
            cat.tell(LOT, numbers[2], numbers[3], "different")
            texts = {"note": NOTE, "fabric": NAME, "period": NAME, "form": NOTE, "storage place": NAME}
            cat.save_record(NUMBER, LOT, texts)
            cat.save_record(f"written {NAME}", LOT, texts)
        keep_comparandum(cat, f"list {NAME}", NUMBER, numbers[4], NOTE, by=PERSON)
        cited = Citation(author=NAME, title=NOTE, piece=NAME)
        keep_comparandum(cat, f"list {NAME}", NUMBER, None, NOTE, citation=cited, by=PERSON)
        kind = next(kind for kind, fields in FIELDS.items() if "answer" not in fields)
        add_entry(cat, LOT, VESSEL, kind, dict.fromkeys(FIELDS[kind], NAME), done_on="2026-03-01", person=NAME, note=NOTE, by=PERSON)  # fmt: skip
    return folder / "collection"


@dataclass
class Danger(HTMLParser):
    """Reads HTML or SVG and keeps whatever in it would run or leave the page."""

    found: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Scripts, frames, handlers, addresses that run, pictures of nowhere."""
        if tag in {"script", "iframe", "object", "embed", "base", "meta http-equiv", "foreignobject", "textarea"}:
            self.found.append(f"<{tag}>")
        for name, value in attrs:
            address = re.sub(r"[\s\0]", "", value or "").casefold()
            if name.startswith("on") or name == "srcdoc":
                self.found.append(f"{tag} {name}={value}")
            if name in {"href", "src", "xlink:href", "action"} and address.startswith(("javascript:", "vbscript:", "data:text", "x")):  # fmt: skip
                self.found.append(f"{tag} {name}={value}")


def dangers(markup: str) -> list[str]:
    """What would run; empty for nothing."""
    reader = Danger()
    reader.feed(markup)
    reader.close()
    return reader.found
