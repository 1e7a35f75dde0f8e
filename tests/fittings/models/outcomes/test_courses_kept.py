"""The stored course of a fitting follows every change of what it stands on, however it was made."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from core.gate import row_scope
from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.domain.people.recurrence import Pain
from fittings.domain.regions import Complaint
from fittings.models import Choice, Course, Fitting, FollowUp, HistoryItem, LeftOut, PainReport
from fittings.selectors.outcomes.courses import OutcomeFilter, counts_of, courses_apart
from fittings.services import follow_up_answer
from fittings.services.people import privacy
from tests.shared import shared

pytestmark = pytest.mark.usefixtures("db")

CHOSEN = dt.datetime(2026, 1, 5, 10, 0, tzinfo=dt.UTC)


@shared
def fitting(chosen):
    return chosen(at=CHOSEN, distance_km_week=20.0)


@shared
def second(fitting, chosen):
    """The same person's second fitting, ten weeks later, with the same complaint."""
    return chosen(at=CHOSEN + dt.timedelta(weeks=10), distance_km_week=15.0)


def answer(fitting, weeks, *pains, km=15.0, **said):
    return follow_up_answer(
        actor=None,
        follow_up=fitting.follow_ups.get(weeks=weeks),
        answer=FollowUpAnswer(distance_km_week=km, pain=pains, **said),
        at=timezone.make_aware(dt.datetime.combine(fitting.follow_ups.get(weeks=weeks).due_on, dt.time(12))),
    )


def test_two_fittings_and_one_complaint_are_one_person_and_one_recurrence(fitting, second):
    for weeks in (2, 6):
        answer(fitting, weeks, nothing_hurts=True)
    answer(second, 2, Pain("heel", "left", 4))
    answer(fitting, 12, Pain("heel", "left", 4))
    columns = ("entered_days", "free_until_days", "days", "km", "recurred")
    first, later = Course.objects.order_by("entered_days")
    assert first.customer == later.customer
    assert (first.fitting, later.fitting) == (fitting, second)
    # The second fitting says at ten weeks that it had settled; both follow-ups of week twelve say that it is back.
    assert [getattr(first, name) for name in columns] == [0, 70, 70, 150.0, False]
    assert [getattr(later, name) for name in columns] == [70, 70, 84, 30.0, True]
    total = counts_of(OutcomeFilter((fitting.store_id,)), "target", on=CHOSEN.date()).people[-1]
    assert (total.people, total.at_risk, total.back, total.recurrences) == (1, 1, 1, 1)
    assert (total.by_person.exposure, total.by_person.events) == (180.0, 1)


def test_complaint_that_is_there_at_the_next_fitting_came_back(fitting, chosen):
    answer(fitting, 2, nothing_hurts=True)
    next_one = chosen(at=CHOSEN + dt.timedelta(weeks=10), history=(Complaint("heel", "left", now=True),))
    first = Course.objects.get(fitting=fitting)
    # Nobody has said yet how far it was from the second week to the tenth.
    assert (first.free_until_days, first.days, first.km, first.recurred) == (14, 70, None, True)
    assert Course.objects.exclude(fitting=fitting).get().left_out == LeftOut.NOT_WATCHED
    answer(next_one, 2, wearing=True)
    assert Course.objects.get(fitting=fitting).km == 150.0


def test_complaint_left_open_beside_another_is_not_known_to_be_gone(fitting):
    answer(fitting, 6, Pain("knee", "right", 3))
    course = Course.objects.get()
    assert (course.days, course.km, course.left_out) == (None, None, LeftOut.NOT_SAID)
    assert (course.visits, course.visits_open) == (1, 1)


def test_distance_that_was_not_answered_is_not_taken_from_the_fitting(fitting):
    answer(fitting, 2, nothing_hurts=True)
    answer(fitting, 6, km=None, nothing_hurts=True)
    course = Course.objects.get()
    assert (course.days, course.km) == (42, None)
    total = counts_of(OutcomeFilter((fitting.store_id,)), "target", on=CHOSEN.date()).people[-1]
    assert (total.at_risk, total.by_person.people, total.by_person.exposure) == (1, 0, 0.0)


def test_two_complaints_of_one_person_are_two_courses(chosen, cast):
    history = (Complaint("heel", "left"), Complaint("knee", "right"))
    fitting = chosen(at=CHOSEN, history=history)
    answer(fitting, 6, Pain("heel", "left", 4), Pain("knee", "right", 0))
    answer(fitting, 12, Pain("knee", "right", 0))
    assert list(Course.objects.values_list("region", "days", "recurred")) == [("heel", 42, True), ("knee", 84, False)]
    total = counts_of(OutcomeFilter((cast.store_a.pk,)), "target", on=CHOSEN.date()).people[-1]
    assert (total.people, total.at_risk, total.back, total.recurrences, total.visits) == (1, 1, 1, 1, 2)
    assert (total.by_person.people, total.by_person.parts, total.by_person.exposure) == (1, 2, 15.0 * 18)


def test_side_not_stated_once_makes_one_complaint_of_the_region(fitting, chosen):
    chosen(at=CHOSEN + dt.timedelta(weeks=10), history=(Complaint("heel"),))
    assert set(Course.objects.filter(days__isnull=False).values_list("region", "side")) == {("heel", "")}


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
    follow_up.update(answered_at=CHOSEN + dt.timedelta(days=40), distance_km_week=10, nothing_hurts=True)
    assert days() == (40, 1, "running")
    HistoryItem.objects.create(fitting=fitting, region="knee", side="left", now=True)
    assert days() == (40, 2, "running")
    pain = PainReport.objects.create(follow_up=follow_up.get(), region="heel", side="left", score=3)
    assert Course.objects.get().recurred
    pain.score = 0
    pain.save()
    assert not Course.objects.get().recurred
    follow_up.update(nothing_hurts=None)
    assert days() == (40, 2, "running")
    pain.delete()
    assert days() == (None, 2, "running")
    follow_up.update(nothing_hurts=True)
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
    FollowUp.objects.filter(fitting=fitting, weeks=2).update(answered_at=late, nothing_hurts=True)
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
