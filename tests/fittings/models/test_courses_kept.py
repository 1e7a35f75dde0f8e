"""The kept course of a fitting follows every change of what it stands on, however it was made."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from core.gate import row_scope
from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.models import Choice, Course, Fitting, FollowUp, HistoryItem
from fittings.selectors.courses import courses_apart
from fittings.services import follow_up_answer, privacy

pytestmark = pytest.mark.usefixtures("db")

CHOSEN = dt.datetime(2026, 1, 5, 10, 0, tzinfo=dt.UTC)


@pytest.fixture
def fitting(chosen):
    return chosen(at=CHOSEN, distance_km_week=20.0)


def test_choice_makes_a_course_that_waits_for_its_first_follow_up(fitting, cast):
    course = Course.objects.get()
    assert (course.fitting, course.store, course.fitter, course.use) == (
        fitting,
        cast.store_a,
        cast.fitter_a,
        "running",
    )
    assert (course.in_target, course.chosen_on, course.complaints) == (True, CHOSEN.date(), 1)
    assert (course.answered, course.days, course.km, course.recurred) == (False, None, None, False)
    assert course.waits_since == CHOSEN.date() + dt.timedelta(weeks=2)


def test_fitting_without_a_choice_has_no_course(make_fitting):
    make_fitting()
    assert not Course.objects.exists()


def test_answer_moves_the_course_in_the_same_transaction(fitting):
    first = fitting.follow_ups.order_by("due_on").first()
    answer = FollowUpAnswer(wearing=True, distance_km_week=14.0, nothing_hurts=True)
    follow_up_answer(actor=None, follow_up=first, answer=answer, at=CHOSEN + dt.timedelta(days=14))
    course = Course.objects.get()
    assert (course.answered, course.days, course.km, course.recurred) == (True, 14, 28.0, False)
    assert course.waits_since == CHOSEN.date() + dt.timedelta(weeks=6)


def test_rows_written_past_the_services_are_followed_too(fitting):
    def days():
        return Course.objects.values_list("days", "complaints", "use").get()

    follow_up = FollowUp.objects.filter(fitting=fitting, weeks=6)
    follow_up.update(answered_at=CHOSEN + dt.timedelta(days=40), distance_km_week=10, free_of_complaints=True)
    assert days() == (40, 1, "running")
    HistoryItem.objects.create(fitting=fitting, region="knee", side="left", now=True)
    assert days() == (40, 2, "running")
    HistoryItem.objects.filter(fitting=fitting, region="heel").update(now=True, settled_on=None)
    # Free of everything on day 40, and asked no more since.
    assert days() == (None, 2, "running")
    Fitting.objects.filter(pk=fitting.pk).update(use="walking")
    assert days() == (None, 2, "walking")
    HistoryItem.objects.filter(fitting=fitting).delete()
    assert days() == (None, 0, "walking")
    Choice.objects.filter(fitting=fitting).delete()
    assert not Course.objects.exists()


def test_days_are_those_of_the_practices_time_zone(fitting):
    """Half past eleven at night in UTC is the next day where clocks are ahead."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT set_config('benchlast.zone', 'Europe/Athens', true)")
    late = dt.datetime(2026, 1, 19, 23, 30, tzinfo=dt.UTC)
    FollowUp.objects.filter(fitting=fitting, weeks=2).update(answered_at=late, free_of_complaints=True)
    assert Course.objects.get().days == 15


@pytest.mark.parametrize("way", ["customer_withdraw", "customer_erase"])
def test_course_goes_with_the_person(way, fitting, cast):
    getattr(privacy, way)(actor=cast.manager_a, customer=fitting.customer, reason="in-person")
    assert not Course.objects.exists()
    assert courses_apart() == []


def test_end_of_retention_takes_the_course(fitting, settings):
    settings.HEALTH_DATA_RETENTION_MONTHS = 1
    privacy.retention_apply(at=timezone.now() + dt.timedelta(days=3000))
    assert not Course.objects.exists()


def test_check_names_what_differs_and_fixes_it(fitting, capsys):
    call_command("check_courses")
    assert "Every course is" in capsys.readouterr().out
    Course.objects.update(recurred=True)
    with pytest.raises(CommandError, match="1 courses differ"):
        call_command("check_courses")
    assert f"fitting {fitting.pk}:" in capsys.readouterr().err
    call_command("check_courses", "--fix")
    assert not Course.objects.get().recurred
    Course.objects.all().delete()
    assert courses_apart() == [fitting.pk]
    with row_scope.everything():
        call_command("check_courses", "--fix")
    assert courses_apart() == []
