"""Sherds for readers outside: Dublin Core fields, an IIIF Presentation manifest, and pages that open without a server."""

from __future__ import annotations

import html
import json
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.workflows.cells_out import csv_text, guarded
from motifs.workflows.places import rounded_fields

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from motifs.catalogue import Catalogue, RecordRow, SherdRow, TagRow

IIIF_CONTEXT = "http://iiif.io/api/presentation/3/context.json"
PHYSICAL_SCALE = "http://iiif.io/api/annex/services/physdim"
DUBLIN_CORE = (
    "identifier", "title", "type", "format", "subject", "description", "coverage", "creator", "date", "rights", "relation",
)  # fmt: skip
"""Elements of the Dublin Core Metadata Element Set, version 1.1 (ISO 15836-1), that a sherd fills."""

_RIGHTS_URI = re.compile(r"https?://(creativecommons\.org|rightsstatements\.org)/\S+")
_STYLE = (
    "body{font:16px/1.5 sans-serif;margin:2rem auto;max-width:70rem;padding:0 1rem;color:#1c1c1c;background:#fff}"
    "ul{list-style:none;padding:0;display:flex;flex-wrap:wrap;gap:1.5rem}li{width:14rem}"
    "img{max-width:100%;max-height:14rem;background:#f1f1ee}dt{font-weight:bold}dd{margin:0 0 .3rem}"
)


@dataclass(frozen=True, slots=True)
class Card:
    """A sherd for readers. file: of its crop inside the package; px: its width and height; mm_per_px: None without a scale."""

    sherd: SherdRow
    tags: tuple[TagRow, ...]
    fields: dict[str, str]
    file: str
    px: tuple[int, int]
    mm_per_px: float | None


def cards_of(
    cat: Catalogue,
    sherds: Sequence[SherdRow],
    crops: Mapping[str, tuple[str, tuple[int, int], float | None]],
    *,
    exact_places: bool,
) -> list[Card]:
    """Put together what is known of sherds; crops: (file, px, mm/px) by number."""
    tags = cat.tags_of([sherd.number for sherd in sherds])
    records: dict[str, RecordRow] = {record.number: record for record in cat.records()}
    cards = []
    for sherd in sherds:
        written = records[sherd.number].fields if sherd.number in records else {}
        fields = dict(written) if exact_places else rounded_fields(written)
        cards.append(Card(sherd, tags[sherd.number], fields, *crops[sherd.number]))
    return cards


def dublin_core(card: Card) -> dict[str, str]:
    """The elements of Dublin Core that a sherd fills; several values of one element stand apart by a semicolon."""
    sherd = card.sherd
    size = "" if sherd.max_dimension_mm is None else f"{sherd.max_dimension_mm:.1f} mm across"
    found = {
        "identifier": sherd.number,
        "title": f"Sherd {sherd.number}",
        "type": "PhysicalObject",
        "format": size,
        "subject": "; ".join(dict.fromkeys(tag.term for tag in card.tags)),
        "description": "; ".join(
            f"{name}: {text}"
            for name, text in card.fields.items()
            if name in {"form", "fabric", "ware", "condition", "note"}
        ),
        "coverage": "; ".join(text for text in (sherd.site, sherd.lot, card.fields.get("period")) if text),
        "creator": "; ".join(dict.fromkeys(tag.by for tag in card.tags)),
        "date": sherd.added_at[:10],
        "rights": card.fields.get("rights", ""),
        "relation": sherd.photo_name,
    }
    return {name: found[name] for name in DUBLIN_CORE}


def write_dublin_core(cards: Sequence[Card], file: Path) -> None:
    """Write one row a sherd, columns dc:identifier and so on, text safe in spreadsheets."""
    rows = [[guarded(text) if text else "" for text in dublin_core(card).values()] for card in cards]
    file.write_text(csv_text([f"dc:{name}" for name in DUBLIN_CORE], rows), encoding="utf-8", newline="")


def iiif_manifest(cards: Sequence[Card], *, base_url: str, title: str) -> dict[str, object]:
    """A IIIF Presentation 3.0 manifest: one canvas a sherd, with its crop, its words and its true size."""
    root = base_url.rstrip("/")
    return {
        "@context": IIIF_CONTEXT,
        "id": f"{root}/manifest.json",
        "type": "Manifest",
        "label": {"none": [title]},
        "items": [
            _canvas(card, f"{root}/canvas/{place}", f"{root}/{card.file}") for place, card in enumerate(cards, 1)
        ],
    }


def _canvas(card: Card, canvas_id: str, image_url: str) -> dict[str, object]:
    width, height = card.px
    body = {"id": image_url, "type": "Image", "format": "image/png", "width": width, "height": height}
    painting = {
        "id": f"{canvas_id}/painting",
        "type": "Annotation",
        "motivation": "painting",
        "body": body,
        "target": canvas_id,
    }
    canvas: dict[str, object] = {
        "id": canvas_id,
        "type": "Canvas",
        "label": {"none": [card.sherd.number]},
        "width": width,
        "height": height,
        "metadata": [
            {"label": {"en": [name]}, "value": {"none": [text]}} for name, text in dublin_core(card).items() if text
        ],
        "items": [{"id": f"{canvas_id}/page", "type": "AnnotationPage", "items": [painting]}],
    }
    if card.mm_per_px is not None:
        canvas["service"] = [
            {
                "@context": f"{PHYSICAL_SCALE}/1/context.json",
                "profile": PHYSICAL_SCALE,
                "physicalScale": card.mm_per_px,
                "physicalUnits": "mm",
            }
        ]
    rights = card.fields.get("rights", "").strip()
    if _RIGHTS_URI.fullmatch(rights):
        canvas["rights"] = rights
    return canvas


def write_manifest(cards: Sequence[Card], file: Path, *, base_url: str, title: str) -> None:
    """Write the manifest as JSON."""
    file.write_text(
        json.dumps(iiif_manifest(cards, base_url=base_url, title=title), ensure_ascii=False, indent=1), "utf-8"
    )


def catalogue_page(cards: Sequence[Card], *, title: str, note: str) -> str:
    """One HTML page with every sherd, lot by lot; everything that a person wrote is escaped, nothing is loaded from elsewhere."""
    lots: dict[str, list[Card]] = {}
    for card in cards:
        lots.setdefault(card.sherd.lot, []).append(card)
    parts = [
        f"<h2>Lot {html.escape(lot)}</h2><ul>{''.join(map(_entry, members))}</ul>" for lot, members in lots.items()
    ]
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src 'self' file: data:; style-src 'unsafe-inline'\">"
        f"<title>{html.escape(title)}</title><style>{_STYLE}</style></head><body><h1>{html.escape(title)}</h1>"
        f"<p>{len(cards)} sherds. {html.escape(note)}</p>{''.join(parts)}</body></html>"
    )


def _entry(card: Card) -> str:
    facts = {
        "Site": card.sherd.site or "",
        "Size": dublin_core(card)["format"],
        "Tags": ", ".join(f"{tag.term} ({tag.kind})" for tag in card.tags),
        **card.fields,
    }
    listed = "".join(
        f"<dt>{html.escape(name)}</dt><dd>{html.escape(text)}</dd>" for name, text in facts.items() if text
    )
    number = html.escape(card.sherd.number)
    return f'<li id="{html.escape(card.file)}"><img src="{html.escape(card.file)}" alt="Sherd {number}" loading="lazy"><h3>{number}</h3><dl>{listed}</dl></li>'
