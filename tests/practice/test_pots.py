from itertools import pairwise

import numpy as np
import pytest

from motifs.practice import DRAWN_FAMILIES, TECHNIQUES, paint_pot
from motifs.practice.forms import FORM_NAMES, build_form
from motifs.practice.pots import difference_for, draw_plan, plan_like

SMALL = {"px_per_mm": 2.5, "girth_mm": 250.0, "height_mm": 90.0}


def test_a_pot_follows_from_its_seed():
    a, b, c = paint_pot(4, **SMALL), paint_pot(4, **SMALL), paint_pot(5, **SMALL)
    assert np.array_equal(a.albedo, b.albedo)
    assert np.array_equal(a.relief_mm, b.relief_mm)
    assert np.array_equal(a.motif_map, b.motif_map)
    assert not np.array_equal(a.albedo, c.albedo)


def test_maps_have_the_shapes_types_and_ranges_promised(pot):
    rows, columns = round(pot.height_mm * pot.px_per_mm), round(pot.circumference_mm * pot.px_per_mm)
    assert (rows, columns) == (440, 1320)
    assert pot.albedo.shape == (rows, columns, 3)
    assert pot.albedo.dtype == np.float32
    assert pot.relief_mm.shape == pot.motif_map.shape == pot.ink_mask.shape == (rows, columns)
    assert pot.motif_map.dtype == np.int16
    assert pot.ink_mask.dtype == np.bool_
    assert 0.0 < pot.albedo.min() <= pot.albedo.max() <= 1.0
    assert set(np.unique(pot.motif_map)) - {-1} <= {one.ident for one in pot.families}
    assert pot.ink_mask.any()


@pytest.mark.parametrize("technique", list(TECHNIQUES))
def test_relief_techniques_work_the_clay_and_paint_does_not(technique):
    worked = paint_pot(12, technique=technique, families=["spiral-running", "triangle-hatched"], **SMALL)
    inside, outside = worked.relief_mm[worked.ink_mask], worked.relief_mm[~worked.ink_mask]
    depth = TECHNIQUES[technique].depth_mm
    assert worked.ink_mask.mean() > 0.01
    if abs(depth) > 0.2:
        assert np.sign(inside.mean() - outside.mean()) == np.sign(depth)
        assert abs(inside.mean() - outside.mean()) > 0.25 * abs(depth)
    else:
        assert abs(inside.mean() - outside.mean()) < 0.06


def test_paint_changes_colour_and_incision_hardly():
    def contrast(technique):
        one = paint_pot(12, technique=technique, families=["checker-two", "triangle-solid"], **SMALL)
        tone = np.log(one.albedo.mean(axis=2))
        return abs(float(np.median(tone[one.ink_mask]) - np.median(tone[~one.ink_mask])))

    assert contrast("painted") > 3 * contrast("incised")


def test_the_surface_closes_round_the_pot(pot):
    tone = pot.albedo.mean(axis=2)
    seam = np.abs(tone[:, 0] - tone[:, -1]).mean()
    beside = np.abs(np.diff(tone, axis=1)).mean()
    assert seam < 2.5 * beside


def differences(alike):
    out = []
    for seed in range(100, 160):
        rng = np.random.default_rng(seed)
        model = draw_plan(rng, DRAWN_FAMILIES, None, None, None)
        own = draw_plan(rng, DRAWN_FAMILIES, None, None, None)
        other = plan_like(rng, model, own, alike) if alike else own
        paste = float(np.linalg.norm(np.array(model.paste.lab) - other.paste.lab))
        width = abs(np.log(other.hand.line_width_mm / model.hand.line_width_mm))
        same = [z.families for z in other.layout] == [z.families for z in model.layout]
        out.append((paste, float(width), same))
    return np.array(out, float)


def test_alike_pots_share_motifs_and_differ_by_the_amounts_stated():
    unrelated, lookalike, near = differences(0.0), differences(0.5), differences(1.0)
    assert lookalike[:, 2].all()
    assert near[:, 2].all()
    assert not unrelated[:, 2].any()
    assert 3.0 < np.median(lookalike[:, 0]) < 7.5
    assert ((np.exp(lookalike[:, 1]) > 1.12) & (np.exp(lookalike[:, 1]) < 1.45)).mean() > 0.8
    assert np.median(near[:, 0]) < 0.5 * np.median(lookalike[:, 0])
    assert np.median(near[:, 1]) < 0.5 * np.median(lookalike[:, 1])
    assert np.median(unrelated[:, 0]) > np.median(lookalike[:, 0])


def test_a_look_alike_is_painted_with_the_same_motifs():
    model = paint_pot(30, **SMALL)
    other = paint_pot(31, px_per_mm=2.5, alike_to=model, alike=0.5)
    assert other.families == model.families
    assert other.technique == model.technique
    assert other.hand.line_width_mm != model.hand.line_width_mm
    assert other.form.name == model.form.name


def test_difference_falls_with_likeness():
    assert difference_for(0.5) == pytest.approx(1.0)
    assert difference_for(1.0) < 0.5
    falls = [difference_for(a) for a in np.linspace(0, 1, 21)]
    assert all(a > b for a, b in pairwise(falls))


@pytest.mark.parametrize("name", FORM_NAMES)
def test_forms_measure_what_was_asked(name):
    form = build_form(name, 80.0, 120.0, 6.0)
    assert form.radius_mm.max() == pytest.approx(80.0, rel=0.01)
    assert form.drop_mm[-1] == pytest.approx(120.0)
    # Arc length of a profile: at least its height, and the sum of its small steps.
    steps = np.hypot(np.diff(form.drop_mm), np.diff(form.radius_mm))
    assert steps.sum() == pytest.approx(form.height_mm, rel=0.002)
    assert form.height_mm > 120.0
    assert form.parts[0][1] == 0.0
    assert form.parts[-1][2] == pytest.approx(form.height_mm)
    assert all(a[2] == b[1] for a, b in pairwise(form.parts))
