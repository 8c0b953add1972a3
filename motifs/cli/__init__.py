"""The command line: one module a command, each parse -> workflow -> print.

Nothing heavy is imported before a command runs, so that `--help` answers at once.
"""

from __future__ import annotations

from motifs.cli.entry import COMMANDS, main

__all__ = ["COMMANDS", "main"]
