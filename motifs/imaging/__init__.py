"""Photograph to sherd images: decode, light, scale, foreground, outline, crop."""

from motifs.imaging.crop import cut_crop
from motifs.imaging.decode import MAX_SIDE_PX, read_photo
from motifs.imaging.hand_outline import drawn_outline, overlap_share, rim_up_deg, split_by_stroke
from motifs.imaging.outline import OutlineMeasures, draw_outlines, merge_outlines, outline_measures
from motifs.imaging.plane import outline_in_mm
from motifs.imaging.tray import read_tray

__all__ = [
    "MAX_SIDE_PX",
    "OutlineMeasures",
    "cut_crop",
    "draw_outlines",
    "drawn_outline",
    "merge_outlines",
    "outline_in_mm",
    "outline_measures",
    "overlap_share",
    "read_photo",
    "read_tray",
    "rim_up_deg",
    "split_by_stroke",
]
