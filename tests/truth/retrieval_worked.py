"""Worked examples of retrieval measures.

Precision, recall and average precision of a ranked list: definitions of Manning, Raghavan & Schütze 2008,
*Introduction to Information Retrieval*, Cambridge University Press, sections 8.3 and 8.4. The rankings are
our own; the fractions are worked by hand from the definitions and can be checked on paper.
"""

from fractions import Fraction

RANKED: list[tuple[tuple[bool, ...], Fraction]] = [
    # relevant at ranks 1, 3, 6: (1/1 + 2/3 + 3/6) / 3
    ((True, False, True, False, False, True), Fraction(13, 18)),
    # relevant at ranks 2 and 5: (1/2 + 2/5) / 2
    ((False, True, False, False, True), Fraction(9, 20)),
    # everything relevant
    ((True, True, True), Fraction(1)),
    # the only relevant one comes last of four
    ((False, False, False, True), Fraction(1, 4)),
]
"""Relevance by falling similarity, and the average precision."""

TIED: list[tuple[tuple[float, ...], tuple[bool, ...], Fraction]] = [
    # both at one threshold: precision there 1/2, recall gained 1
    ((0.5, 0.5), (True, False), Fraction(1, 2)),
    # threshold .9: precision 1, recall 1/2; threshold .4 takes in three: precision 2/4, recall gained 1/2
    ((0.9, 0.4, 0.4, 0.4), (True, False, True, False), Fraction(3, 4)),
]
"""Similarities, relevance, and the average precision when tied items enter together."""
