"""What a lot says itself of how telling its edges are: its meetings beside meetings with mirror images, which are all false.

Meetings are a mixture of joins and of chance; decoys are chance alone. With log-linear odds of a join among the meetings, the
probability that one out of both comes from the meetings is known, and the weights follow by penalised maximum likelihood around those
of practice lots: few sherds leave them where they were, many move them. (Exponential tilt mixtures: Qin 1999, Annals of
Statistics 27, 1368-1384. Decoys of the same statistics: Elias & Gygi 2007, Nature Methods 4, 207-214; weights learnt
from them: Kaell et al. 2007, Nature Methods 4, 923-925. From memory.)
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit

if TYPE_CHECKING:
    from numpy.typing import NDArray

SHARE_KNOWN: Final = 0.35
"""The share of joins among all meetings is known within this part of it."""
INTERCEPT_NATS: Final = 1.0


def adapted_weights(
    meetings: NDArray[np.float64],
    decoys: NDArray[np.float64],
    weights: NDArray[np.float64],
    intercept: float,
    stiffness: float,
    share: float,
) -> tuple[NDArray[np.float64], float]:
    """Move weights and intercept of log odds to what a lot shows.

    Parameters
    ----------
    meetings : (m, k) standardised features of meetings, some of them joins.
    decoys : (d, k) of meetings of which none is a join.
    weights, intercept : (k,) and number, as known from other lots.
    stiffness : precision of each weight about what is known.
    share : 0..1, both excluded; about so many of the meetings are joins.

    Returns
    -------
    weights, intercept
        Unchanged where there are no meetings or no decoys.
    """
    if not len(meetings) or not len(decoys):
        return weights, intercept
    table = np.concatenate([meetings, decoys])
    is_meeting = np.concatenate([np.ones(len(meetings)), np.zeros(len(decoys))])
    usual = float(np.log(len(meetings) / len(decoys) * (1 - share)))
    known = np.concatenate([weights, [intercept, usual]])
    spread = SHARE_KNOWN * share / (1 - share)
    precision = np.concatenate([np.full(len(weights), stiffness), [INTERCEPT_NATS**-2, spread**-2]])

    def loss(at: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        odds = table @ at[:-2] + at[-2]
        total = at[-1] + np.logaddexp(0, odds)
        left = is_meeting - expit(total)
        through = left * expit(odds)
        off = at - known
        value = np.logaddexp(0, total).sum() - is_meeting @ total + 0.5 * precision @ off**2
        return float(value), np.concatenate([-table.T @ through, [-through.sum(), -left.sum()]]) + precision * off

    found = minimize(loss, known, jac=True, method="L-BFGS-B").x
    return np.asarray(found[:-2]), float(found[-2])
