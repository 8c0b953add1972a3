"""Progress bars on stderr: one bar a stage, none when stderr is not a terminal."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tqdm import tqdm

    from motifs.workflows import Progress


class Bars:
    """The bar of the stage that is running; a new stage closes the bar of the one before."""

    def __init__(self) -> None:
        self._stage = ""
        self._done = 0
        self._bar: tqdm[None] | None = None

    def advance(self, stage: str, done: int, total: int) -> None:
        """Show that `done` of `total` are done."""
        from tqdm import tqdm

        if self._bar is None or stage != self._stage or done < self._done:
            self.close()
            self._stage, self._done = stage, 0
            self._bar = tqdm(total=total, desc=stage, file=sys.stderr, disable=None)
        self._bar.update(done - self._done)
        self._done = done

    def close(self) -> None:
        """Leave the last bar as it stands."""
        if self._bar is not None:
            self._bar.close()
        self._bar = None


@contextmanager
def progress_bars() -> Iterator[Progress]:
    """Yield a callback (stage, done, total)."""
    bars = Bars()
    try:
        yield bars.advance
    finally:
        bars.close()
