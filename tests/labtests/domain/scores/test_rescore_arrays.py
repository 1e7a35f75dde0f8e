"""Rescoring arrays: the same answers as one by one."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.scores.bands import Band, band_of, place
from labtests.domain.scores.evaluation import Evaluation, Repeat, Summary
from labtests.domain.scores.rescore import NO_BAND, band_changes, band_places, convert_u, place_all, rescore
from labtests.domain.scores.scoring import S1, SCORES, Scores, score
from labtests.domain.uncertainty.scatter import scatter_of_repeats
from labtests.domain.uncertainty.uncertainty import Calibration
from tests.reference.one_test import uncertainty_of_test

SCALE = [
    Band(1, "Very little hold", None, 50.0),
    Band(2, "Little hold", 50.0, 60.0),
    Band(3, "Medium hold", 60.0, 70.0),
    Band(4, "Strong hold", 70.0, 80.0),
    Band(5, "Very strong hold", 80.0, None),
]
S2 = dataclasses.replace(
    S1, version="S2", torque_100_nm=8.0, deflection_0_mm=11.0, work_0_j=0.5, weight_midfoot=0.6, weight_rearfoot=0.4
)
values = st.lists(st.integers(200, 1100).map(lambda n: n / 10), min_size=1, max_size=30)


@given(values)
def test_places_are_those_of_single_scores(scores):
    found = band_places(np.array(scores), SCALE)
    assert [SCALE[place] for place in found] == [band_of(value, SCALE) for value in scores]


@given(values, st.sampled_from([0.3, 2.0, 6.0, 30.0]), st.sampled_from([0.0, 1.5, 4.0]))
def test_placements_are_those_of_single_scores(scores, u, guard):
    found = place_all(np.array(scores), np.full(len(scores), u), SCALE, guard=guard)
    for index, value in enumerate(scores):
        one = place(value, u, SCALE, guard=guard)
        assert SCALE[found.band[index]] == one.band
        assert found.probability[index] == pytest.approx(one.probability, abs=1e-12)
        assert found.is_borderline[index] == one.is_borderline
        neighbour = None if found.neighbour[index] == NO_BAND else SCALE[found.neighbour[index]]
        assert neighbour == one.neighbour


def test_unknown_uncertainty_and_missing_scores_say_nothing_of_probability():
    found = place_all(np.array([55.0, 55.0, np.nan]), np.array([np.nan, 0.0, 1.0]), SCALE)
    assert found.band.tolist() == [1, 1, NO_BAND]
    assert np.isnan(found.probability).all()
    assert not found.is_borderline.any()
    assert found.neighbour.tolist() == [NO_BAND] * 3


def test_guard_band_names_the_neighbour_where_the_uncertainty_is_unknown():
    edge = SCALE[1].lower
    found = place_all(np.array([edge + 0.5, edge - 0.5, np.nan]), np.full(3, np.nan), SCALE, guard=1.0)
    assert found.is_borderline.tolist() == [True, True, False]
    assert found.neighbour.tolist() == [0, 1, NO_BAND]


def test_a_scale_of_one_band_has_no_neighbour():
    found = place_all(np.array([55.0]), np.array([9.0]), [Band(1, "all", None, None)])
    assert (found.probability[0], found.neighbour[0]) == (1.0, NO_BAND)


def test_rescoring_scores_and_places_at_once():
    torque, deflection, work = np.array([5.1, 9.0, np.nan]), np.array([5.9, 3.2, 5.0]), np.array([1.5, 1.0, 1.2])
    scores, places = rescore(torque, deflection, work, model=S2, bands=SCALE)
    assert scores.midfoot[:2] == pytest.approx([63.75, 112.5])
    assert places.tolist() == [band_places(scores.stability[:1], SCALE)[0], 4, NO_BAND]


def test_converted_uncertainties_are_those_computed_from_the_readings():
    repeats = tuple(Repeat(n, 5.1 + n / 50, 0.0, 5.9 - n / 30, 0.0, 1.5 + n / 90) for n in (1, 2, 3))
    columns = [[getattr(one, name) for one in repeats] for name in ("torque_15_nm", "deflection_mm", "work_j")]
    means = [Summary(3, float(np.mean(column)), float(np.std(column, ddof=1))) for column in columns]
    evaluation = Evaluation(repeats, *means, None, False, ())
    known = [Calibration(name, 0.03, 0.01) for name in ("torque", "displacement", "angle", "force")]
    old, new = (
        uncertainty_of_test(evaluation, scatter_of_repeats(repeats), known, model=model).scores for model in (S1, S2)
    )
    for part in ("u", "type_a", "type_b"):
        converted = convert_u(Scores(*(getattr(old[name], part) for name in SCORES)), old=S1, new=S2)
        for name in SCORES:
            assert getattr(converted, name) == pytest.approx(getattr(new[name], part))


@pytest.mark.parametrize("together", [-0.9, 0.0, 0.6, 1.0])
def test_what_midfoot_and_rearfoot_share_is_converted_too(together):
    def stability(midfoot, rearfoot, model):
        parts = model.weight_midfoot * midfoot, model.weight_rearfoot * rearfoot
        return math.sqrt(parts[0] ** 2 + parts[1] ** 2 + 2 * together * parts[0] * parts[1])

    converted = convert_u(Scores(stability(1.1, 2.3, S1), 1.1, 2.3, 1.0), old=S1, new=S2)
    assert converted.stability == pytest.approx(stability(converted.midfoot, converted.rearfoot, S2))


@given(st.floats(0.01, 5), st.floats(0.01, 5), st.floats(0.01, 5))
def test_uncertainties_come_back_when_converted_there_and_back(midfoot, rearfoot, cushioning):
    stability = math.hypot(S1.weight_midfoot * midfoot, S1.weight_rearfoot * rearfoot)
    u = Scores(*(np.array([value]) for value in (stability, midfoot, rearfoot, cushioning)))
    back = convert_u(convert_u(u, old=S1, new=S2), old=S2, new=S1)
    for name in SCORES:
        assert getattr(back, name) == pytest.approx(getattr(u, name))


def test_changes_of_band_are_counted_from_where_to_where():
    new_scale = [Band(1, "Very little hold", None, 55.0), Band(2, "Little hold", 55.0, 60.0), *SCALE[2:]]
    before, after = np.array([0, 1, 1, 4, -1, 2]), np.array([0, 0, 1, 3, 2, -1])
    found = band_changes(before, after, old=SCALE, new=new_scale)
    assert found.n == 4
    assert found.changed == 2
    assert found.is_changed.tolist() == [False, True, False, True, False, False]
    assert found.counts.sum() == 4
    assert (found.counts[1, 0], found.counts[4, 3]) == (1, 1)


def test_scales_of_different_length_are_compared_by_order_and_name():
    old, new = [Band(1, "low", None, 50.0), Band(2, "high", 50.0, None)], [Band(1, "low", None, None)]
    found = band_changes(np.array([0, 1]), np.array([0, 0]), old=old, new=new)
    assert found.is_changed.tolist() == [False, True]
    assert found.counts.tolist() == [[1], [1]]


def test_no_results_change_nothing():
    nothing = np.array([], dtype=np.int64)
    found = band_changes(nothing, nothing, old=SCALE, new=SCALE)
    assert (found.n, found.changed) == (0, 0)


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ([0, 1], [0], r"before and after must be equally many, got \(2,\) and \(1,\)"),
        ([0, 5], [0, 0], "before must hold places from -1 to 4, got 0 to 5"),
        ([0, 0], [-2, 0], "after must hold places from -1 to 4, got -2 to 0"),
    ],
)
def test_places_that_are_not_on_the_scale_are_refused(before, after, words):
    with pytest.raises(ValueError, match=words):
        band_changes(np.array(before), np.array(after), old=SCALE, new=SCALE)


def test_scores_are_those_of_the_scoring_module():
    rng = np.random.default_rng(1)
    readings = rng.uniform(2, 9, 50), rng.uniform(3, 9, 50), rng.uniform(0.8, 2.2, 50)
    scores, _ = rescore(*readings, model=S1, bands=SCALE)
    assert np.array_equal(scores.stability, score(*readings, model=S1).stability)
