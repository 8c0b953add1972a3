"""Style two: every pixel of a sherd is shaded as a curved, incised surface; cracks grow and branch."""
