"""Comparanda: who may be found, in which order, how probable and where; the order against plain numpy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.errors import InputError, UnknownName
from motifs.retrieval import Likeness
from motifs.retrieval.diffusion import diffused_similarity
from motifs.retrieval.likeness import ListedCurve
from motifs.workflows import comparanda, compared, vectors
from motifs.workflows.comparanda import find_comparanda
from motifs.workflows.correct import drop, merge, set_site
from motifs.workflows.narrowing import Narrowing
from motifs.workflows.vectors import comparanda_encoder, vector_key
from tests.workflows.conftest import LOT, OTHER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue
    from motifs.embedding import EncoderSpec
    from motifs.records import SherdCrop

QUERY = f"{LOT}-001"


def fake_encode(spec: EncoderSpec, crops: Sequence[SherdCrop]) -> np.ndarray:
    """Deterministic unit vectors of the encoder's length, from the crop's mean colour: no network needed here."""
    rows = []
    for crop in crops:
        seed = int(crop.image[crop.mask].mean() * 1000)
        rows.append(np.random.default_rng(seed).normal(size=spec.dim))
    table = np.array(rows, np.float32)
    return table / np.linalg.norm(table, axis=1, keepdims=True)


CURVES = (-1.0, 4.0)


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(vectors, "encode_crops", fake_encode)
    monkeypatch.setattr(comparanda, "encode_crops", fake_encode)
    monkeypatch.setattr(
        comparanda.find_comparanda, "__kwdefaults__", {**comparanda.find_comparanda.__kwdefaults__, "checked": 0}
    )
    monkeypatch.setattr(compared, "likeness_of", lambda spec: None)


LISTED = ListedCurve(-0.9, 0.3, 0.7, 0.0, 0.1)


def give_likeness(monkeypatch: pytest.MonkeyPatch, listed: ListedCurve | None = None) -> None:
    """Let the encoder have fitted curves, with a mean of zero."""
    dim = comparanda_encoder().dim
    curves = Likeness("x", (0.0,) * dim, CURVES, (-1.0, 4.0, 0.5), (0.0, 1.0, 1.0), {}, "a test", listed)
    monkeypatch.setattr(compared, "likeness_of", lambda spec: curves)
    compared.forget_compared()


def test_order_and_similarity_are_cosines_of_vectors_averaged_in_their_lots(cat: Catalogue) -> None:
    """The definition in plain numpy: four most alike of the own lot, weighed by similarity to the power 2.5."""
    found = find_comparanda(cat, QUERY, top=5, by="test")
    sherds = cat.sherds()
    kept = cat.vectors(vector_key(comparanda_encoder()), [sherd.number for sherd in sherds])
    means = {}
    for sherd in sherds:
        lot = [kept[other.number].astype(float) for other in sherds if other.lot == sherd.lot]
        near = sorted(lot, key=lambda v, own=kept[sherd.number]: -float(v @ own))[:4]
        total = sum(max(float(v @ kept[sherd.number]), 0.0) ** 2.5 * v for v in near)
        means[sherd.number] = total / np.linalg.norm(total)
    cosines = {number: float(mean @ means[QUERY]) for number, mean in means.items() if number != QUERY}
    expected = sorted(cosines, key=lambda number: -cosines[number])[:5]
    assert [near.sherd for near in found.neighbours] == expected
    assert [near.rank for near in found.neighbours] == [1, 2, 3, 4, 5]
    assert [near.similarity for near in found.neighbours] == pytest.approx([cosines[n] for n in expected], abs=1e-5)
    assert found.compared == 11
    assert found.is_comparable is None


def test_a_probability_and_a_verdict_where_the_encoder_has_curves(
    cat: Catalogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(InputError, match="no fitted likeness"):
        find_comparanda(cat, QUERY, least_probability=0.5, by="test")
    give_likeness(monkeypatch)
    found = find_comparanda(cat, QUERY, top=99, by="test")
    for near in found.neighbours:
        assert near.probability == pytest.approx(1 / (1 + np.exp(1.0 - 4.0 * near.similarity)), abs=1e-4)
    assert found.is_comparable is any((near.probability or 0.0) >= 0.5 for near in found.neighbours)
    at_sites = find_comparanda(cat, QUERY, other_sites=True, by="test")
    assert at_sites.is_comparable is False
    assert "nothing comparable" in at_sites.notes[-1]
    assert len(at_sites.neighbours) == 4
    assert find_comparanda(cat, QUERY, least_probability=0.99, other_sites=True, by="test").neighbours == ()


def test_several_sherds_are_one_query(cat: Catalogue) -> None:
    """The vector is the mean of theirs; none of them is found; order and repetition do not matter."""
    one, two = f"{LOT}-002", f"{LOT}-005"
    found = find_comparanda(cat, QUERY, others=(one, two), top=99, by="test")
    assert {near.sherd for near in found.neighbours}.isdisjoint({QUERY, one, two})
    assert found.others == (one, two)
    again = find_comparanda(cat, one, others=(two, QUERY, one), top=99, by="test")
    assert [near.sherd for near in again.neighbours] == [near.sherd for near in found.neighbours]
    with pytest.raises(InputError, match="box"):
        find_comparanda(cat, QUERY, others=(one,), box_px=(0, 0, 50, 50), by="test")


def test_narrowed_by_site_lot_tag_and_words(cat: Catalogue) -> None:
    with cat.transaction(by="test"):
        cat.add_tag(f"{OTHER}-001", "Running Spiral", "motif")
        cat.add_tag(f"{OTHER}-002", "rim", "position")
        cat.add_tag(f"{LOT}-003", "rim", "motif")
        cat.save_record(f"{OTHER}-001", OTHER, {"period": "Early Reed phase"})

    def numbers(**conditions: object) -> set[str]:
        wanted = Narrowing(**conditions)  # type: ignore[arg-type]
        return {near.sherd for near in find_comparanda(cat, QUERY, top=99, narrowing=wanted, by="test").neighbours}

    everything = {sherd.number for sherd in cat.sherds()} - {QUERY}
    hill = {number for number in everything if number.startswith(OTHER)}
    assert numbers() == everything
    assert numbers(sites=("Marl Hill",)) == numbers(lots=(OTHER,)) == hill
    assert numbers(sites=("Marl Hill", "Kestrel Ford")) == everything
    assert numbers(tags=("running spiral",)) == numbers(text="marl SPIRAL") == {f"{OTHER}-001"}
    assert numbers(positions=("rim",)) == {f"{OTHER}-002"}
    assert numbers(periods=("early reed  phase",)) == {f"{OTHER}-001"}
    assert numbers(periods=("Late Reed phase",)) == set()
    assert numbers(tags=("rim",)) == {f"{OTHER}-002", f"{LOT}-003"}
    assert numbers(tags=("rim",), sites=("Kestrel Ford",)) == {f"{LOT}-003"}
    assert numbers(techniques=("rim",)) == numbers(text="spiral kestrel") == set()
    with pytest.raises(UnknownName, match="Nowhere"):
        numbers(sites=("Nowhere",))


def test_a_changed_outline_or_site_is_never_answered_from_memory(cat: Catalogue) -> None:
    before = find_comparanda(cat, QUERY, top=99, by="test")
    set_site(cat, OTHER, "Elder Bank", by="test")
    sherd = cat.sherd(f"{LOT}-002")
    middle = sherd.outline_px.mean(axis=0)
    with cat.transaction(by="test"):
        cat.replace_outline(sherd.number, ((sherd.outline_px - middle) * 0.6 + middle).astype(np.float32))
    after = find_comparanda(cat, QUERY, top=99, by="test")
    assert {near.site for near in after.neighbours} == {"Kestrel Ford", "Elder Bank"}
    was = {near.sherd: near.similarity for near in before.neighbours}
    assert {near.sherd: near.similarity for near in after.neighbours}[f"{LOT}-002"] != was[f"{LOT}-002"]


def test_a_curve_for_lists_orders_by_way_of_neighbours(cat: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    """Others that may not be found, the query's own lot say, still show the way; stated probabilities follow the order."""
    give_likeness(monkeypatch, LISTED)
    ready = compared.compared_sherds(cat, comparanda_encoder(), by="test")
    others = [number for number in ready.sherds if number != QUERY]
    ways = diffused_similarity(ready.vector_of([QUERY]), ready.vectors_of(others))
    near = dict(zip(others, ways.tolist(), strict=True))
    for narrowed_to in (None, "C-1"):
        narrowing = None if narrowed_to is None else Narrowing(lots=(narrowed_to,))
        found = find_comparanda(cat, QUERY, top=99, narrowing=narrowing, by="test").neighbours
        listed = [one.sherd for one in found]
        expected = [n for n in others if narrowed_to is None or ready.sherds[n].lot == narrowed_to]
        assert sorted(listed) == sorted(expected)
        assert [near[n] for n in listed] == sorted((near[n] for n in listed), reverse=True)
        stated = [one.probability or 0.0 for one in found]
        assert stated == sorted(stated, reverse=True)
        assert 0.0 < stated[-1] < stated[0] < 1.0


