"""What holds for every test: nothing is remembered in the user's own cache folder."""

from __future__ import annotations

import os

from motifs.embedding.choices import CACHE_VARIABLE

os.environ.setdefault(CACHE_VARIABLE, "")
