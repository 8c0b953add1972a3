"""What the program answers to the same questions on the same collection, as one JSON document: `python -m tests.faults.answers FOLDER`.

Run twice, or with another number of threads, it has to say the same. Vectors are rounded by nobody here: they are compared
within the tolerance that the encoders state.
"""

from __future__ import annotations

import contextlib
import io
import json
import sys
from pathlib import Path
from typing import Any

from motifs.catalogue import Catalogue
from motifs.cli import main
from motifs.workflows.vectors import comparanda_encoder, vector_key
from tests.faults.jobs import LOT

QUESTIONS = {
    "sort": ("sort", LOT),
    "encode": ("comparanda", f"{LOT}-001"),
    "joins": ("joins", LOT),
    "symmetry": ("symmetry", f"{LOT}-002"),
    "sites": ("sites",),
    "layout": ("layout", LOT, "--vessel", "0"),
}


def answers(collection: Path) -> dict[str, Any]:
    """Ask them all, in this order; tags come first, so that sites have something to be compared by."""
    _asked(collection, "tag", f"{LOT}-001", f"{LOT}-002", "C-1-001", "--put", "motif", "scroll", "--new")
    _asked(collection, "tag", f"{LOT}-003", "C-1-002", "--put", "motif", "spiral", "--new")
    said = {name: _asked(collection, *line) for name, line in QUESTIONS.items()}
    with Catalogue.open(collection) as cat:
        kept = cat.vectors(vector_key(comparanda_encoder()), [sherd.number for sherd in cat.sherds()])
    said["vectors"] = {number: [float(value) for value in row] for number, row in kept.items()}
    return said


def _asked(collection: Path, *line: str) -> Any:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        code = main(["--collection", str(collection), *line, "--json"])
    assert code == 0, line
    return json.loads(out.getvalue())


if __name__ == "__main__":
    print(json.dumps(answers(Path(sys.argv[1]))))
