"""The cues of a lot side by side in one array, so that one update serves them all.

Sherds lie along the last axis and the components of all cues along the one before it: work of a round is then a few
long loops instead of many short ones.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import digamma, gammaln

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.records import CueBlock


@dataclass(frozen=True, slots=True)
class JoinedCues:
    """B cues with D components in all over n sherds, as in records.CueBlock.

    x: (D, n). of: (D,) the cue of each component. member: (B, D) 1 where a component is of a cue. between, photo_var: (D,).
    present: (B, n) 0 or 1. certain: (B, n) presence over spread. log_spread: (B, n). size, tail, say, seen_here: (B,).
    shape, digamma_shape, divergence: (B,) of the Gamma that answers for the tail: its shape, the digamma of that, and the part of
    its divergence from the prior that no reading changes.
    """

    x: NDArray[np.float64]
    of: NDArray[np.intp]
    member: NDArray[np.float64]
    between: NDArray[np.float64]
    photo_var: NDArray[np.float64]
    present: NDArray[np.float64]
    certain: NDArray[np.float64]
    log_spread: NDArray[np.float64]
    size: NDArray[np.float64]
    tail: NDArray[np.float64]
    say: NDArray[np.float64]
    seen_here: NDArray[np.float64]
    shape: NDArray[np.float64]
    digamma_shape: NDArray[np.float64]
    divergence: NDArray[np.float64]

    def of_sherds(self, chosen: NDArray[np.intp]) -> JoinedCues:
        """The same cues over some of the sherds."""
        parts = {name: getattr(self, name)[:, chosen] for name in ("x", "present", "certain", "log_spread")}
        return replace(self, **parts)

    def with_say(self, say: NDArray[np.float64]) -> JoinedCues:
        """The same cues, each with another say."""
        return replace(self, say=say)


def join_cues(blocks: Sequence[CueBlock], count: int) -> JoinedCues:
    """Lay the blocks of `count` sherds side by side."""
    size = np.array([block.x.shape[1] for block in blocks], np.intp)
    of = np.repeat(np.arange(len(blocks)), size)
    tail = np.array([block.tail for block in blocks], float)
    present = _rows([block.present.astype(float) for block in blocks], count)
    spread = _rows([block.spread for block in blocks], count)
    shape, prior = (tail + size) / 2, tail / 2
    return JoinedCues(
        x=_rows([column for block in blocks for column in block.x.T], count),
        of=of,
        member=(of == np.arange(len(blocks))[:, None]).astype(float),
        between=_line([block.between for block in blocks]),
        photo_var=_line([block.photo_sd for block in blocks]) ** 2,
        present=present,
        certain=present / spread,
        log_spread=np.log(spread),
        size=size.astype(float),
        tail=tail,
        say=np.array([block.say for block in blocks], float),
        seen_here=np.array([block.seen_here for block in blocks], float),
        shape=shape,
        digamma_shape=digamma(shape),
        divergence=(shape - prior) * digamma(shape) - gammaln(shape) + gammaln(prior) - prior * np.log(prior),
    )


def _rows(rows: Sequence[NDArray[np.float64]], count: int) -> NDArray[np.float64]:
    return np.ascontiguousarray(np.stack(rows)) if rows else np.zeros((0, count))


def _line(parts: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    return np.concatenate([np.asarray(part, float) for part in parts]) if parts else np.zeros(0)
