"""Nearest neighbours of unit vectors, and how good they are."""

from motifs.retrieval.expansion import Expansion, search_expanded
from motifs.retrieval.index import VectorIndex
from motifs.retrieval.interface import NeighbourIndex
from motifs.retrieval.measures import average_precision, mean_average_precision, precision_at_1, recall_at_k

__all__ = [
    "Expansion",
    "NeighbourIndex",
    "VectorIndex",
    "average_precision",
    "mean_average_precision",
    "precision_at_1",
    "recall_at_k",
    "search_expanded",
]
