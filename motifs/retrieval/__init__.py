"""Nearest neighbours of unit vectors, where decorations agree, and how good a retrieval is."""

from motifs.retrieval.agreement import Agreement, AgreementSettings, agreement_of
from motifs.retrieval.expansion import Expansion, search_expanded
from motifs.retrieval.index import VectorIndex
from motifs.retrieval.interface import NeighbourIndex
from motifs.retrieval.large import LargeIndex, LargePlan
from motifs.retrieval.likeness import Likeness, calibration_error, load_likeness, save_likeness
from motifs.retrieval.live import LiveIndex
from motifs.retrieval.lots import LotAverage, averaged_in_lots, averaged_with, centred
from motifs.retrieval.measures import average_precision, mean_average_precision, precision_at_1, recall_at_k

__all__ = [
    "Agreement",
    "AgreementSettings",
    "Expansion",
    "LargeIndex",
    "LargePlan",
    "Likeness",
    "LiveIndex",
    "LotAverage",
    "NeighbourIndex",
    "VectorIndex",
    "agreement_of",
    "average_precision",
    "averaged_in_lots",
    "averaged_with",
    "calibration_error",
    "centred",
    "load_likeness",
    "mean_average_precision",
    "precision_at_1",
    "recall_at_k",
    "save_likeness",
    "search_expanded",
]
