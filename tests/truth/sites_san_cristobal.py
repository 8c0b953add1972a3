"""A midden dug in ten one-foot levels: painted and glazed sherds, top to bottom.

Counts: Nelson, N. C. 1916. Chronology of the Tano ruins, New Mexico. American Anthropologist 18: 159-180
(San Cristobal; six types, corrugated ware left out). The counts are typed from memory. They are held to be
right because they reproduce, to every printed digit, the total and the inertias and level coordinates
below, which were computed from the archdata 1.2-1 copy of the table with other programs; the values of levels
1, 2, 3, 7, 8 and 9 in the first five columns also stand in a public code example that cites archdata.
"""

TYPES = ("Biscuit", "Type I", "Type II red", "Type II yellow", "Type II gray", "Type III")

COUNTS_BY_LEVEL = (
    (10, 2, 24, 23, 34, 5),
    (17, 2, 64, 90, 76, 6),
    (2, 10, 68, 18, 48, 3),
    (4, 6, 52, 20, 21, 0),
    (15, 2, 128, 55, 85, 0),
    (21, 8, 192, 53, 52, 1),
    (10, 40, 91, 20, 15, 0),
    (2, 118, 45, 1, 5, 0),
    (1, 107, 3, 0, 0, 0),
    (1, 69, 0, 0, 0, 0),
)

TOTAL = 1745
INERTIAS = (0.65724, 0.08565, 0.01787, 0.01010, 0.00260)
TOTAL_INERTIA = 0.77346
AXIS_1_BY_LEVEL = (-0.517, -0.553, -0.351, -0.356, -0.500, -0.418, 0.086, 1.207, 1.850, 1.900)
"""Sign free."""
