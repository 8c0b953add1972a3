"""Munsell chips in numbers: renotation of Newhall, Nickerson & Judd 1943 (Y by ASTM D1535), illuminant C.

Printed from colour-science 0.4.7 outside this project and rounded there: L*a*b* under illuminant C, 8-bit sRGB after
CAT02 adaptation from C to D65. The 24-patch card's neutral 5 is that card's published reference (after 2014), adapted
D50 to D65.
"""

CHIPS = (
    # notation, 8-bit sRGB
    ("5YR 6/6", (192, 135, 94)),
    ("10YR 7/3", (194, 170, 139)),
    ("2.5YR 5/8", (179, 101, 61)),
    ("7.5YR 4/2", (112, 92, 77)),
    ("N5", (121, 121, 121)),
    ("10R 4/6", (142, 79, 62)),
    ("2.5YR 6/6", (195, 133, 103)),
    ("5YR 5/4", (152, 113, 88)),
    ("7.5YR 7/4", (204, 167, 133)),
    ("7.5YR 6/4", (177, 141, 108)),
    ("10YR 6/2", (161, 145, 125)),
    ("10YR 8/2", (214, 198, 175)),
    ("2.5Y 7/2", (185, 172, 147)),
    ("5Y 6/1", (152, 147, 134)),
    ("10YR 3/1", (79, 70, 62)),
    ("10R 5/8", (183, 98, 72)),
    ("7.5YR 8/6", (243, 190, 136)),
    ("5YR 3/2", (88, 67, 56)),
    ("N2.5", (60, 60, 60)),
    ("N8", (200, 200, 200)),
)

LIGHTNESS_OF_VALUE = ((2.5, 25.26), (3, 30.38), (4, 40.74), (5, 51.00), (6, 61.05), (7, 70.86), (8, 80.53))

NEUTRAL_5_OF_CARD = (121, 121, 121)

STEPS_DE2000 = (
    # one chip, the other, CIEDE2000 between them (two decimals)
    ("5YR 6/6", "7.5YR 6/6", 3.65),
    ("5YR 6/6", "5YR 5/6", 9.38),
    ("5YR 6/6", "5YR 6/4", 5.33),
    ("10YR 7/3", "10YR 7/2", 3.72),
    ("10YR 7/3", "10YR 6/3", 7.99),
    ("2.5YR 5/8", "5YR 5/8", 5.11),
    ("7.5YR 4/2", "10YR 4/2", 3.02),
    ("7.5YR 4/2", "7.5YR 3/2", 8.60),
    ("5YR 5/4", "2.5YR 5/4", 3.43),
    ("10R 4/6", "2.5YR 4/6", 3.99),
)

OUTSIDE_SRGB = 22
"""How many of the 306 chips of the soil range a screen cannot show."""
