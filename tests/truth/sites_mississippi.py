"""Decorated sherds of 20 sites by 10 types, and what follows from them.

Counts: Lipo, C. P., Madsen, M. E. & Dunnell, R. C. 2015. A theoretically-sufficient and computationally-
practical technique for deterministic frequency seriation. PLOS ONE 10(4): e0124942, Table 2 (CC BY).
Retyped. The values below the table were computed once with other programs (numpy singular values, prince
0.23.0, scikit-bio 0.7.4, scipy 1.17.1), not with this project's code; some
were rounded twice there (chi-square 3630.85365), so the last printed digit holds within one unit.
"""

TYPES = (
    "Parkin Punctate",
    "Barton/Kent/MPI",
    "Painted",
    "Fortune Noded",
    "Ranch Incised",
    "Walls Engraved",
    "Wallace Incised",
    "Rhodes Incised",
    "Vernon Paul Applique",
    "Hull Engraved",
)

COUNTS = {
    "10-P-1": (39, 62, 46, 0, 0, 0, 0, 0, 0, 6),
    "11-N-9": (528, 198, 13, 0, 19, 0, 0, 0, 0, 0),
    "11-N-1": (865, 323, 59, 17, 35, 0, 0, 0, 4, 0),
    "11-O-10": (404, 208, 6, 16, 4, 0, 0, 0, 0, 0),
    "11-N-4": (764, 470, 18, 5, 9, 0, 0, 0, 0, 0),
    "13-N-5": (35, 11, 33, 0, 0, 0, 0, 0, 0, 0),
    "13-N-4": (71, 67, 96, 0, 3, 4, 0, 0, 0, 0),
    "13-N-16": (42, 56, 69, 0, 1, 3, 0, 0, 0, 0),
    "13-O-11": (35, 65, 24, 0, 0, 2, 0, 1, 0, 1),
    "13-O-10": (61, 74, 79, 0, 2, 8, 0, 2, 0, 0),
    "13-P-1": (244, 40, 18, 1, 16, 21, 0, 14, 0, 6),
    "13-P-8": (83, 25, 43, 0, 18, 17, 0, 3, 0, 3),
    "13-P-10": (30, 15, 12, 0, 12, 12, 0, 7, 2, 1),
    "13-O-7": (590, 498, 67, 10, 21, 19, 12, 8, 7, 1),
    "13-O-5": (923, 637, 42, 12, 33, 27, 15, 13, 5, 2),
    "13-N-21": (426, 69, 105, 4, 4, 0, 1, 4, 1, 0),
    "12-O-5": (204, 156, 42, 7, 8, 4, 2, 1, 0, 0),
    "Holden Lake": (27, 294, 7, 24, 2, 0, 2, 1, 3, 0),
    "13-N-15": (728, 364, 160, 9, 5, 8, 14, 3, 7, 2),
    "12-N-3": (549, 328, 77, 19, 4, 0, 3, 1, 2, 0),
}

ROW_TOTALS = {
    "10-P-1": 153,
    "11-N-9": 758,
    "11-N-1": 1303,
    "11-O-10": 638,
    "11-N-4": 1266,
    "13-N-5": 79,
    "13-N-4": 241,
    "13-N-16": 171,
    "13-O-11": 128,
    "13-O-10": 226,
    "13-P-1": 360,
    "13-P-8": 192,
    "13-P-10": 91,
    "13-O-7": 1233,
    "13-O-5": 1709,
    "13-N-21": 614,
    "12-O-5": 424,
    "Holden Lake": 360,
    "13-N-15": 1300,
    "12-N-3": 983,
}
COLUMN_TOTALS = (6648, 3960, 1016, 124, 196, 125, 49, 58, 31, 22)
TOTAL = 12229

CHI_SQUARE, DEGREES = 3630.8537, 171
TOTAL_INERTIA = 0.296905
INERTIAS = (0.126621, 0.079249, 0.058774, 0.012176, 0.008050, 0.006291, 0.003570, 0.001824, 0.000350)
AXIS_PERCENT = (42.65, 26.69, 19.80)

AXIS_1_ORDER = (
    "13-N-5",
    "13-N-16",
    "13-N-4",
    "13-O-10",
    "13-P-8",
    "10-P-1",
    "13-P-10",
    "13-O-11",
    "13-N-21",
    "13-P-1",
    "13-N-15",
    "12-O-5",
    "12-N-3",
    "13-O-7",
    "11-N-1",
    "13-O-5",
    "11-N-9",
    "11-N-4",
    "11-O-10",
    "Holden Lake",
)
"""Sign free: the order may come out reversed."""

BR_HIGHEST = ("11-N-9", "11-N-1", 190.791698)
BR_LOWEST = ("13-P-1", "Holden Lake", 43.333333)
BR_MEAN = 135.311912
BR_PAIRS = (
    ("10-P-1", "11-N-9", 106.65),
    ("10-P-1", "11-N-1", 109.61),
    ("10-P-1", "11-O-10", 118.07),
    ("10-P-1", "11-N-4", 128.07),
    ("10-P-1", "13-N-5", 138.96),
    ("11-O-10", "11-N-4", 189.82),
)

PERMUTED = (
    # a, b, similarity, p, mean of the null or None; p with a tolerance of 0.02
    ("13-N-4", "13-N-16", 188.88, 0.57, 187.0),
    ("10-P-1", "13-O-11", 171.09, 0.05, None),
    ("11-O-10", "13-N-16", 117.38, 0.001, None),
)
"""Idea of the test: DeBoer, Kintigh & Rostoker 1996; p from 9999 or 1999 shuffles of another program."""

OTHER_MEASURES = (
    # a, b, Jaccard, Sørensen, Morisita-Horn, Morisita
    ("11-N-9", "11-N-1", 0.666667, 0.8, 0.997903, 0.998816),
    ("13-P-1", "Holden Lake", 0.6, 0.75, 0.246927, 0.247428),
)

DIVERSITY = {
    # Shannon (ln), evenness, 1 - sum p², unbiased
    "10-P-1": (1.202795, 0.867634, 0.678884, 0.683351),
    "11-N-9": (0.764656, 0.551583, 0.445635, 0.446224),
    "11-N-1": (0.929397, 0.518707, 0.494899, 0.495279),
    "11-O-10": (0.822858, 0.511270, 0.491976, 0.492749),
}

RAREFACTION_SIZES = (10, 50, 79, 91)
RAREFACTION = {
    "11-N-1": (2.7075, 4.2893, 4.7470, 4.8727),
    "13-P-10": (5.0540, 7.3464, 7.8520, 8.0),
    "Holden Lake": (2.4482, 4.6319, 5.3508, 5.5927),
    "13-O-5": (2.8034, 5.0777, 6.0901, 6.4129),
}

PAINTED_AT_13_P_10 = {"count": 12, "total": 91, "wilson": (7.71, 21.65), "clopper-pearson": (7.00, 21.90)}
"""Percent, 95 %."""

CHI_2_BY_3 = {
    "sites": ("13-N-4", "13-N-16"),
    "types": ("Parkin Punctate", "Barton/Kent/MPI", "Painted"),
    "statistic": 1.697268,
    "degrees": 2,
    "p_value": 0.427999,
    "cramers_v": 0.065058,
    "expected_row_1": (65.94, 71.776, 96.284),
}
