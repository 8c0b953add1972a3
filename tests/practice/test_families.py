import numpy as np
import pytest

from motifs.errors import UnknownName
from motifs.practice import DRAWN_FAMILIES, FAMILIES, family_named, family_numbered, family_split, glyphs, paint_pot
from motifs.practice.marks import Dot, Fill, Stroke, hatch, points, resampled

STYLES = (np.zeros(4), np.ones(4), -np.ones(4))


def ends(mark):
    if isinstance(mark, Stroke):
        return mark.points
    if isinstance(mark, Fill):
        return np.concatenate(mark.rings)
    return np.stack([mark.centre - mark.radius, mark.centre + mark.radius])


def test_there_are_hundreds_of_families_from_several_sources():
    assert len(DRAWN_FAMILIES) >= 200
    assert {one.source for one in DRAWN_FAMILIES} == {"drawn", "spline", "branching"}
    assert len({one.name for one in FAMILIES}) == len(FAMILIES)
    assert len({one.ident for one in FAMILIES}) == len(FAMILIES)


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.name)
def test_every_family_draws_within_its_cell(family):
    for style in STYLES:
        marks = family.draw(style)
        assert marks
        spread = np.concatenate([ends(mark) for mark in marks])
        assert np.isfinite(spread).all()
        assert all(len(mark.points) >= 2 for mark in marks if isinstance(mark, Stroke))
        assert all(mark.radius > 0 for mark in marks if isinstance(mark, Dot))
        # Running motifs reach their neighbours and slanted ones lean over, by less than a third of a cell.
        assert spread.min(axis=0)[0] > -0.3
        assert spread.max(axis=0)[0] < family.aspect + 0.3
        assert -0.12 < spread[:, 1].min() < spread[:, 1].max() < 1.12
        assert np.ptp(spread[:, 1]) > 0.25 or np.ptp(spread[:, 0]) > 0.5 * family.aspect


def test_families_differ_from_each_other():
    seen = {}
    for family in FAMILIES:
        marks = family.draw(np.zeros(4))
        key = tuple((type(mark).__name__, ends(mark).round(3).tobytes()) for mark in marks)
        assert key not in seen, f"{family.name} draws the same as {seen[key]}"
        seen[key] = family.name


def test_a_hand_changes_how_a_family_is_drawn():
    changed = sum(
        not np.array_equal(
            np.concatenate([ends(m) for m in one.draw(STYLES[1])])[:5],
            np.concatenate([ends(m) for m in one.draw(STYLES[2])])[:5],
        )
        for one in DRAWN_FAMILIES
    )
    assert changed > 0.75 * len(DRAWN_FAMILIES)


def test_the_split_keeps_whole_families_apart():
    parts = {one.name: family_split(one.name) for one in FAMILIES}
    assert set(parts.values()) == {"train", "tune", "report"}
    shares = {part: sum(p == part for p in parts.values()) / len(parts) for part in set(parts.values())}
    # Shares of a hash over n names: within four binomial standard deviations.
    for part, share in (("train", 0.7), ("tune", 0.1), ("report", 0.2)):
        assert abs(shares[part] - share) < 4 * np.sqrt(share * (1 - share) / len(parts))
    assert family_split("a family added later") == family_split("a family added later")


def test_a_family_is_found_by_name_and_number():
    family = FAMILIES[17]
    assert family_named(family.name) is family
    assert family_numbered(family.ident) is family
    with pytest.raises(UnknownName, match="'no such motif'"):
        family_named("no such motif")
    with pytest.raises(UnknownName, match="'no such motif'"):
        paint_pot(1, families=["no such motif"], px_per_mm=2.0)


def test_without_fonts_there_are_no_glyph_families(monkeypatch):
    monkeypatch.setattr(glyphs, "font_files", tuple)
    assert glyphs.variants() == []


def test_glyph_numbers_do_not_depend_on_the_other_fonts(monkeypatch):
    found = glyphs.font_files()
    if len(found) < 2:
        pytest.skip("fewer than two of the fonts are on this machine")
    whole = {variant[0]: place for place, variant in glyphs.variants()}
    monkeypatch.setattr(glyphs, "font_files", lambda: found[1:])
    assert all(whole[variant[0]] == place for place, variant in glyphs.variants())


def test_hatching_fills_a_square_with_even_lines():
    lines = hatch([points((0, 0), (4, 0), (4, 4), (0, 4))], 1.0, 0.0)
    assert [round(float(one[0, 1]), 6) for one in lines] == [0.5, 1.5, 2.5, 3.5]
    assert all(abs(abs(one[1, 0] - one[0, 0]) - 4.0) < 1e-9 for one in lines)


def test_hatching_leaves_a_hole_free():
    outer, inner = points((0, 0), (6, 0), (6, 6), (0, 6)), points((2, 2), (4, 2), (4, 4), (2, 4))
    through = [one for one in hatch([outer, inner], 1.0, 0.0) if 2 < one[0, 1] < 4]
    assert len(through) == 4
    assert all(max(one[:, 0]) <= 2 + 1e-9 or min(one[:, 0]) >= 4 - 1e-9 for one in through)


def test_resampling_keeps_ends_and_length():
    path = points((0, 0), (3, 0), (3, 4))
    fine = resampled(path, 0.5)
    assert np.allclose(fine[[0, -1]], path[[0, -1]])
    assert abs(np.hypot(*np.diff(fine, axis=0).T).sum() - 7.0) < 0.3
