"""Long fuzz of the decoder: `python -m tests.imaging.fuzz_decode 5000`."""

import sys
import tempfile
from pathlib import Path

from tests.imaging.test_decode import fuzz


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    with tempfile.TemporaryDirectory() as folder:
        read, refused = fuzz(Path(folder), count, seed=int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    print(f"{count} mutated files: {read} still readable, {refused} refused with one line, no other exception")


if __name__ == "__main__":
    main()
