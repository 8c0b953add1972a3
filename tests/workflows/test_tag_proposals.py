"""Proposed tags: who speaks for a term, what is never proposed, and what would teach most; no network here."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.errors import InputError, UnknownName
from motifs.retrieval import Likeness
from motifs.workflows import compared, vectors
from motifs.workflows.tag_proposals import accept_proposal, propose_tags, refuse_proposal, teaching_sherds
from motifs.workflows.vectors import comparanda_encoder
from tests.workflows.conftest import LOT, OTHER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue
    from motifs.embedding import EncoderSpec
    from motifs.records import SherdCrop

PROTOTYPES = 3


def by_place(spec: EncoderSpec, crops: Sequence[SherdCrop]) -> np.ndarray:
    """Unit vectors near one of three prototypes; which one goes round with the order of encoding."""
    rng = np.random.default_rng(1)
    rows = [np.eye(spec.dim)[i % PROTOTYPES] + 0.02 * rng.normal(size=spec.dim) for i in range(len(crops))]
    table = np.array(rows, np.float32)
    return table / np.linalg.norm(table, axis=1, keepdims=True)


@pytest.fixture(autouse=True)
def _known_vectors(monkeypatch: pytest.MonkeyPatch) -> None:
    curves = Likeness(
        "x", (0.0,) * comparanda_encoder().dim, (-4.0, 9.0), (-4.0, 9.0, 0.1), (0.3, 1.0, 0.5), {}, "a test"
    )
    monkeypatch.setattr(vectors, "encode_crops", by_place)
    monkeypatch.setattr(compared, "likeness_of", lambda spec: curves)
    compared.forget_compared()


def alike(cat: Catalogue) -> dict[int, list[str]]:
    """Numbers by prototype, as encoded: photo by photo, in catalogue order."""
    order = [sherd.number for sherd in sorted(cat.sherds(), key=lambda sherd: sherd.photo_id)]
    return {group: order[group::PROTOTYPES] for group in range(PROTOTYPES)}


def tag(cat: Catalogue, number: str, term: str, kind: str = "motif") -> None:
    with cat.transaction(by="M. Oduya"):
        cat.add_tag(number, term, kind)


def test_the_neighbours_tag_is_proposed_with_its_witness(cat: Catalogue) -> None:
    spirals, hooks, _ = alike(cat).values()
    tag(cat, spirals[0], "spiral")
    tag(cat, hooks[0], "hook")
    found = propose_tags(cat, [cat.sherd(spirals[1]), cat.sherd(hooks[1])], by="test")
    first = found[spirals[1]][0]
    assert (first.term, first.kind) == ("spiral", "motif")
    assert first.confidence > 0.8
    assert [(one.sherd, one.by) for one in first.witnesses] == [(spirals[0], "M. Oduya")]
    assert first.witnesses[0].probability > 0.9
    assert found[hooks[1]][0].term == "hook"
    assert all(one.confidence < 0.5 for one in found[spirals[1]][1:])


def test_witnesses_that_disagree_lower_the_confidence(cat: Catalogue) -> None:
    one, two, asked, *_ = alike(cat)[0]
    tag(cat, one, "spiral")
    alone = propose_tags(cat, [cat.sherd(asked)], by="test")[asked][0].confidence
    tag(cat, two, "hook")
    split = propose_tags(cat, [cat.sherd(asked)], by="test")[asked][0].confidence
    assert split < alone


def test_accepted_is_a_persons_tag_and_refused_stays_refused(cat: Catalogue) -> None:
    one, two, three, *_ = alike(cat)[0]
    tag(cat, one, "spiral")
    proposal = propose_tags(cat, [cat.sherd(two)], by="test")[two][0]
    row = accept_proposal(cat, proposal, by="Tamsin Hale")
    assert (row.term, row.by) == ("spiral", "Tamsin Hale")
    assert propose_tags(cat, [cat.sherd(two)], by="test")[two] == ()
    refuse_proposal(cat, three, "motif", "spiral", by="Tamsin Hale")
    assert propose_tags(cat, [cat.sherd(three)], by="test")[three] == ()
    assert cat.tags(three) == ()
    with cat.transaction(by="Tamsin Hale"):
        cat.undo(three.rsplit("-", 1)[0])
    assert propose_tags(cat, [cat.sherd(three)], by="test")[three][0].term == "spiral"


def test_only_what_looking_alike_tells_of_is_proposed(cat: Catalogue) -> None:
    one, two, *_ = alike(cat)[0]
    for kind in ("technique", "position", "condition"):
        tag(cat, one, "anything", kind)
    assert propose_tags(cat, [cat.sherd(two)], by="test")[two] == ()


def test_nothing_tagged_nothing_proposed(cat: Catalogue) -> None:
    assert set(propose_tags(cat, cat.sherds(LOT), by="test").values()) == {()}
    assert propose_tags(cat, [], by="test") == {}
    with pytest.raises(InputError):
        propose_tags(cat, [], least_confidence=1.5, by="test")


def test_without_curves_it_says_what_to_do(cat: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(compared, "likeness_of", lambda spec: None)
    compared.forget_compared()
    with pytest.raises(InputError, match=r"motifs\.training\.likeness"):
        propose_tags(cat, cat.sherds(LOT), by="test")


def test_one_of_each_kind_teaches_most(cat: Catalogue) -> None:
    """Twelve sherds of three decorations: the first three to tag are one of each; then nothing much is left to learn."""
    groups = alike(cat)
    chosen = teaching_sherds(cat, top=5, by="test")
    of = {number: group for group, numbers in groups.items() for number in numbers}
    assert {of[one.sherd] for one in chosen[:3]} == {0, 1, 2}
    assert all(one.settles == 4 for one in chosen[:3])
    assert chosen[2].gain > 3 * chosen[3].gain
    tag(cat, groups[0][0], "spiral")
    assert of[teaching_sherds(cat, top=1, by="test")[0].sherd] != 0
    assert {one.sherd.rsplit("-", 1)[0] for one in teaching_sherds(cat, OTHER, top=9, by="test")} == {OTHER}
    with pytest.raises(UnknownName):
        teaching_sherds(cat, "nowhere", by="test")
