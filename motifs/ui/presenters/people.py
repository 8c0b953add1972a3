"""Who may do what where a lab shares the page: three roles, told by a file of the collection.

`people.toml` in the collection's folder, beside the catalogue, read anew whenever it changes::

    others = "look"            # whoever signs in and is not listed; left out: nobody else comes in

    [[person]]
    address = "m.oduya@lab.example"
    name = "M. Oduya"          # as it stands in the record
    role = "manage"            # look, tag or manage
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from enum import IntEnum
from functools import lru_cache
from typing import TYPE_CHECKING

from motifs.catalogue import check_name
from motifs.errors import InputError, NameRefused, NotAllowed

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

FILE = "people.toml"
MOST_BYTES = 1_000_000


class Role(IntEnum):
    """What somebody may do; each may do what those before it may."""

    LOOK = 1
    TAG = 2
    MANAGE = 3

    @property
    def word(self) -> str:
        """As the file writes it."""
        return self.name.lower()


ROLES = {role.word: role for role in Role}


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody at the page. name: as it goes on record, empty where nobody typed one yet."""

    name: str
    role: Role
    is_signed_in: bool = False


@dataclass(frozen=True, slots=True)
class People:
    """What the file says. by_address: in small letters; others: the role of whoever signs in and is not listed, or None."""

    by_address: Mapping[str, Person] = field(default_factory=dict)
    others: Role | None = None


def read_people(folder: Path) -> People:
    """Read the file of a collection; without one, nobody is listed.

    Raises
    ------
    InputError
        The file cannot be read or says something else than the above; nobody comes in until it is mended.
    """
    file = folder / FILE
    try:
        stamp = file.stat()
    except FileNotFoundError:
        return People()
    except OSError as wrong:
        raise InputError(f"'{FILE}' of the collection cannot be read ({wrong.strerror}); see to its rights") from wrong
    return _read(file, stamp.st_mtime_ns, stamp.st_size, stamp.st_ino)


@lru_cache(maxsize=8)
def _read(file: Path, _changed: int, size: int, _inode: int) -> People:
    if size > MOST_BYTES:
        raise InputError(f"'{FILE}' is larger than {MOST_BYTES / 1e6:.0f} MB; it lists people, one table each")
    try:
        content = tomllib.loads(file.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as wrong:
        raise InputError(f"'{FILE}' of the collection is no TOML ({' '.join(str(wrong).split())}); mend it") from wrong
    strange = sorted(set(content) - {"others", "person"})
    if strange:
        raise InputError(f"'{FILE}': '{strange[0]}' is nothing it can say; it takes others and [[person]]")
    others = _role(content["others"], "others") if "others" in content else None
    return People(_listed(content.get("person", [])), others)


def _listed(entries: object) -> dict[str, Person]:
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise InputError(f"'{FILE}': people are written as [[person]], each with address, name and role")
    people: dict[str, Person] = {}
    for place, entry in enumerate(entries, start=1):
        address, person = _one(entry, f"person {place}")
        if address in people or person.name in {other.name for other in people.values()}:
            raise InputError(f"'{FILE}', person {place}: its address or name is listed twice; one person, one name")
        people[address] = person
    return people


def _one(entry: dict[str, object], where: str) -> tuple[str, Person]:
    if set(entry) != {"address", "name", "role"} or not all(isinstance(value, str) for value in entry.values()):
        raise InputError(f"'{FILE}', {where}: it takes address, name and role, each a text in quotes")
    address, name = str(entry["address"]).strip().casefold(), str(entry["name"])
    if "@" not in address:
        raise InputError(f"'{FILE}', {where}: '{address[:60]}' is no address; write the one she signs in with")
    try:
        name = check_name(name, "person")
    except NameRefused as wrong:
        raise InputError(f"'{FILE}', {where}: {wrong}") from wrong
    return address, Person(name, _role(entry["role"], where), is_signed_in=True)


def _role(word: object, where: str) -> Role:
    if word not in ROLES:
        raise InputError(f"'{FILE}', {where}: {str(word)[:40]!r} is no role; write look, tag or manage")
    return ROLES[str(word)]


def person_of(claims: Mapping[str, object], people: People) -> Person:
    """The person that the log-in service vouches for.

    Parameters
    ----------
    claims : of the identity token (OpenID Connect Core 1.0, section 5.1): `email`, and `email_verified` where the service says it.
    people : as the collection's file lists them.

    Raises
    ------
    NotAllowed
        No address, one the service has not verified, or nobody who may come in.
    """
    address = str(claims.get("email") or "").strip().casefold()
    if not address:
        raise NotAllowed("the log-in service gave no e-mail address; ask whoever runs it to pass on the claim email")
    # Some services write the truth value as a text.
    if str(claims.get("email_verified", True)).casefold() == "false":
        raise NotAllowed(
            f"the log-in service has not verified the address {address}; have it verified and sign in again"
        )
    listed = people.by_address.get(address)
    if listed is not None:
        return listed
    if people.others is None:
        raise NotAllowed(f"{address} is not among the people of this collection; ask whoever manages it to add you")
    # An address names one person only; the name in a token is whatever its owner typed.
    return Person(address, people.others, is_signed_in=True)
