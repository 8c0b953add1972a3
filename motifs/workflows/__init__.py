"""One verb each: what the command line and the page do, as functions of a catalogue and plain arguments.

Every function returns a frozen record and knows nothing of who asked. `pipeline` tells the whole method on one
screen. Nothing heavy is imported here; import the verb you want, as in `from motifs.workflows.sort import sort_lot`.
"""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, int, int], None]
"""Told (stage, done, total) as work goes on; never needed for the result."""

__all__ = ["Progress"]
