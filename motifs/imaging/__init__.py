"""Photograph to sherd images: decode, light, scale, foreground, outline, crop."""

from motifs.imaging.crop import cut_crop
from motifs.imaging.decode import MAX_SIDE_PX, read_photo
from motifs.imaging.outline import OutlineMeasures, draw_outlines, merge_outlines, outline_measures
from motifs.imaging.plane import outline_in_mm
from motifs.imaging.tray import read_tray

__all__ = [
    "MAX_SIDE_PX",
    "OutlineMeasures",
    "cut_crop",
    "draw_outlines",
    "merge_outlines",
    "outline_in_mm",
    "outline_measures",
    "read_photo",
    "read_tray",
]
