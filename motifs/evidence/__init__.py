"""The cues of a sherd and of a pair of sherds, and their calibration. Numpy in, records out."""

from motifs.evidence.calibration import Calibration, CueModel, load_calibration, lot_blocks, save_calibration
from motifs.evidence.comparing import compare_sherds, vessel_votes
from motifs.evidence.fitting import KnownLot, fit_calibration
from motifs.evidence.measuring import VERSION, measure_sherd
from motifs.evidence.polarity import settle_polarity

__all__ = [
    "VERSION",
    "Calibration",
    "CueModel",
    "KnownLot",
    "compare_sherds",
    "fit_calibration",
    "load_calibration",
    "lot_blocks",
    "measure_sherd",
    "save_calibration",
    "settle_polarity",
    "vessel_votes",
]
