"""The program's command line kept open: reads one JSON list of arguments a line, answers one JSON line.

Runs `motifs` as `python -m` would, only that Python and its libraries stay loaded between commands; for
measures that need hundreds of commands.
"""

from __future__ import annotations

import contextlib
import io
import json
import runpy
import sys


def run_once(arguments: list[str]) -> dict[str, object]:
    """One command: exit code, stdout and stderr."""
    out, err, code = io.TextIOWrapper(io.BytesIO(), "utf-8"), io.TextIOWrapper(io.BytesIO(), "utf-8"), 0
    sys.argv = ["motifs", *arguments]
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            runpy.run_module("motifs", run_name="__main__", alter_sys=True)
        except SystemExit as stop:
            code = stop.code if isinstance(stop.code, int) else int(stop.code is not None)
    return {"code": code, "out": _text(out), "err": _text(err)}


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    buffer = stream.buffer
    return buffer.getvalue().decode("utf-8") if isinstance(buffer, io.BytesIO) else ""


def main() -> None:
    """Answer until the input ends."""
    answers = sys.stdout
    for line in sys.stdin:
        answers.write(json.dumps(run_once(json.loads(line))) + "\n")
        answers.flush()


if __name__ == "__main__":
    main()
