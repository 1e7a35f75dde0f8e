"""What a model and its scale must satisfy, and what is said where they do not."""

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.scores.bands import Band, check_scale
from labtests.domain.scores.model_rules import NUMBERS, BandText, band_problems, number_problems
from labtests.domain.scores.scoring import S1, Model

GOOD = {name: getattr(S1, name) for name in NUMBERS}


def scale(*uppers, **changes):
    bands = [BandText(f"band {n}", upper, "some") for n, upper in enumerate([*uppers, None], start=1)]
    return [dataclasses.replace(band, **changes.get(f"band_{n}", {})) for n, band in enumerate(bands, start=1)]


def test_standard_model_and_scale_are_right():
    assert number_problems(GOOD) == {}
    assert band_problems(scale(50.0, 60.0, 70.0, 80.0)) == {}


@pytest.mark.parametrize(
    ("name", "value", "at", "words"),
    [
        ("torque_0_nm", math.nan, "torque_0_nm", "finite"),
        ("weight_midfoot", math.inf, "weight_midfoot", "finite"),
        ("torque_100_nm", 60.0, "torque_100_nm", "from −50 to 50 N·m, got 60"),
        ("deflection_0_mm", -70.0, "deflection_0_mm", "from −50 to 50 mm"),
        ("torque_100_nm", -1.0, "torque_100_nm", "above that at 0"),
        ("deflection_100_mm", 12.0, "deflection_100_mm", "below that at 0"),
        ("work_100_j", 0.67, "work_100_j", "at least 0.01 J apart"),
        ("weight_midfoot", -0.1, "weight_midfoot", "from 0 to 1"),
        ("weight_rearfoot", 0.5, "weight_rearfoot", "add up to 1, got 1.04"),
    ],
)
def test_number_is_reported_at_its_name(name, value, at, words):
    problems = number_problems(GOOD | {name: value})
    assert [*problems] == [at]
    assert words in problems[at][0]


@pytest.mark.parametrize(
    ("bands", "at", "words"),
    [
        ([], "name_1", "2 to 5 bands, got 0"),
        (scale(), "name_1", "got 1"),
        (scale(1.0, 2.0, 3.0, 4.0, 5.0), "name_6", "got 6"),
        (scale(50.0, band_1={"name": " "}), "name_1", "Name the band"),
        (scale(50.0, band_1={"name": "x" * 41}), "name_1", "at most 40"),
        (scale(50.0, band_2={"name": "Band 1"}), "name_2", "Band 1 already has this name"),
        (scale(50.0, band_2={"suits": " "}), "suits_2", "whom the band suits"),
        (scale(50.0, band_1={"runner_mass_max_kg": 301.0}), "mass_1", "got 301"),
        (scale(50.0, band_2={"upper": 90.0}), "upper_2", "leave its end out"),
        (scale(50.0, 60.0, band_1={"upper": None}), "upper_1", "write where this one ends"),
        (scale(50.0, 50.0), "upper_2", "above 50, where band 1 ends, got 50"),
        (scale(math.nan), "upper_1", "from −1000 to 1000"),
    ],
)
def test_band_is_reported_at_its_field(bands, at, words):
    problems = band_problems(bands)
    assert words in problems[at][0]


@given(st.lists(st.one_of(st.none(), st.floats(-2000, 2000)), min_size=1, max_size=4), st.booleans())
def test_scale_without_problems_covers_the_line(uppers, is_closed):
    bands = scale(*uppers)
    if is_closed:
        bands[-1] = dataclasses.replace(bands[-1], upper=99.0)
    if band_problems(bands):
        return
    edges = [None, *(band.upper for band in bands)]
    check_scale([Band(n, band.name, edges[n - 1], band.upper) for n, band in enumerate(bands, start=1)])


@given(st.fixed_dictionaries({name: st.floats(-60, 60) for name in NUMBERS}))
def test_numbers_without_problems_make_a_model(numbers):
    if not number_problems(numbers):
        Model(version="x", **numbers)