def test_regions_lie_on_both_crops(cat: Catalogue) -> None:
    """With the real network: a sherd is laid over others of the same drawn lines, and the outlines are on the crops."""
    found = find_comparanda(cat, QUERY, top=3, checked=3, by="test")
    crops = {number: cat.crop(number) for number in (QUERY, *(near.sherd for near in found.neighbours))}
    strengths = []
    for near in found.neighbours:
        assert near.regions is not None
        assert near.regions.query == QUERY
        strengths.append(near.regions.strength)
        for ring, number in ((near.regions.query_px, QUERY), (near.regions.other_px, near.sherd)):
            crop = crops[number]
            assert crop is not None
            height, width = crop.mask.shape
            assert all(-25 <= x <= width + 25 and -25 <= y <= height + 25 for x, y in ring)
    assert max(strengths) > 1.0
    values = [
        near.similarity + comparanda.AGREEMENT_WEIGHT * s for near, s in zip(found.neighbours, strengths, strict=True)
    ]
    assert values == sorted(values, reverse=True)


def test_the_query_is_never_its_own_neighbour(cat: Catalogue) -> None:
    for sherd in cat.sherds():
        assert sherd.number not in {
            near.sherd for near in find_comparanda(cat, sherd.number, by="test", top=99).neighbours
        }


