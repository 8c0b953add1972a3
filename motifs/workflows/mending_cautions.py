"""What stands beside every plan and every recipe: the usual cautions, and whose word comes first."""

from __future__ import annotations

from typing import Final

FIRST: Final = "Ask a conservator; local rules and your institution's safety rules come first."
MENDING: Final = (
    FIRST,
    "Mending is slow, and a mended pot can be weaker than its sherds: leave apart what neither research nor display needs whole.",
    "Reversible adhesives only, weaker than the ware, so that a blow opens the join and not the pot beside it.",
    "Stop at friable, salt-laden or residue-bearing pieces, at old lead glazes, and at collections once treated with pesticides: "
    "gloves, washed hands, no food, and a conservator's word before anything is wetted, brushed or glued.",
    "Human remains, burial goods, sacred or sensitive pieces: stop, and ask the communities concerned and the law of the place.",
    "Edges cut. Never force a sherd: breaking lets go of stress from the firing, and steps may be real.",
)
SOLVENT: Final = (
    "Acetone takes fire far below room temperature (flash point about -20 °C; 2.5 to 12.8 % of its vapour in air explodes; the vapour "
    "lies low): no flame, spark or hot plate, good ventilation, small amounts, closed jars.",
    "Butyl rubber gloves (thin nitrile lets acetone through), eye protection; solvent waste as your institution says.",
    "Read the safety data sheet of the very product and the exposure limits of your country before you open it.",
)
"""Beside every recipe with a solvent."""
