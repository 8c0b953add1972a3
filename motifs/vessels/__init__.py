"""Evidence and constraints -> vessels, with support, number and questions. Numpy in, records out."""

from motifs.vessels.sorting import LEAST_SHARE, TELLING_NATS, HeldSherds, SupportCurve, hold_sherds, sort_sherds

__all__ = ["LEAST_SHARE", "TELLING_NATS", "HeldSherds", "SupportCurve", "hold_sherds", "sort_sherds"]
