"""Evidence and constraints -> vessels, with support, number and questions. Numpy in, records out."""

from motifs.vessels.sorting import LEAST_SHARE, SupportCurve, sort_sherds

__all__ = ["LEAST_SHARE", "SupportCurve", "sort_sherds"]
