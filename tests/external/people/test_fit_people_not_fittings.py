"""Issue 12, items 13 and 14: silence counted as health, and one person with two fittings as two people."""

import datetime as dt

import pytest

from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.domain.people.recurrence import Pain
from fittings.domain.regions import Complaint
from fittings.selectors.outcomes.outcomes import outcomes_for
from fittings.services import follow_up_answer
from tests.fittings.conftest import chosen, make_fitting, make_shoe  # noqa: F401  fixtures

CHOSEN = dt.datetime(2026, 1, 5, 10, 0, tzinfo=dt.UTC)
HEEL = Pain("heel", "left", 4)


@pytest.fixture
def fitted(chosen):  # noqa: F811
    """A function that fits somebody with a heel complaint that had settled."""

    def make(name="Ada Example", days=0, **intake):
        at = CHOSEN + dt.timedelta(days=days)
        history = (Complaint("heel", "left", settled_on=dt.date(2025, 11, 1)),)
        return chosen(at=at, name=name, email=f"{name[:3]}@example.org", history=history, **intake)

    return make


def answer(fitting, days, **said):
    at = CHOSEN + dt.timedelta(days=days)
    follow_up = fitting.follow_ups.filter(answered_at__isnull=True).order_by("due_on").first()
    follow_up_answer(actor=None, follow_up=follow_up, answer=FollowUpAnswer(**said), at=at)


def test_one_tick_is_no_time_free_of_pain(fitted, cast):
    """A follow-up after 86 days on which only the wearing was answered counted as 86 days free of pain."""
    answer(fitted(distance_km_week=17.25), 86, wearing=True)
    total = outcomes_for(cast.manager_a).total
    assert (total.people, total.answered, total.at_risk, total.km) == (1, 1, 0, 0.0)
    assert (total.begun, total.visits, total.visits_open) == (0, 1, 1)
    assert {reading.at_risk for reading in total.readings} == {0}


def test_event_without_a_distance_is_not_set_against_somebody_elses_km(fitted, cast):
    """One event and 520 km that were all of another person."""
    answer(fitted("Eva"), 84, pain=(HEEL,))
    answer(fitted("Sam"), 182, nothing_hurts=True, distance_km_week=20.0)
    total = outcomes_for(cast.manager_a).total
    assert (total.recurrences, total.km, total.without_km) == (1, 520.0, 1)
    assert (total.rate.events, total.rate.per_1000_km, total.rate.exposure_km) == (0, 0.0, 520.0)


def test_two_fittings_and_one_complaint_are_one_person(fitted, cast):
    """They counted as two people, two recurrences and 480 km."""
    fittings = [fitted(), fitted(days=1)]
    for fitting in fittings:
        answer(fitting, 42, nothing_hurts=True, distance_km_week=20.0)
    for fitting in fittings:
        answer(fitting, 84, pain=(HEEL,), distance_km_week=20.0)
    total = outcomes_for(cast.manager_a).total
    assert (total.people, total.at_risk, total.back, total.recurrences) == (1, 1, 1, 1)
    assert (total.km, total.rate.events) == (pytest.approx(240.0), 1)
