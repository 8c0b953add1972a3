"""Rims, vessel counts and weights: worked values.

Rim table: plane geometry of the circle (D = c² / (4 s) + s), computed outside this project; some
values were rounded twice there, so the last printed digit holds within one unit. Field check: a chord of 1.80 m with a rise of 0.23 m, from a field blog of 2009. Vessel
counts: the methods of Orton, Tyers & Vince 1993 and Voss & Allen 2010 (from memory), invented rims. Completeness
and brokenness: Orton 1985 (formulas from memory). Adjusted weight: Hulthén 1974 as described by the Lund
laboratory for ceramic research.
"""

DIAMETERS = (
    # chord mm, sagitta mm, diameter mm, printed digits
    (60, 5, 185.0, 1),
    (60, 4, 229.0, 1),
    (60, 6, 156.0, 1),
    (80, 10, 170.0, 1),
    (40, 2, 202.0, 1),
    (100, 13.4, 199.967, 3),
    (50, 2.5, 252.5, 1),
    (30, 1.0, 226.0, 1),
    (30, 1.2, 188.7, 1),
    (60, 4.5, 204.5, 1),
    (60, 5.5, 169.1, 1),
)
FIELD_CHECK_M = (1.80, 0.23, 3.7517)
DIAMETER_PER_SAGITTA = (60, 5, -35.0)

RIMS = (
    # diameter mm, percent of rim, arc, chord, sagitta mm
    (200, 10, 62.832, 61.803, 4.894),
    (
        240,
        12.5,
        94.248,
        91.844,
        9.134,
    ),  # 120 (1 - cos 22.5 deg) = 9.13446; a list that prints 9.135 is off by one digit
    (180, 5, 28.274, 28.158, 1.108),
    (300, 7, 65.973, 65.443, 3.613),
    (120, 25, 94.248, 84.853, 17.574),
)
PERCENT_FROM_CHORD = ((200, 61.8034, 10.000), (180, 60, 10.817), (240, 60, 8.043))
"""Diameter mm, chord mm, percent."""

EVE = ((10, 12, 7, 25, 31), 0.85)
RIM_SET = (
    ("A", 200, 40),
    ("A", 200, 35),
    ("A", 200, 30),
    ("A", 240, 10),
    ("A", 240, 15),
    ("B", 180, 12),
    ("B", 180, 8),
    ("B", 180, 5),
)
RIM_SET_EVE, RIM_SET_MNV, RIM_SET_MNV_BY_TYPE, RIM_SET_MAXIMUM = 1.55, 4, 3, 8

ORTON = {"sherds": 50, "eve": 2.5, "represented": 10, "completeness": 0.25, "brokenness": 20.0}

WEIGHTS = {
    "thickness_mm": (6, 12),
    "weight_g": (30, 30),
    "adjusted_g": (50, 25),
    "by_weight_mm": 9.0,
    "by_surface_mm": 8.0,
}

REPEATS = {"diameter_mm": 180, "repeat_mm": 47, "repeats": 12.03}
