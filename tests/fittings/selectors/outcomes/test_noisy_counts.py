"""Counts over all stores: exact without noise, and what the noise leaves in order."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from django.utils import timezone

from fittings.domain.disclosure.cell_keys import LARGEST
from fittings.domain.outcomes.clusters import NOBODY
from fittings.models import Course
from fittings.selectors.outcomes.courses import OutcomeFilter, counts_of, course_rows
from fittings.selectors.outcomes.noisy_counts import DAYS, ComplaintCell, noisy_counted, noisy_counts, released_counts
from fittings.selectors.outcomes.outcome_groups import group_of
from fittings.selectors.outcomes.outcomes import outcomes_for, scope_of
from tests.fittings.many_people import make_people
from tests.shared import shared

PEOPLE, QUARTERS = 300, 3


@shared
def several(cast, make_shoe):
    """People of two stores; every third has a second complaint, watched from a later day on or not."""
    fittings = make_people(cast, make_shoe, PEOPLE, QUARTERS)
    courses = list(Course.objects.filter(fitting__in=fittings).order_by("fitting"))
    for place, course in enumerate(courses):
        course.region, course.side = "heel", "left"
        course.visits, course.visits_open = place % 4, place % 2 if place % 4 else 0
    Course.objects.bulk_update(courses, ["region", "side", "visits", "visits_open"])
    for place, course in enumerate(courses[::3]):
        course.pk, course.region, course.visits, course.visits_open = None, "knee", 0, 0
        if place % 2 and course.days > 42:
            course.entered_days = course.free_until_days = 14
        course.save(force_insert=True)
    return fittings


def test_without_noise_counts_are_those_of_the_own_stores(cast, several, without_noise):
    today = timezone.localdate()
    wanted = scope_of(cast.office).filter()
    exact, shown = counts_of(wanted, "target", on=today), released_counts(wanted, "target", on=today)
    by_row = noisy_counted((row.in_target, row) for row in course_rows(wanted, on=today))
    rows = {row.key: row for row in by_row.people}
    assert len(shown.people) == len(exact.people) == 3
    for one, other in zip(shown.people, exact.people, strict=True):
        assert replace(one, by_person=NOBODY) == replace(other, by_person=NOBODY)
        assert replace(rows[one.key], by_person=NOBODY) == replace(other, by_person=NOBODY)
        for name in ("people", "parts", "events"):
            assert getattr(one.by_person, name) == getattr(other.by_person, name)
        for name in ("exposure", "events_squared", "events_exposure", "exposure_squared"):
            assert getattr(one.by_person, name) == pytest.approx(getattr(other.by_person, name), rel=0.05)
    for key in (True, False):
        one, other, row = (
            group_of("", exact.people[0], [item for item in counts.days if item.key == key])
            for counts in (shown, exact, by_row)
        )
        assert one.readings == row.readings
        for reading, true in zip(one.readings, other.readings, strict=True):
            assert (reading.at_risk, reading.events) == (true.at_risk, true.events)
            assert reading.share == pytest.approx(true.share)


def test_noise_is_small_and_leaves_counts_in_order(cast, several):
    today = timezone.localdate()
    wanted = scope_of(cast.office).filter()
    exact, shown = counts_of(wanted, "target", on=today), released_counts(wanted, "target", on=today)
    assert shown == released_counts(wanted, "target", on=today)
    assert shown != exact
    for one, other in zip(shown.people, exact.people, strict=True):
        assert abs(one.people - other.people) <= LARGEST
        assert one.back <= one.at_risk <= one.people >= max(one.answered, one.lost)
        assert one.recurrences == sum(row.recurred for row in shown.days if one.key in (None, row.key))
        assert one.back <= one.recurrences
        assert one.by_person.events <= one.recurrences
        assert one.visits_open <= one.visits
        assert one.by_person.clustered
    for row in shown.days:
        assert 0 <= row.recurred + row.lost_open <= row.complaints
        assert row.entered <= row.free_until <= row.days in (1, *DAYS)


def test_page_of_all_stores_has_everything_from_noisy_counts(cast, several, monkeypatch):
    """The noise is one more here, and two more of complaints, of which somebody has two."""
    monkeypatch.setattr("fittings.selectors.outcomes.noise.noisy", lambda count, _keys: count + 1 if count else 0)
    wanted = scope_of(cast.office).filter()
    exact = {row.key: row for row in counts_of(wanted, "target", on=timezone.localdate()).people}
    found = outcomes_for(cast.office)
    for group, key in zip(found.groups, (True, False), strict=True):
        assert (group.people, group.at_risk) == (exact[key].people + 1, exact[key].at_risk + 1)
        assert group.recurrences == exact[key].recurrences + 2
        assert group.rate.events == group.by_person.events == group.recurrences
        assert group.readings[-1] is None or group.readings[-1].events == group.recurrences
    assert found.total.people == exact[None].people + 1
    assert found.total.recurrences == sum(group.recurrences for group in found.groups)
    assert found.comparison.rates.method.endswith("by person")


def cell(**given):
    common = {"key": True, "entered": 0, "free": 4, "back": None, "complaints": 1, "keys": 3, "most": 1}
    return ComplaintCell(**{"lost_open": 0, "lost_keys": 0} | common | given)


def test_complaints_lost_are_counted_with_and_without_a_follow_up(without_noise):
    cells = [
        cell(complaints=20),
        cell(free=1, complaints=6, lost_open=5),
        cell(free=1, back=2, complaints=8),
        cell(free=None, complaints=4, lost_open=4),
        # At risk for no whole follow-up: nothing was seen.
        cell(entered=2, free=2, complaints=9),
    ]
    days = noisy_counts([], cells).days
    assert sum(row.complaints for row in days) == 38
    assert sum(row.lost_open for row in days) == 9
    assert [(row.days, row.complaints) for row in days if row.days is None] == [(None, 4)]
    assert sum(row.recurred_weight + row.others_weight for row in days) == pytest.approx(38)
    assert [(row.entered, row.free_until, row.days) for row in days if row.recurred] == [(0, 14, 42)]


def test_noise_of_complaints_is_as_many_as_one_person_has(monkeypatch):
    monkeypatch.setattr("fittings.selectors.outcomes.noise.noisy", lambda count, _keys: count + 2)
    days = noisy_counts([], [cell(complaints=30, most=3)]).days
    assert sum(row.complaints for row in days) == 36


def test_nobody_shown_is_nobody(cast):
    today = timezone.localdate()
    empty = released_counts(OutcomeFilter((cast.store_a.pk,), since=dt.date(2020, 1, 1)), "band", on=today)
    assert (empty.people, empty.days) == ((), ())