def test_other_sites_leaves_out_the_own_site_only(cat: Catalogue) -> None:
    found = find_comparanda(cat, QUERY, top=99, other_sites=True, by="test")
    assert {near.lot for near in found.neighbours} == {OTHER}
    assert {near.site for near in found.neighbours} == {"Marl Hill"}


def test_lots_without_a_site_cannot_be_other_sites_and_that_is_said(cat: Catalogue) -> None:
    set_site(cat, OTHER, None, by="test")
    found = find_comparanda(cat, QUERY, other_sites=True, by="test")
    assert found.neighbours == ()
    assert OTHER in found.notes[0]
    assert "nothing comparable" in found.notes[1]
    with pytest.raises(InputError, match="site of"):
        find_comparanda(cat, f"{OTHER}-001", other_sites=True, by="test")


def test_a_box_of_the_whole_crop_is_the_sherd(cat: Catalogue) -> None:
    crop = cat.crop(QUERY)
    assert crop is not None
    height, width = crop.mask.shape
    whole = find_comparanda(cat, QUERY, box_px=(0, 0, width, height), by="test")
    assert whole.neighbours == find_comparanda(cat, QUERY, by="test").neighbours


def test_a_box_without_sherd_is_refused_before_anything_is_encoded(cat: Catalogue) -> None:
    with pytest.raises(InputError):
        find_comparanda(cat, QUERY, box_px=(0, 0, 1, 1), by="test")
    assert cat.vectors(vector_key(comparanda_encoder()), [QUERY]) == {}


def test_dropped_and_merged_sherds_neither_ask_nor_are_found(cat: Catalogue) -> None:
    drop(cat, [f"{LOT}-002"], by="test")
    merged = merge(cat, [f"{LOT}-003", f"{LOT}-004"], by="test").number
    found = {near.sherd for near in find_comparanda(cat, QUERY, top=99, by="test").neighbours}
    assert merged in found
    assert found.isdisjoint({f"{LOT}-002", f"{LOT}-003", f"{LOT}-004"})
    with pytest.raises(InputError, match="dropped"):
        find_comparanda(cat, f"{LOT}-002", by="test")
    with pytest.raises(InputError, match=merged):
        find_comparanda(cat, f"{LOT}-003", by="test")


def test_nothing_near_enough_is_an_answer(cat: Catalogue) -> None:
    everything = find_comparanda(cat, QUERY, top=99, by="test").neighbours
    cut = everything[2].similarity
    assert find_comparanda(cat, QUERY, top=99, least_similarity=cut, by="test").neighbours == everything[:3]
    nothing = find_comparanda(cat, QUERY, least_similarity=1.0, by="test")
    assert nothing.neighbours == ()
    assert nothing.notes == ("nothing comparable among 11 sherds",)


@pytest.mark.parametrize(("number", "top", "error"), [("nobody", 5, UnknownName), (QUERY, 0, InputError)])
def test_wrong_questions_are_refused(number: str, top: int, error: type[Exception], cat: Catalogue) -> None:
    with pytest.raises(error):
        find_comparanda(cat, number, top=top, by="test")
