import networkx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motifs.catalogue.chains import Pair, check_links
from motifs.errors import InputError, LinksContradict, NameRefused, UnknownName
from tests.catalogue.finds import PERSON, add_tray


def tell(cat, *told):
    with cat.transaction(by=PERSON):
        return [cat.tell("B-03", *one) for one in told]


def test_links_are_counted_and_not_doubled(cat):
    a, b, c, d = add_tray(cat, "B-03")
    assert cat.links("B-03") == ()
    assert tell(cat, (a, b, "same"), (b, a, "same"), (a, c, "different"), (b, d, "same")) == [1, 1, 2, 3]
    link = cat.links("B-03")[0]
    assert (link.a, link.b, link.relation, link.by, link.lot) == (a, b, "same", PERSON, "B-03")
    version = cat.version()
    tell(cat, (a, b, "same"))
    assert cat.version() == version


def test_contradictions_name_the_chain_and_change_nothing(cat):
    a, b, c, d = add_tray(cat, "B-03")
    tell(cat, (a, b, "same"), (b, c, "same"))
    with pytest.raises(LinksContradict, match=f"{c} = {b} = {a}, but {c} is different from {a}"):
        tell(cat, (c, a, "different"))
    tell(cat, (d, a, "different"))
    with pytest.raises(LinksContradict, match=f"{a} = {b} = {c} = {d}, but {a} is different from {d}"):
        tell(cat, (d, c, "same"))
    with pytest.raises(LinksContradict, match="withdraw that link first"):
        tell(cat, (a, b, "different"))
    before = cat.links("B-03")
    with cat.transaction(by=PERSON):  # a workflow that goes on after a refusal keeps no trace of it
        with pytest.raises(LinksContradict):
            cat.tell("B-03", d, c, "same")
        with pytest.raises(LinksContradict):
            cat.tell("B-03", a, b, "different")
    assert cat.links("B-03") == before


def test_withdrawing(cat):
    a, b, c, _ = add_tray(cat, "B-03")
    tell(cat, (a, b, "same"), (b, c, "same"))
    with cat.transaction(by=PERSON):
        assert cat.withdraw("B-03", b, a) == 1
    assert tell(cat, (a, c, "different")) == [2]
    with pytest.raises(UnknownName, match="no link between"), cat.transaction(by=PERSON):
        cat.withdraw("B-03", a, b)
    tell(cat, (a, b, "different"))
    assert len(cat.links("B-03")) == 3


def test_links_of_a_dropped_sherd_rest_with_it(cat):
    a, b, c, _ = add_tray(cat, "B-03")
    tell(cat, (a, b, "same"), (b, c, "same"))
    with cat.transaction(by=PERSON):
        cat.drop_sherd(b)
    assert cat.links("B-03") == ()
    tell(cat, (a, c, "different"))
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert len(cat.links("B-03")) == 2


def test_what_cannot_be_told(cat):
    a, b, *_ = add_tray(cat, "B-03")
    other = add_tray(cat, "C-1")[0]
    with pytest.raises(InputError, match="itself"):
        tell(cat, (a, a, "same"))
    with pytest.raises(InputError, match="'same' or 'different'"):
        tell(cat, (a, b, "maybe"))
    with pytest.raises(UnknownName, match="in lot 'C-1', not in lot 'B-03'"):
        tell(cat, (a, other, "same"))
    with pytest.raises(UnknownName, match="did you mean"):
        tell(cat, (a, "B-03-01", "same"))
    with pytest.raises(UnknownName, match="no lot"), cat.transaction(by=PERSON):
        cat.tell("B-3", a, b, "same")
    assert cat.links("B-03") == ()


sherds = st.sampled_from("abcdefg")
pairs = st.lists(
    st.tuples(sherds, sherds, st.sampled_from(["same", "different"])).filter(lambda pair: pair[0] != pair[1])
)


@given(pairs)
def test_links_hold_exactly_when_no_vessel_has_a_different_inside(told):
    # Second opinion: networkx's connected components.
    graph = networkx.Graph([(a, b) for a, b, relation in told if relation == "same"])
    vessels = list(networkx.connected_components(graph))
    is_possible = not any(
        relation == "different" and any({a, b} <= vessel for vessel in vessels) for a, b, relation in told
    )
    try:
        check_links([Pair(*pair) for pair in told])
    except LinksContradict:
        assert not is_possible
    else:
        assert is_possible


def test_attributions_are_a_persons_and_replaced_ones_stay_in_the_history(cat):
    a, b, c, _ = add_tray(cat, "B-03")
    assert cat.attributions("B-03") == {}
    with cat.transaction(by="R. Vance"):
        assert cat.attribute(a, "Vessel 1", note="rim and body join").by == "R. Vance"
        assert cat.attribute(b, None).vessel is None
    with cat.transaction(by=PERSON):
        cat.attribute(a, "Vessel 2")
    assert {number: row.vessel for number, row in cat.attributions("B-03").items()} == {a: "Vessel 2", b: None}
    version = cat.version()
    with cat.transaction(by="somebody else"):
        assert cat.attribute(a, "Vessel 2").by == PERSON  # said already
        cat.withdraw_attribution(c)  # nobody judged it
    assert cat.version() == version
    with cat.transaction(by=PERSON):
        cat.withdraw_attribution(b)
    assert list(cat.attributions("B-03")) == [a]
    verbs = [(event.verb, event.subject) for event in cat.history("B-03", limit=4)]
    assert verbs == [("attribution withdrawn", b), ("attributed", a), ("attributed", b), ("attributed", a)]
    for _ in range(3):
        with cat.transaction(by=PERSON):
            cat.undo("B-03")
    assert cat.attributions("B-03") == {}


@pytest.mark.parametrize("vessel", ["", "1/2", " 1"])
def test_a_vessel_has_a_name(cat, vessel):
    a = add_tray(cat, "B-03")[0]
    with pytest.raises(NameRefused, match="vessel"), cat.transaction(by=PERSON):
        cat.attribute(a, vessel)
    assert cat.attributions("B-03") == {}


def test_a_proposal_never_touches_an_attribution(cat):
    a, *_ = add_tray(cat, "B-03")
    with cat.transaction(by=PERSON):
        cat.attribute(a, "Vessel 1")
    before = cat.attributions("B-03")
    with cat.transaction(by="sort"):
        cat.save_proposal("B-03", "sort", encoder_tags=["e.one"], parameters={"seed": 0}, result={a: 5})
    assert cat.attributions("B-03") == before
