"""Two answers of one person at the very same moment, or an answer and a removal: nothing is lost or waits in vain."""

from __future__ import annotations

import datetime as dt

import pytest

from core.gate import row_scope
from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.models import Course, FollowUp
from fittings.selectors.outcomes.courses import courses_apart
from fittings.services import choice_record, follow_up_answer
from fittings.services.people import privacy
from tests.databases import at_once, committed_database

db = pytest.fixture(committed_database)
CHOSEN = dt.datetime(2026, 1, 5, 10, 0, tzinfo=dt.UTC)


def answered(follow_up):
    with row_scope.everything():
        answer = FollowUpAnswer(wearing=True, distance_km_week=14.0, nothing_hurts=True)
        follow_up_answer(
            actor=None, follow_up=follow_up, answer=answer, at=CHOSEN + dt.timedelta(weeks=follow_up.weeks)
        )
    return "answered"


def test_two_answers_at_once_both_stand_in_the_course(chosen):
    follow_ups = list(chosen(at=CHOSEN, distance_km_week=20.0).follow_ups.order_by("due_on"))
    assert at_once(answered, *follow_ups) == ["answered"] * 5
    course = Course.objects.get()
    assert (course.days, course.waits_since) == (52 * 7, None)
    assert courses_apart() == []


def test_answers_and_a_removal_at_once_leave_no_course(chosen, cast):
    fitting = chosen(at=CHOSEN, distance_km_week=20.0)

    def act(what):
        if isinstance(what, FollowUp):
            try:
                return answered(what)
            except FollowUp.DoesNotExist:
                return "removed before"
        with row_scope.everything():
            privacy.customer_erase(actor=cast.manager_a, customer=what, reason="in-person")
        return "removed"

    told = at_once(act, fitting.customer, *fitting.follow_ups.all())
    assert told.count("removed") == 1
    assert not Course.objects.exists()


def test_answer_and_a_choice_at_the_persons_next_fitting_at_once_do_not_wait_for_each_other(chosen, make_fitting, cast):
    first = chosen(at=CHOSEN, distance_km_week=20.0)
    second = make_fitting(at=CHOSEN + dt.timedelta(weeks=10))

    def act(what):
        if isinstance(what, FollowUp):
            return answered(what)
        with row_scope.everything():
            choice_record(actor=cast.fitter_a, fitting=what, slug="in-target", size="EU 42.5", at=what.at)
        return "chosen"

    told = at_once(act, *first.follow_ups.filter(weeks__lt=12), second)
    assert sorted(told) == ["answered", "answered", "chosen"]
    assert set(Course.objects.values_list("fitting", flat=True)) == {first.pk, second.pk}
    assert courses_apart() == []
