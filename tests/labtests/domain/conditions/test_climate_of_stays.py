"""The climate of stays: what counts as an excursion, what a log covers."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.conditions.climate import (
    ClimateSeries,
    check_climate,
    climate_of_stays,
    covered_hours,
    excursions_in,
)
from labtests.domain.conditions.conditioning import Stay
from labtests.domain.scores.protocol import Limit

START = dt.datetime(2026, 3, 2, 10, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
RANGE = Limit(23.0, 21.0, 25.0)


def series(values, *, chamber="C-1", every_s=3600.0, begin=START):
    times = begin.timestamp() + every_s * np.arange(len(values))
    return ClimateSeries(chamber, times, np.array(values, dtype=float), np.array([]))


def worst_of(values, limit=RANGE, hours=100):
    return [one.worst_c for one in excursions_in(series(values), limit, since=START, until=START + hours * HOUR)]


def test_runs_outside_are_distinguished_and_each_names_its_farthest_reading():
    assert worst_of([23, 25.5, 26, 25.2, 24, 20, 23, 27]) == [26, 20, 27]
    assert worst_of([26, 27]) == [27]
    assert worst_of([20, 26.5, 20.5]) == [26.5]


def test_both_ends_are_inside_whatever_their_last_bit():
    assert worst_of([21.0, 25.0, (77.0 - 32.0) * 5.0 / 9.0]) == []


def test_open_ends_and_readings_outside_the_stay_count_for_nothing():
    assert worst_of([-5, 60], Limit(23.0, None, None)) == []
    assert worst_of([23, 23, 30], hours=1) == []
    assert worst_of([]) == []


@given(st.lists(st.floats(min_value=-30, max_value=60), max_size=40))
def test_excursions_hold_every_reading_outside_and_none_inside(values):
    found = excursions_in(series(values), RANGE, since=START, until=START + 100 * HOUR)
    hours = {
        round((one.begin - START) / HOUR) + step
        for one in found
        for step in range(round((one.end - one.begin) / HOUR) + 1)
    }
    assert hours == {number for number, value in enumerate(values) if value < 21 - 1e-9 or value > 25 + 1e-9}


def test_two_loggers_cover_an_hour_once_and_gaps_not_at_all():
    both = [series([23] * 5), series([23] * 5, begin=START + HOUR / 2)]
    assert covered_hours(both, since=START, until=START + 48 * HOUR) == pytest.approx(4.5)
    gap = [series([23] * 2, every_s=7201.0)]
    assert covered_hours(gap, since=START, until=START + 48 * HOUR) == 0.0
    assert covered_hours(both, since=START + 3.75 * HOUR, until=START + 4 * HOUR) == pytest.approx(0.25)


def test_each_stay_looks_at_the_logs_of_its_chamber():
    stays = [Stay(1, "C-1", START, START + 5 * HOUR), Stay(2, "C-2", START + 5 * HOUR)]
    logs = [series([23] * 8 + [30] * 4), series([30] * 3 + [23] * 20, chamber="C-2")]
    found = climate_of_stays(stays, logs, RANGE, at=START + 10 * HOUR)
    assert found.excursions == ()
    assert (found.stayed_h, found.covered_h) == (10.0, 10.0)
    warm = climate_of_stays(stays, [series([30] * 3)], RANGE, at=START + 10 * HOUR)
    assert check_climate(warm, RANGE)[0].code == "climate_excursion"
    assert "from 10:00 to 12:00 UTC" in check_climate(warm, RANGE)[0].message
