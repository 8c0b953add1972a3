"""The one error tree of the project.

MotifsError                     anything this project raises on purpose
├── InputError                  the user's input is wrong: exit code 2, one clear line, nothing changed
│   ├── PhotoError              a photograph cannot be used
│   │   ├── PhotoNotFound       no such file
│   │   ├── PhotoUnreadable     empty, truncated, or not an image
│   │   ├── PhotoTooLarge       more than MAX_SIDE_PX a side
│   │   └── NoSherdFound        decoded, but no sherd stands out from the backdrop
│   ├── NameRefused             a lot, site or number that cannot be a name
│   ├── UnknownName             no such lot, sherd, site, vessel or encoder in this collection
│   ├── LinksContradict         the analyst's links cannot all hold
│   ├── Restricted              not to be shown unless unlocked with a reason
│   └── NotAllowed              the role of whoever is signed in does not cover it
├── CollectionError             the collection folder cannot be used: exit code 2
│   ├── CollectionNotWritable   no permission or no space
│   ├── CollectionTooNew        written by a newer version of this program
│   └── CollectionDamaged       a file is missing or altered
└── ModelError                  weights are missing, altered or of the wrong kind: exit code 2

A message says what is wrong, with which file or value, and what to do next. Defects raise ordinary
Python exceptions and end with exit code 1.
"""

import errno

DISK_REFUSES = frozenset(
    {errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOSPC, errno.EDQUOT, errno.ENOTDIR, errno.EFBIG}
)
"""What an operating system says where a place cannot be written to: rights, a read-only disk, no space, too large a file."""
DISK_IS_FULL = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS})
"""Of these, what can meet any step of any work, also in the system's folder for temporary files."""


def disk_words(wrong: OSError) -> str | None:
    """One line for a full or read-only disk that no step expected; None for another error of the operating system."""
    if wrong.errno not in DISK_IS_FULL:
        return None
    where = f" at '{wrong.filename}'" if wrong.filename else ""
    reason = (wrong.strerror or "no space left").lower()
    return f"the disk refuses{where} ({reason}); free some space and do it again, nothing of this step was kept"


class MotifsError(Exception):
    """Base of every error raised on purpose."""


class InputError(MotifsError):
    """The user's input is wrong."""


class PhotoError(InputError):
    """A photograph cannot be used."""


class PhotoNotFound(PhotoError):
    """No such file."""


class PhotoUnreadable(PhotoError):
    """Empty, truncated or not an image."""


class PhotoTooLarge(PhotoError):
    """More pixels a side than the program takes."""


class NoSherdFound(PhotoError):
    """Nothing stands out from the backdrop."""


class NameRefused(InputError):
    """A lot, site or catalogue number that cannot be a name."""


class UnknownName(InputError):
    """No such lot, sherd, site, vessel or encoder."""


class LinksContradict(InputError):
    """Two links of the analyst cannot both hold."""


class Restricted(InputError):
    """Kept back: burial, sacred, asked for by a community, under embargo."""


class NotAllowed(InputError):
    """Not signed in, or signed in with a role that does not cover it."""


class CollectionError(MotifsError):
    """The collection folder cannot be used."""


class CollectionNotWritable(CollectionError):
    """No permission or no space."""


class CollectionTooNew(CollectionError):
    """Written by a newer version of this program."""


class CollectionDamaged(CollectionError):
    """A file is missing or altered."""


class ModelError(MotifsError):
    """Weights are missing, altered or of the wrong kind."""
