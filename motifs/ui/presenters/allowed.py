"""Which role each action of the page takes. What is not listed takes the highest, so that nothing new is open by oversight."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.errors import NotAllowed
from motifs.ui.presenters.people import FILE, Role

if TYPE_CHECKING:
    from collections.abc import Callable

    from motifs.ui.presenters.people import Person

ACTIONS_PACKAGE = "motifs.ui.actions."

MODULES = {
    "boxes": Role.TAG,
    "comparanda": Role.TAG,
    "confirming": Role.TAG,
    "layout": Role.TAG,
    "outlines": Role.TAG,
    "photographs": Role.MANAGE,
    "practice": Role.LOOK,
    "records": Role.TAG,
    "report": Role.TAG,
    "second_look": Role.TAG,
    "sorting": Role.TAG,
    "tag_proposals": Role.TAG,
    "tagging": Role.TAG,
    "vocabulary": Role.MANAGE,
}
"""Role that the actions of a module take. Practice changes nothing but what is kept of the learner herself."""

ACTIONS = {
    "records.restrict": Role.MANAGE,
    "records.lift": Role.MANAGE,
    "records.unlock": Role.MANAGE,
    "photographs.set_scale": Role.TAG,
}
"""Actions that differ from the rest of their module."""

JOBS = {
    "comparanda": Role.LOOK,
    "propose_tags": Role.LOOK,
    "sort_exercise": Role.LOOK,
    "make_exercise": Role.TAG,
    "quiz_bank": Role.TAG,
    "take_in_table": Role.MANAGE,
    "write_out": Role.MANAGE,
    "make_report": Role.TAG,
    "sort": Role.TAG,
    "lay_out": Role.TAG,
    "read_labels": Role.TAG,
    "take_backs": Role.MANAGE,
    "intake": Role.MANAGE,
}
"""Role that a long job takes, by its name."""


def action_name(work: Callable[..., object]) -> str:
    """The action that a piece of work belongs to, as "module.function"."""
    return f"{work.__module__.removeprefix(ACTIONS_PACKAGE)}.{work.__qualname__.partition('.')[0]}"


def role_of_action(name: str) -> Role:
    """The role that an action takes."""
    return ACTIONS.get(name, MODULES.get(name.partition(".")[0], Role.MANAGE))


def role_of_job(job: str) -> Role:
    """The role that a job takes."""
    return JOBS.get(job, Role.MANAGE)


def require(person: Person, needed: Role) -> None:
    """Refuse what a role does not cover.

    Raises
    ------
    NotAllowed
        The role is below what is needed.
    """
    if person.role < needed:
        raise NotAllowed(
            f"this takes the role {needed.word}, and yours is {person.role.word}; nothing was changed. "
            f"Whoever keeps {FILE} of the collection can give it to you"
        )
