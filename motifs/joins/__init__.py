"""Joins: which edges fit, how they lie, and how sure that is.

```
propose_joins(pieces: Sequence[SherdEdge], *, top=5) -> list[Join]     best fit first; a, b are places in `pieces`
join_llrs(joins, sherds) -> list[(a, b, llr)]                          of one vessel against two, for the sorting
SherdEdge(outline_mm, fields=SherdFields | None, is_scaled)            Join(a, b, fit, length_mm, transform, ...)
draw_join(a: SherdCutOut, b, transform) -> (H, W, 3) uint8              both laid together, to judge by
load_model() -> JoinModel                                              models/joins.json; ModelError
```
Lengths in mm; `transform` carries b's outline into a's frame.
"""

from motifs.joins.fits import JoinModel, load_model, vessel_llr
from motifs.joins.picture import SherdCutOut, draw_join
from motifs.joins.pieces import Crossing, Join, SherdEdge, SherdFields, fields_on_outline
from motifs.joins.proposing import propose_joins
from motifs.joins.support import join_llrs, joining_share

__all__ = [
    "Crossing",
    "Join",
    "JoinModel",
    "SherdCutOut",
    "SherdEdge",
    "SherdFields",
    "draw_join",
    "fields_on_outline",
    "join_llrs",
    "joining_share",
    "load_model",
    "propose_joins",
    "vessel_llr",
]
