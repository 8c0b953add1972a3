"""What tells two practice pots apart, strongest first, in words with values: the worked explanation of an exercise.

How strong a cue is, is counted in differences that a careful eye just sees. These units are common practice, not a
standard: 2.5 in CIEDE2000 for paste, an eighth of a line's width, 1 mm of wall, a quarter of the girth.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

from motifs.evidence.comparing import colour_difference

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

SEEN_DE = 2.5
SEEN_LINE = math.log(1.125)
SEEN_WALL_MM = 1.0
SEEN_GIRTH = math.log(1.25)
LEAST_SEEN = 1.0
"""Cues that differ by less than this many steps are not listed: nobody sees them."""
OF_KIND = 4.0
"""Steps that a difference of kind (another technique, no motif in common) counts."""


@dataclass(frozen=True, slots=True)
class TellingCue:
    """One cue between two pots. steps: how many just visible differences apart. words: with values and units."""

    name: str
    steps: float
    words: str


def telling_cues(pots: Sequence[Mapping[str, Any]]) -> dict[tuple[int, int], tuple[TellingCue, ...]]:
    """Cues of every two pots (places from 0), strongest first; pots as a sealed answer describes them."""
    return {
        (a, b): tuple(sorted(_between(pots[a], pots[b]), key=lambda cue: (-cue.steps, cue.name)))
        for a, b in combinations(range(len(pots)), 2)
    }


def _between(a: Mapping[str, Any], b: Mapping[str, Any]) -> list[TellingCue]:
    found = [_paste(a, b), _line(a, b), _wall(a, b), _girth(a, b), _motifs(a, b)]
    if a["technique"] != b["technique"]:
        found.append(TellingCue("technique", OF_KIND, f"technique: {a['technique']} against {b['technique']}"))
    if set(a["groups"]) != set(b["groups"]):
        said = " against ".join(", ".join(sorted(set(pot["groups"]))) or "none" for pot in (a, b))
        found.append(TellingCue("symmetry", OF_KIND / 2, f"symmetry of the bands: {said}"))
    return [cue for cue in found if cue.steps >= LEAST_SEEN]


def _paste(a: Mapping[str, Any], b: Mapping[str, Any]) -> TellingCue:
    apart = colour_difference(a["paste_lab"], b["paste_lab"])
    lighter = "the first lighter" if a["paste_lab"][0] > b["paste_lab"][0] else "the second lighter"
    return TellingCue("paste", apart / SEEN_DE, f"paste {apart:.1f} apart (CIEDE2000), {lighter}")


def _line(a: Mapping[str, Any], b: Mapping[str, Any]) -> TellingCue:
    one, two = float(a["line_width_mm"]), float(b["line_width_mm"])
    return TellingCue("line", abs(math.log(one / two)) / SEEN_LINE, f"line {one:.1f} mm against {two:.1f} mm")


def _wall(a: Mapping[str, Any], b: Mapping[str, Any]) -> TellingCue:
    one, two = float(a["wall_mm"]), float(b["wall_mm"])
    words = f"wall {one:.1f} mm against {two:.1f} mm (seen at the break, not on the photograph)"
    # A photograph from above hardly shows it, so it counts half.
    return TellingCue("wall", 0.5 * abs(one - two) / SEEN_WALL_MM, words)


def _girth(a: Mapping[str, Any], b: Mapping[str, Any]) -> TellingCue:
    one, two = float(a["girth_mm"]), float(b["girth_mm"])
    words = f"girth {one:.0f} mm against {two:.0f} mm: the smaller pot's sherds curve more"
    return TellingCue("curve", abs(math.log(one / two)) / SEEN_GIRTH, words)


def _motifs(a: Mapping[str, Any], b: Mapping[str, Any]) -> TellingCue:
    one, two = set(a["families"]), set(b["families"])
    own = 1.0 - len(one & two) / max(len(one | two), 1)
    only = [", ".join(sorted(part)) or "none" for part in (one - two, two - one)]
    return TellingCue("motif", OF_KIND * own, f"motifs on one only: {only[0]}; on the other only: {only[1]}")
