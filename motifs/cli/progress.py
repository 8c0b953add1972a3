"""Progress bars on stderr: one bar a stage, none when stderr is not a terminal."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tqdm import tqdm

    from motifs.workflows import Progress


@contextmanager
def progress_bars() -> Iterator[Progress]:
    """Yield a callback (stage, done, total); a new stage closes the bar of the one before."""
    from tqdm import tqdm

    bars: list[tqdm[object]] = []

    def advance(stage: str, done: int, total: int) -> None:
        if not bars or bars[-1].desc.rstrip(": ") != stage:
            if bars:
                bars[-1].close()
            bars.append(tqdm(total=total, desc=stage, file=sys.stderr, disable=None, leave=True))
        bars[-1].total = total
        bars[-1].update(done - bars[-1].n)

    try:
        yield advance
    finally:
        if bars:
            bars[-1].close()
