"""Small worked examples of site statistics, each with its source.

Brainerd-Robinson definition: Robinson 1951, Brainerd 1951, American Antiquity 16. Moth traps: Magurran, A. E.
1988. Ecological Diversity and Its Measurement (table from memory; older hand calculations print about 6.57).
Rarefaction: Hurlbert 1971, Ecology 52. Sample sizes: n = ln(1 - chance) / ln(1 - share), arithmetic; printed
widely (common practice). 2 x 2 values: scipy 1.17.1. Difference of proportions: Newcombe 1998, Statistics in
Medicine 17, first worked example, method 10 (from memory).
"""

BR = (
    ((10, 20, 30, 40), (40, 30, 20, 10), 120.0),
    ((30, 20, 10, 0), (10, 10, 10, 30), 100.0),
    ((1, 2, 3), (10, 20, 30), 200.0),
    ((5, 0), (0, 7), 0.0),
)

MOTH_A = (9, 3, 0, 4, 2, 1, 1, 0, 1, 0, 1, 1)
MOTH_B = (1, 0, 1, 0, 0, 0, 2, 0, 5, 3, 0, 1)
MOTH_A_AT_13, MOTH_B_AT_13 = 6.556735, 6.0

OTHER_MEASURES = (
    # a, b, Jaccard, Sørensen, Morisita-Horn, Morisita
    ((10, 20, 30, 40), (40, 30, 20, 10), 1.0, 1.0, 0.666667, 0.682759),
    ((30, 20, 10, 0), (10, 10, 10, 30), 0.75, 0.857143, 0.461538, 0.475806),
    (MOTH_A, MOTH_B, 0.363636, 0.533333, 0.247204, 0.314727),
)

DIVERSITY_10_20_30_40 = {
    "shannon": 1.279854,
    "shannon_bits": 1.846439,
    "evenness": 0.923220,
    "simpson": 0.7,
    "simpson_unbiased": 0.707071,
}

PIECES_NEEDED = ((0.05, 59), (0.01, 299))
HALF_WIDTH_PERCENT = ((100, 9.8), (400, 4.9))

TWO_BY_TWO = {
    "counts": ((20, 30), (30, 20)),
    "statistic": 4.0,
    "p_value": 0.045500,
    "yates": 3.24,
    "yates_p": 0.071861,
    "fisher_p": 0.071342,
    "odds_ratio": 0.444444,
}

NEWCOMBE = {"one": (56, 70), "two": (48, 80), "difference": 0.2, "low": 0.0524, "high": 0.3339}
"""One minus two."""
