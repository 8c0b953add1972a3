"""Writers of one program wait in a line, first come, first served.

SQLite lets a writer that waits look again now and then, at longer and longer intervals, and whoever looks at the right moment goes
first: among ten people at one page the unlucky waited seconds. Writers of other programs wait at the database, as before.
"""

from __future__ import annotations

import threading
from collections import deque
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator


class WritersLine:
    """One at a time, in the order they came."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._waiting: deque[threading.Event] = deque()
        self._is_taken = False

    @contextmanager
    def turn(self, timeout_s: float) -> Iterator[bool]:
        """Wait for one's turn, and hold it; gives False, and holds nothing, where it did not come in this time."""
        has_turn = self._take(timeout_s)
        try:
            yield has_turn
        finally:
            if has_turn:
                self._hand_on()

    def _take(self, timeout_s: float) -> bool:
        called = threading.Event()
        with self._guard:
            if not self._is_taken:
                self._is_taken = True
                return True
            self._waiting.append(called)
        if called.wait(timeout_s):
            return True
        with self._guard:
            if called in self._waiting:
                self._waiting.remove(called)
                return False
        return True  # called at the last moment

    def _hand_on(self) -> None:
        with self._guard:
            if self._waiting:
                self._waiting.popleft().set()
            else:
                self._is_taken = False
