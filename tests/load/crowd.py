"""Ten people at once on one collection, as the page's server has them: threads that share one open catalogue.

Each tags, moves sherds, tells of pairs and now and then sorts a lot or takes the last thing back; all of them in the same few
lots, so that they meet. Nothing is lost when every act that was told to be done is in the rows afterwards.
"""

from __future__ import annotations

import threading
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from motifs.errors import InputError, LinksContradict
from motifs.records import Term
from motifs.workflows.moves import move_sherds
from motifs.workflows.sort import sort_lot
from motifs.workflows.tagging import tag_sherds

if TYPE_CHECKING:
    from collections.abc import Callable

    from motifs.catalogue import Catalogue

KIND = "motif"
TERMS = 20
"""Terms of each person's own."""
ACTS = ("tag", "tag", "tag", "move", "move", "tell", "look", "look")


@dataclass
class Person:
    """What one person did: terms and notes of moves by sherd, pairs told, and how many seconds each kind of act took."""

    name: str
    tagged: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    moved: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    told: set[frozenset[str]] = field(default_factory=set)
    took_s: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    sorts: int = 0


def work_together(
    cat: Catalogue,
    lots: list[str],
    *,
    people: int,
    acts: int,
    seed: int,
    with_sorts: bool = False,
    think_s: float = 0.0,
) -> list[Person]:
    """Let so many people do so many acts each, at the same time; an error in any of them is raised here.

    think_s: what each lets pass between two acts, half as much to half as much again.
    """
    crowd = [Person(f"Person {place}") for place in range(people)]
    with cat.transaction(by="setup"):
        known = {term.label for term in cat.terms(KIND)}
        terms = (f"{person.name} {number}" for person in crowd for number in range(TERMS))
        cat.add_terms([Term(KIND, term) for term in terms if term not in known])
    wrong: list[BaseException] = []
    gate = threading.Barrier(people)

    def live(person: Person, place: int) -> None:
        try:
            gate.wait()
            rng = np.random.default_rng((seed, place))
            _work(cat, lots, person, rng, acts, with_sorts=with_sorts and place == 0, think_s=think_s)
        # Handed on to whoever waits for the thread.
        except BaseException as error:
            wrong.append(error)

    threads = [threading.Thread(target=live, args=(person, place)) for place, person in enumerate(crowd)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if wrong:
        raise wrong[0]
    return crowd


def _work(
    cat: Catalogue,
    lots: list[str],
    person: Person,
    rng: np.random.Generator,
    acts: int,
    *,
    with_sorts: bool,
    think_s: float,
) -> None:
    doing: dict[str, Callable[[Catalogue, str, Person, np.random.Generator], None]] = {
        "tag": _tag, "move": _move, "tell": _tell, "look": _look,
    }  # fmt: skip
    for turn in range(acts):
        lot, what = lots[int(rng.integers(len(lots)))], ACTS[int(rng.integers(len(ACTS)))]
        if with_sorts and turn % 10 == 5:
            began = time.perf_counter()
            sort_lot(cat, lots[0], by=person.name)
            person.took_s["sort"].append(time.perf_counter() - began)
            person.sorts += 1
        time.sleep(think_s * rng.uniform(0.5, 1.5))
        began = time.perf_counter()
        doing[what](cat, lot, person, rng)
        person.took_s[what].append(time.perf_counter() - began)


def _some(cat: Catalogue, lot: str, rng: np.random.Generator, count: int) -> list[str]:
    numbers = cat.sherd_numbers(lot)
    return [numbers[int(place)] for place in rng.choice(len(numbers), count, replace=False)]


def _tag(cat: Catalogue, lot: str, person: Person, rng: np.random.Generator) -> None:
    (number,) = _some(cat, lot, rng, 1)
    # Terms of her own, so that nobody else's tag can stand in for hers.
    term = f"{person.name} {int(rng.integers(TERMS))}"
    tag_sherds(cat, [number], KIND, term, by=person.name)
    person.tagged[number].add(term)


def _move(cat: Catalogue, lot: str, person: Person, rng: np.random.Generator) -> None:
    (number,) = _some(cat, lot, rng, 1)
    note = f"{person.name} {rng.integers(2**40)}"
    try:
        move_sherds(cat, lot, [number], f"{int(rng.integers(4))}", by=person.name, note=note)
    except (LinksContradict, InputError):
        return
    person.moved[number].append(note)


def _tell(cat: Catalogue, lot: str, person: Person, rng: np.random.Generator) -> None:
    a, b = _some(cat, lot, rng, 2)
    try:
        with cat.transaction(by=person.name):
            cat.tell(lot, a, b, "different")
    except (LinksContradict, InputError):
        return
    person.told.add(frozenset((a, b)))


def _look(cat: Catalogue, lot: str, person: Person, rng: np.random.Generator) -> None:
    """What drawing a page reads."""
    numbers = cat.sherd_numbers(lot)
    cat.tags_of(numbers)
    cat.attributions(lot)
    cat.history(lot, limit=20)


def lost_acts(cat: Catalogue, lots: list[str], crowd: list[Person]) -> list[str]:
    """What somebody did and is not in the rows; empty where nothing was lost."""
    lost = []
    for person in crowd:
        found = cat.tags_of(person.tagged)
        for number, terms in person.tagged.items():
            there = {tag.term for tag in found[number] if tag.by == person.name}
            lost += [f"{person.name}: tag {term} on {number}" for term in sorted(terms - there)]
    links = {frozenset((link.a, link.b)) for lot in lots for link in cat.links(lot)}
    lost += [f"{person.name}: told {sorted(pair)}" for person in crowd for pair in person.told - links]
    return lost + _not_in_history(cat, lots, crowd)


def _not_in_history(cat: Catalogue, lots: list[str], crowd: list[Person]) -> list[str]:
    """Every tag and every move has a line under the name of who did it, and the latest move of a sherd is the one that stands."""
    events = [event for lot in lots for event in cat.history(lot)]
    lines = Counter((event.by, event.verb) for event in events)
    lost = []
    for person in crowd:
        for verb, did in (("tagged", person.tagged), ("attributed", person.moved)):
            acts = sum(len(of_sherd) for of_sherd in did.values())
            if lines[person.name, verb] < acts:
                lost.append(f"{person.name}: {verb} {acts} times, {lines[person.name, verb]} lines")
    latest = {
        event.subject: event.by for event in sorted(events, key=lambda e: e.event_id) if event.verb == "attributed"
    }
    judged = {number: row for lot in lots for number, row in cat.attributions(lot).items()}
    notes = {note for person in crowd for of_sherd in person.moved.values() for note in of_sherd}
    moved = {number for person in crowd for number in person.moved}
    lost += [
        f"{number} does not lie where it was put last"
        for number in sorted(moved)
        if number not in judged or judged[number].by != latest[number] or judged[number].note not in notes
    ]
    return lost
