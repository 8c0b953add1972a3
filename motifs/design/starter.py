"""A vocabulary to begin with, in the trade's general words; every collection may change all of it.

Definitions are this project's own. Exact matches are only those that somebody checked (`vocabulary.VERIFIED_MATCHES`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.design.groups import BAND_GROUPS, PLANE_GROUPS
from motifs.design.vocabulary import AAT
from motifs.records import Term

if TYPE_CHECKING:
    from collections.abc import Iterator

INDETERMINATE = "indeterminate"
"""A term of every kind: looked at, and cannot be told."""

_NARROWER: dict[str, dict[str, tuple[str, ...]]] = {
    "position": {
        "rim": ("lip", "rim top", "rim interior", "rim exterior"),
        "neck": (),
        "collar": (),
        "shoulder": ("carination",),
        "body": ("upper body", "maximum diameter", "lower body"),
        "base": ("flat base", "rounded base", "pointed base", "footring", "pedestal", "base angle"),
        "handle": ("strap handle", "loop handle", "lug"),
        "spout": (),
        "foot": (),
        "lid": (),
    },
    "treatment": {
        "smoothed": ("wiped", "brushed", "scraped"),
        "polished": ("burnished",),
        "slipped": ("wash",),
        "smudged": (),
        "glazed": (),
        "combed": (),
        "cord-marked": (),
    },
    "technique": {
        "displaced": (
            *("incised", "engraved", "trailed", "grooved", "excised", "gouged", "punctated", "stab-and-drag"),
            *("rouletted", "stamped", "cord-marked", "fabric-impressed", "finger-tipped", "pinched", "perforated"),
        ),
        "added": ("applique", "modelled", "barbotine", "inlaid"),
        "painted": ("monochrome", "bichrome", "polychrome", "resist", "post-fire painted"),
        "burnished": (),
    },
    "layout": {
        "field": ("zone", "band", "panel"),
        "all-over": (),
        "single figure": (),
        "framing line": (),
        "filler": (),
    },
    "element": {
        "line": ("straight line", "wavy line", "zigzag line"),
        "dot": (),
        "triangle": ("solid triangle", "hatched triangle"),
        "lozenge": (),
        "circle": ("concentric circles",),
        "scroll": (),
        "spiral": (),
        "step": (),
        "hook": (),
        "hachure": ("cross-hachure",),
    },
    "motif": {
        "geometric motif": (
            "chevron band",
            "meander",
            "running spiral",
            "interlocking scroll",
            "stepped fret",
            "checkerboard",
        ),
        "plant motif": ("palmette", "leaf row"),
        "animal motif": ("bird", "quadruped", "fish", "serpent"),
        "human figure": (),
    },
    "condition": {"worn": (), "fire-clouded": (), "sooted": (), "lime-crusted": (), "restored": ()},
}

_DEFINITIONS = {
    ("position", "rim"): "upper edge of the vessel, with the part of the wall that ends in it",
    ("position", "lip"): "very edge of the rim, between interior and exterior",
    ("position", "carination"): "sharp change of angle in the wall",
    ("position", "collar"): "thickened or folded strip below the lip",
    ("position", "body"): "wall between shoulder and base",
    ("position", "footring"): "ring on which the base stands",
    ("treatment", "burnished"): "rubbed with a hard tool when leather-hard, so that it shines in facets",
    ("treatment", "slipped"): "covered with a coat of fluid clay before firing",
    ("treatment", "smudged"): "blackened with soot in the last phase of firing",
    ("treatment", "cord-marked"): "struck with a cord-wrapped tool over the surface; some schemes call it decoration",
    ("technique", "displaced"): "made by moving or cutting away clay of the wall",
    ("technique", "added"): "made of clay or other matter set onto or into the wall",
    ("technique", "incised"): "cut with a point into clay that was still wet or leather-hard",
    ("technique", "engraved"): "cut with a point after drying or firing",
    ("technique", "excised"): "areas of clay cut away to leave the design",
    ("technique", "punctated"): "row or field of single impressions of a point, reed or nail",
    ("technique", "rouletted"): "rolled or rocked on with a toothed or plain edge",
    ("technique", "stamped"): "pressed in with a cut stamp",
    ("technique", "cord-marked"): "impressed with cord as decoration; some schemes call it surface treatment",
    ("technique", "applique"): "nodes, fillets or strips of clay set onto the wall",
    ("technique", "resist"): "areas covered while the rest was coloured, so that the design is in the ground",
    ("technique", "post-fire painted"): "painted after firing; fugitive, do not wet",
    ("layout", "field"): "whole decorated surface",
    ("layout", "zone"): "horizontal division of the field by part of the vessel; also register",
    ("layout", "band"): "continuous strip, often between framing lines",
    ("layout", "panel"): "part of a band cut off by vertical divisions",
    ("layout", "filler"): "small elements that fill what motifs leave free",
    ("element", "hachure"): "parallel lines that fill an outline",
    ("motif", "chevron band"): "row of V shapes, alone or nested",
    ("motif", "meander"): "line that turns back on itself at right angles, again and again",
    ("motif", "running spiral"): "spirals joined by a line that runs from each into the next",
    ("motif", "interlocking scroll"): "two scrolls turned into one another",
    ("motif", "stepped fret"): "stair that ends in a squared hook",
    ("condition", "fire-clouded"): "darker or lighter patches from uneven firing",
}

_SYNONYMS = {
    ("position", "collar"): ("thickened rim",),
    ("position", "carination"): ("angle",),
    ("layout", "zone"): ("register",),
    ("element", "hachure"): ("hatching",),
    ("element", "cross-hachure"): ("cross-hatching",),
    ("technique", "resist"): ("negative painted",),
    ("technique", "grooved"): ("fluted",),
    ("technique", "excised"): ("carved",),
    ("motif", "meander"): ("key pattern",),
}

_MATCHES = {
    ("treatment", "burnished"): "300053869",
    ("technique", "burnished"): "300053869",
    ("treatment", "glazed"): "300015091",
    ("technique", "applique"): "300053646",
    ("technique", "engraved"): "300053829",
    ("technique", "excised"): "300053149",
    ("motif", "meander"): "300165279",
    ("motif", "chevron band"): "300165028",
    ("motif", "palmette"): "300009995",
    ("motif", "plant motif"): "300164599",
    ("motif", "geometric motif"): "300009764",
    ("layout", "band"): "300009700",
}

_DRAWINGS = {
    (
        "motif",
        "chevron band",
    ): "M 0 0.8 L 0.25 0.3 L 0.5 0.8 L 0.75 0.3 L 1 0.8 M 0 1 L 0.25 0.5 L 0.5 1 L 0.75 0.5 L 1 1",
    ("motif", "meander"): "M 0 0.85 L 0.75 0.85 L 0.75 0.15 L 0.2 0.15 L 0.2 0.6 L 0.5 0.6 L 0.5 0.38",
    (
        "motif",
        "stepped fret",
    ): "M 0 0.9 L 0.2 0.9 L 0.2 0.7 L 0.4 0.7 L 0.4 0.5 L 0.6 0.5 L 0.6 0.15 L 0.95 0.15 L 0.95 0.5 L 0.78 0.5 L 0.78 0.32",
    (
        "motif",
        "checkerboard",
    ): "M 0 0 L 1 0 L 1 1 L 0 1 Z M 0 0.5 L 1 0.5 M 0.5 0 L 0.5 1 M 0 0 L 0.5 0.5 M 0.5 0.5 L 1 1",
    ("element", "zigzag line"): "M 0 0.7 L 0.25 0.3 L 0.5 0.7 L 0.75 0.3 L 1 0.7",
    ("element", "triangle"): "M 0.1 0.9 L 0.5 0.1 L 0.9 0.9 Z",
    ("element", "lozenge"): "M 0.5 0.05 L 0.85 0.5 L 0.5 0.95 L 0.15 0.5 Z",
    ("element", "step"): "M 0.1 0.9 L 0.4 0.9 L 0.4 0.6 L 0.7 0.6 L 0.7 0.3 L 0.95 0.3",
}

_STYLES = {
    "chevron band": ("geometric, rectilinear", "line", "*∞∞"),
    "meander": ("geometric, rectilinear", "line", "22∞"),
    "running spiral": ("geometric, curvilinear", "spiral", "22∞"),
    "interlocking scroll": ("geometric, curvilinear", "scroll", "22∞"),
    "stepped fret": ("geometric, rectilinear", "step and hook", "∞∞"),
    "checkerboard": ("geometric, rectilinear", "solid square", "*442"),
}
"""Type, element or style, and the usual symmetry of a motif; a piece may differ."""


def starter_terms() -> tuple[Term, ...]:
    """Return the terms to begin with, sorted by kind and label."""
    terms = [*_hierarchies(), *_symmetries()]
    kinds = dict.fromkeys(term.kind for term in terms)
    undecided = [Term(kind, INDETERMINATE, "looked at, and cannot be told from what is there") for kind in kinds]
    return tuple(sorted([*terms, *undecided], key=lambda term: (term.kind, term.label)))


def _hierarchies() -> Iterator[Term]:
    for kind, tree in _NARROWER.items():
        for label, narrower in tree.items():
            yield _entry(kind, label, ())
            for below in narrower:
                yield _entry(kind, below, (label,))


def _entry(kind: str, label: str, broader: tuple[str, ...]) -> Term:
    key = (kind, label)
    number = _MATCHES.get(key)
    style = _STYLES.get(label, ("", "", "")) if kind == "motif" else ("", "", "")
    return Term(
        kind,
        label,
        definition=_DEFINITIONS.get(key, ""),
        synonyms=_SYNONYMS.get(key, ()),
        broader=broader,
        drawing=_DRAWINGS.get(key, ""),
        exact_match=f"{AAT}{number}" if number else "",
        style_type=style[0],
        style_element=style[1],
        symmetry=style[2],
    )


def _symmetries() -> Iterator[Term]:
    """One term a group, by its orbifold symbol, which means the same in every notation."""
    yield Term("symmetry", "band group", "one of the seven ways in which a strip can repeat")
    yield Term("symmetry", "plane group", "one of the seventeen ways in which a surface can repeat")
    for group in (*BAND_GROUPS, *PLANE_GROUPS):
        # The other symbols stand in the definition: p1m1 as a synonym would name two groups.
        others = (
            f"{group.symbol} in four places; {group.iuc_short}, {group.iuc_full}"
            if group.kind == "band"
            else f"{group.symbol}; {group.iuc_full}"
        )
        yield Term("symmetry", group.orbifold, f"{group.words} ({others})", broader=(f"{group.kind} group",))
