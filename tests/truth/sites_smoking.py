"""Staff groups by smoking: the teaching table of correspondence analysis.

Greenacre, M. J. 1984. Theory and Applications of Correspondence Analysis, Academic Press (table from
memory). Values computed with numpy singular values and prince 0.23.0, which agree.
"""

ROWS = ("SM", "JM", "SE", "JE", "SC")
COLUMNS = ("none", "light", "medium", "heavy")
COUNTS = ((4, 2, 3, 2), (4, 3, 7, 4), (25, 10, 12, 4), (18, 24, 33, 13), (10, 6, 7, 2))
TOTAL = 193

INERTIAS = (0.074759, 0.010017, 0.000414)
TOTAL_INERTIA = 0.085190
AXIS_PERCENT = (87.76, 11.76, 0.49)
CHI_SQUARE, DEGREES, P_VALUE = 16.4416, 12, 0.1718

ROW_COORDINATES = ((0.0658, 0.1937), (-0.2590, 0.2433), (0.3806, 0.0107), (-0.2330, -0.0577), (0.2011, -0.0789))
COLUMN_COORDINATES = ((0.3933, 0.0305), (-0.0995, -0.1411), (-0.1963, -0.0074), (-0.2938, 0.1978))
"""Axes 1 and 2; the sign of each axis is free."""
