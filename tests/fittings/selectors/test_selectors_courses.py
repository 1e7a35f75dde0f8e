"""The database's time at risk is that of the reference, person by person, whatever was answered and when."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from django.utils import timezone

from fittings.domain.fitting.regions import Complaint
from fittings.models import FollowUp
from fittings.selectors.courses import OutcomeFilter, counts_by_day, fitting_courses, model_rows
from tests.reference.person_time import Report, time_at_risk

START = dt.datetime(2026, 1, 5, 10, 0, tzinfo=dt.UTC)
ON = dt.date(2026, 9, 1)


@pytest.fixture
def people(chosen):
    """Thirty people with courses drawn at random: days in any order, distances missing, complaints there or gone."""
    draw = np.random.default_rng(7)
    made = []
    for number in range(30):
        now = bool(draw.random() < 0.4)
        history = () if number % 10 == 9 else (Complaint("heel", "left", now=now),)
        if number % 7 == 3:
            history = (*history, Complaint("knee", "left", now=True))
        told = None if number % 6 == 5 else float(draw.integers(5, 60))
        fitting = chosen(at=START, name=f"Person {number}", email="", history=history, distance_km_week=told)
        reports = []
        for follow_up in fitting.follow_ups.all():
            if draw.random() < 0.3:
                continue
            at = START + dt.timedelta(days=int(draw.integers(0, 200)), hours=int(draw.integers(0, 14)))
            weekly = None if draw.random() < 0.3 else float(draw.integers(0, 50))
            free, recurred = (True, True, False, None)[int(draw.integers(4))], bool(draw.random() < 0.25)
            FollowUp.objects.filter(pk=follow_up.pk).update(
                answered_at=at,
                distance_km_week=weekly,
                free_of_complaints=free,
                recurrence="early" if recurred else "",
            )
            reports.append(Report(timezone.localdate(at), weekly, free, recurred))
        has_past = any(not item.now for item in history)
        expected = time_at_risk(START.date(), has_past=has_past, reports=reports, distance_km_week=told)
        made.append((fitting.pk, expected if history else None))
    return made


def test_time_distance_and_event_are_those_of_the_reference(people, cast):
    found = {item.fitting_id: item for item in fitting_courses(OutcomeFilter((cast.store_a.pk,)), on=ON)}
    assert len(found) == len(people)
    assert sum(expected is not None for _, expected in people) > 10
    assert any(expected is not None and expected.km is None for _, expected in people)
    for pk, expected in people:
        course = found[pk]
        if expected is None:
            assert (course.days, course.km, course.recurred) == (None, None, False)
        else:
            assert (course.days, course.recurred) == (expected.days, expected.recurred)
            assert course.km == (None if expected.km is None else pytest.approx(expected.km))


def test_people_by_the_day_add_up_to_everybody(people, cast):
    rows = counts_by_day(OutcomeFilter((cast.store_a.pk,)), "target", on=ON)
    assert sum(row.people for row in rows) == len(people)
    assert sum(row.recurred for row in rows) == sum(bool(expected and expected.recurred) for _, expected in people)
    with_km = [expected for _, expected in people if expected and expected.km is not None]
    assert sum(row.km for row in rows) == pytest.approx(sum(expected.km for expected in with_km))
    assert sum(row.recurred_with_km for row in rows) == sum(expected.recurred for expected in with_km)


def test_filters_narrow_the_people(people, cast):
    def count(**given):
        stores = given.pop("stores", (cast.store_a.pk,))
        return sum(row.people for row in counts_by_day(OutcomeFilter(stores, **given), "band", on=ON))

    assert count(stores=(cast.store_b.pk,)) == 0
    assert count(since=dt.date(2026, 1, 5), until=dt.date(2026, 1, 6)) == len(people)
    assert count(since=dt.date(2026, 1, 6)) == 0
    assert count(until=dt.date(2026, 1, 5)) == 0
    assert count(band=3) == len(people)
    assert count(band=2) == 0
    assert count(use="running", fitter=cast.fitter_a.pk) == len(people)
    assert count(use="walking") == 0
    assert count(fitter=cast.fitter_b.pk) == 0


def test_model_takes_those_at_risk_with_a_mass_and_a_distance(people, cast, django_assert_num_queries):
    with django_assert_num_queries(1):
        rows = model_rows(OutcomeFilter((cast.store_a.pk,)), on=ON)
    assert 0 < len(rows) < len(people)
    assert {row.complaints for row in rows} == {1, 2}
