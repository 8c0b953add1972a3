"""The usual cautions, put where the hands are; local rules and trained people come first."""

from __future__ import annotations

TITLE, SHARING_TITLE = "Before you handle the sherds", "Before you share it"

PHOTOGRAPHING = (
    "Edges of fired clay cut, glazed ones like glass. Wear gloves where the edges are fresh.",
    "Old glazes can hold lead, and old collections may have been treated with arsenic, mercury or pesticides: "
    "gloves, washed hands, no food or drink at the table.",
    "Dry brushing raises dust that harms lungs: damp cleaning where the ware allows it, otherwise a P2 or N95 mask.",
    "Do not wet paint put on after firing, friable surfaces, or sherds kept for residue analysis. "
    "Never fill incised lines with chalk or charcoal to make them show.",
    "Human remains, burial goods, sacred or otherwise sensitive designs: stop, and ask the communities concerned and the "
    "law of the place before you photograph, compare or share.",
    "What your laboratory, your law and a trained conservator say comes before anything shown here.",
)

SORTING = (
    "A proposal comes from photographs alone. Look at fresh breaks, temper, thickness and profile before you judge.",
    "Hold sherds over a padded tray, edges away from the fingers; do not rub two breaks against each other to try a fit.",
    "Stick nothing together on a proposal: mending is a conservator's decision.",
    *PHOTOGRAPHING[:2],
    PHOTOGRAPHING[4],
    PHOTOGRAPHING[5],
)

SHARING = (
    "Support and similarity are proposals of a program until a person has judged them; the report says which is which.",
    "Human remains, burial goods, sacred or otherwise sensitive designs: ask the communities concerned, and the law of the place, "
    "before anything is shared or published.",
    "Find-spots draw looters: no coordinates are printed here, and none should be added to what is published.",
    "Ask the holder of the sherds about the rights in pictures of them.",
)
