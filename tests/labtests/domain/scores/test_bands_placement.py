"""Bands: limits, probabilities, borderline and neighbour."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.scores.bands import Band, band_of, band_probabilities, check_scale, place, wrong_side_probability

SCALE = (
    Band(1, "Very little hold", None, 50.0),
    Band(2, "Little hold", 50.0, 60.0),
    Band(3, "Medium hold", 60.0, 70.0),
    Band(4, "Strong hold", 70.0, 80.0),
    Band(5, "Very strong hold", 80.0, None),
)


@pytest.mark.parametrize(
    ("score", "name"),
    [
        (-20, "Very little hold"),
        (44.6, "Very little hold"),
        (49.999, "Very little hold"),
        (50, "Little hold"),
        (60, "Medium hold"),
        (79.9, "Strong hold"),
        (140, "Very strong hold"),
    ],
)
def test_lower_limit_is_in_and_upper_limit_out(score, name):
    assert band_of(score, SCALE).name == name


@given(st.floats(-50, 150), st.floats(0.01, 30))
def test_probabilities_add_up_to_one(score, u):
    entries = band_probabilities(score, u, SCALE)
    assert math.fsum(entry.probability for entry in entries) == pytest.approx(1.0, abs=1e-12)
    assert all(entry.probability >= 0 for entry in entries)


def test_sure_score_is_not_borderline():
    placement = place(55.0, 1.0, SCALE)
    assert placement.band.name == "Little hold"
    assert placement.probability > 0.99
    assert not placement.is_borderline
    assert placement.neighbour is None


@pytest.mark.parametrize(("score", "neighbour"), [(50.4, "Very little hold"), (59.6, "Medium hold")])
def test_borderline_score_names_the_nearer_neighbour(score, neighbour):
    placement = place(score, 1.0, SCALE)
    assert placement.is_borderline
    assert placement.neighbour.name == neighbour


@pytest.mark.parametrize("u", [None, 0.0])
def test_unknown_uncertainty_says_nothing_about_probability(u):
    placement = place(50.1, u, SCALE)
    assert (placement.probability, placement.probabilities, placement.is_borderline) == (None, (), False)


def test_scale_of_one_band_has_no_neighbour():
    placement = place(3.0, 1.0, [Band(1, "all", None, None)])
    assert placement.probability == 1.0


@pytest.mark.parametrize("u", [0.0, -1.0, math.nan, math.inf])
def test_probability_needs_a_real_uncertainty(u):
    with pytest.raises(ValueError, match="u must be"):
        band_probabilities(50.0, u, SCALE)


def test_score_must_be_finite():
    with pytest.raises(ValueError, match="score must be finite"):
        band_of(math.nan, SCALE)


@pytest.mark.parametrize(
    "bands", [[], SCALE[1:], SCALE[:-1], [SCALE[0], SCALE[2], SCALE[4]], [SCALE[0], SCALE[0], SCALE[4]]]
)
def test_scale_with_a_hole_is_refused(bands):
    with pytest.raises(ValueError, match="bands must"):
        check_scale(bands)


@pytest.mark.parametrize(("distance", "sd", "expected"), [(1, 0, 0.0), (0, 2, 0.5), (1, 1, 0.158655), (1, 2, 0.308538)])
def test_chance_of_the_wrong_side_of_a_limit(distance, sd, expected):
    assert wrong_side_probability(distance, sd) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(("distance", "sd"), [(-1, 1), (1, -1)])
def test_distance_or_scatter_below_zero_is_refused(distance, sd):
    with pytest.raises(ValueError, match="must be ≥ 0"):
        wrong_side_probability(distance, sd)


@pytest.mark.parametrize(
    ("score", "guarded", "neighbour"),
    [
        (55.0, False, None),
        (52.0, False, None),  # exactly the guard band inside counts
        (51.99, True, "Very little hold"),
        (50.0, True, "Very little hold"),
        (49.99, True, "Little hold"),
        (58.01, True, "Medium hold"),
        (-30.0, False, None),
        (200.0, False, None),
    ],
)
def test_a_score_within_the_guard_band_does_not_count_as_within_its_band(score, guarded, neighbour):
    found = place(score, 0.1, SCALE, guard=2.0)
    assert found.band == band_of(score, SCALE)
    assert (found.is_guarded, found.is_borderline) == (guarded, guarded or found.probability < 0.8)
    assert (found.neighbour.name if found.neighbour else None) == neighbour


def test_the_guard_band_holds_where_the_uncertainty_is_unknown():
    found = place(59.5, None, SCALE, guard=1.0)
    assert (found.probability, found.is_guarded, found.is_borderline) == (None, True, True)
    assert found.neighbour.name == "Medium hold"


@given(st.floats(-50, 150), st.floats(0.01, 30))
def test_no_guard_band_changes_nothing(score, u):
    found = place(score, u, SCALE, guard=0.0)
    assert found == place(score, u, SCALE)
    assert not found.is_guarded


@pytest.mark.parametrize("guard", [-0.1, math.nan, math.inf])
def test_a_guard_band_that_cannot_be_is_refused(guard):
    with pytest.raises(ValueError, match="guard must be ≥ 0 and finite"):
        place(55.0, 1.0, SCALE, guard=guard)
