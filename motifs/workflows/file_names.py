"""Names of people's things as names of files that every system takes."""

from __future__ import annotations

import hashlib

MOST_BYTES = 150
"""File systems take 255 bytes a name; an ending, a prefix and a temporary name's sign have to fit as well."""


def file_stem(name: str, *, most_bytes: int = MOST_BYTES) -> str:
    """Return a name as part of a file's name.

    Signs that file systems dislike become '_'. A name that is too long is cut, and a short sum of the whole of it is put at the end,
    so that two long names that begin alike stay two files.

    Parameters
    ----------
    name : of a lot, a site or a sheet.
    most_bytes : how long it may be in UTF-8, 20 or more.
    """
    plain = "".join(sign if sign.isalnum() or sign in "-_ ." else "_" for sign in name).strip(" .") or "_"
    if len(plain.encode()) <= most_bytes:
        return plain
    cut = plain.encode()[: most_bytes - 9].decode("utf-8", "ignore").rstrip(" .")
    return f"{cut} {hashlib.sha256(name.encode()).hexdigest()[:8]}"
