"""The database's time at risk is that of the reference, person by person, whatever was answered and when."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from django.db.models import Sum
from django.utils import timezone

from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.domain.people.recurrence import Pain
from fittings.domain.regions import Complaint
from fittings.models import Choice, Course, FollowUp, LeftOut, PainReport
from fittings.selectors.outcomes.courses import (
    OutcomeFilter,
    counted,
    counts_of,
    course_rows,
    courses_apart,
    model_rows,
)
from fittings.services import choice_correct, contact_record
from tests.reference.person_time import Answered, Fitted, Part, parts_of
from tests.shared import shared

START = dt.datetime(2026, 1, 5, 10, 0, tzinfo=dt.UTC)
ON = dt.date(2026, 9, 1)
PLACES = (("heel", "left"), ("heel", "right"), ("heel", ""), ("knee", "left"))


@shared
def people(chosen):
    """Thirty people drawn at random: one to three fittings, complaints there or gone, silence, missing distances."""
    draw = np.random.default_rng(7)
    return [_person(draw, chosen, f"Person {number}") for number in range(30)]


def _person(draw, chosen, name):
    fittings, reports, stored = [], [], []
    for visit in range(int(draw.choice([1, 2, 3], p=[0.5, 0.3, 0.2]))):
        at = START + dt.timedelta(days=int(draw.integers(60)) + 70 * visit)
        # Now and then a complaint was not recorded a second time.
        places = [place for place in PLACES if draw.random() < 0.3]
        told = tuple((place, bool(draw.random() < 0.4)) for place in places)
        weekly = None if draw.random() < 0.4 else float(draw.integers(5, 60))
        history = tuple(Complaint(region, side or None, now=now) for (region, side), now in told)
        email = f"{name.replace(' ', '-')}@example.org"
        fitting = chosen(at=at, name=name, email=email, history=history, distance_km_week=weekly)
        fittings.append(Fitted(at.date(), told))
        reports += [_answer(draw, follow_up, at) for follow_up in fitting.follow_ups.all() if draw.random() < 0.7]
        stored.append(fitting)
    return stored, fittings, reports


def _answer(draw, follow_up, at):
    moment = at + dt.timedelta(days=int(draw.integers(0, 120)), hours=int(draw.integers(0, 13)))
    weekly = None if draw.random() < 0.15 else float(draw.integers(0, 50))
    nothing_hurts = (True, None, False)[int(draw.choice(3, p=[0.5, 0.3, 0.2]))]
    scores = (0,) if nothing_hurts else (0, 0, 3)
    pains = tuple((place, int(draw.choice(scores))) for place in PLACES if draw.random() < 0.4)
    FollowUp.objects.filter(pk=follow_up.pk).update(
        answered_at=moment, distance_km_week=weekly, nothing_hurts=nothing_hurts
    )
    PainReport.objects.bulk_create(
        PainReport(follow_up=follow_up, region=region, side=side, score=score) for (region, side), score in pains
    )
    return Answered(timezone.localdate(moment), weekly, pains, nothing_hurts)


def test_time_distance_and_event_are_those_of_the_reference(people):
    seen = []
    for stored, fittings, reports in people:
        expected = {(part.place, part.fitting): part for part in parts_of(fittings, reports)}
        number = {fitting.pk: index for index, fitting in enumerate(stored)}
        rows = Course.objects.filter(customer=stored[0].customer)
        found = {
            ((row.region, row.side), number[row.fitting_id]): Part(
                number[row.fitting_id],
                (row.region, row.side),
                row.entered_days,
                row.free_until_days,
                row.days,
                None if row.km is None else pytest.approx(row.km),
                row.recurred,
            )
            for row in rows.filter(days__isnull=False)
        }
        assert found == expected
        assert {row.fitting_id for row in rows} == set(number)
        assert rows.filter(days__isnull=True).count() == len(
            number.keys() - {row.fitting_id for row in rows if row.days}
        )
        seen += expected.values()
    assert {part.recurred for part in seen} == {part.km is None for part in seen} == {True, False}
    assert any(part.entered for part in seen)
    assert any(0 < part.free_until < part.days for part in seen if part.recurred)


def _near(km):
    return None if km is None else pytest.approx(km)


def test_exchanges_mistakes_and_contacts_are_those_of_the_reference(chosen, make_shoe, cast):
    """An exchange is another shoe chosen on its day, a mistake none, and a contact only says where it hurts."""
    draw = np.random.default_rng(11)
    make_shoe("other", 66.0)
    seen = []
    for number in range(12):
        stored, fittings, reports = _person(draw, chosen, f"Person {number}")
        worn = [(fitting.choice, told) for fitting, told in zip(stored, fittings, strict=True)]
        day = int(draw.integers(3, 60))
        moment = worn[0][0].at + dt.timedelta(days=day)
        kind = ("exchange", "mistake")[int(draw.integers(2))]
        done = choice_correct(
            actor=cast.fitter_a,
            choice=worn[0][0],
            kind=kind,
            slug="other",
            size="EU 43",
            reason="drawn",
            at=moment,
        )
        if kind == "mistake":
            worn[0] = (done.successor, worn[0][1])
        else:
            worn.append((done.successor, Fitted(moment.date(), ())))
        called = worn[0][0].at + dt.timedelta(days=int(draw.integers(1, 120)))
        pain = Pain("heel", "left", 4)
        contact_record(actor=cast.fitter_a, fitting=stored[0], answer=FollowUpAnswer(pain=(pain,)), at=called)
        reports.append(Answered(called.date(), None, ((("heel", "left"), 4),), None, scheduled=False))
        worn.sort(key=lambda item: (item[0].at, item[0].fitting_id, item[0].pk))
        expected = {
            (worn[part.fitting][0].pk, part.place): (
                part.entered,
                part.free_until,
                part.days,
                part.recurred,
                _near(part.km),
            )
            for part in parts_of([told for _, told in worn], reports)
        }
        rows = Course.objects.filter(customer=stored[0].customer)
        found = {
            (row.choice_id, (row.region, row.side)): (
                row.entered_days,
                row.free_until_days,
                row.days,
                row.recurred,
                row.km,
            )
            for row in rows.filter(days__isnull=False)
        }
        assert found == expected
        assert {row.choice_id for row in rows} == {choice.pk for choice, _ in worn}
        seen += expected.items()
    assert {choice.shoe.slug for choice in Choice.objects.filter(pk__in=[pk for (pk, _), _ in seen])} == {
        "in-target",
        "other",
    }
    assert courses_apart() == []


def test_people_are_counted_once_and_as_the_rows_say(people, cast):
    wanted = OutcomeFilter((cast.store_a.pk,))
    by_sql = counts_of(wanted, "target", on=ON)
    by_row = counted((row.in_target, row) for row in course_rows(wanted, on=ON))
    total = by_sql.people[-1]
    assert (total.key, total.people) == (None, len(people))
    assert total.people == total.at_risk + sum(total.left_out)
    rows = {row.key: row for row in by_row.people}
    for row in by_sql.people:
        other = rows[row.key]
        assert replace(row, by_person=None) == replace(other, by_person=None)
        for name in ("people", "parts", "events", "exposure", "events_squared", "events_exposure", "exposure_squared"):
            assert getattr(row.by_person, name) == pytest.approx(getattr(other.by_person, name)), name
    assert total.by_person.clustered
    weightless = {"lost_open": 0, "recurred_weight": 0.0, "others_weight": 0.0, "weight_squares": 0.0}
    days = [replace(row, **weightless) for row in by_sql.days if row.days is not None]
    assert sorted(days, key=str) == sorted(by_row.days, key=str)
    assert sum(row.recurred for row in by_sql.days) == total.recurrences > total.by_person.events


def test_follow_ups_are_counted_once_however_many_complaints(people, cast):
    found = Course.objects.aggregate(visits=Sum("visits"), open=Sum("visits_open"))
    with_complaint = [person for person in people if any(fitting.complaints for fitting in person[1])]
    assert 0 < found["open"] < found["visits"] <= sum(len(reports) for *_, reports in with_complaint)


def test_every_reason_to_be_left_out_has_its_people(chosen, cast):
    def answered(name, history, *answers):
        fitting = chosen(at=START, name=name, email="", history=history)
        for follow_up, (days, nothing_hurts) in zip(fitting.follow_ups.all(), answers, strict=False):
            FollowUp.objects.filter(pk=follow_up.pk).update(
                answered_at=START + dt.timedelta(days=days), wearing=True, nothing_hurts=nothing_hurts
            )

    gone, there = (Complaint("heel", "left"),), (Complaint("heel", "left", now=True),)
    answered("No complaint", (), (14, True))
    answered("No answer", gone)
    answered("Pain not answered", gone, (14, None), (40, None))
    answered("Something hurts, not said where", gone, (14, False))
    answered("Said nothing of it while there", there, (14, None))
    answered("There all the time", there, (14, False))
    PainReport.objects.create(
        follow_up=FollowUp.objects.get(answered_at__isnull=False, fitting__customer__name="There all the time"),
        region="heel",
        side="left",
        score=2,
    )
    answered("Free at the last answer alone", there, (14, True))
    answered("At risk", gone, (14, True))
    total = counts_of(OutcomeFilter((cast.store_a.pk,)), "target", on=ON).people[-1]
    assert dict(zip(LeftOut, total.left_out, strict=True)) == {
        LeftOut.NO_COMPLAINT: 1,
        LeftOut.NO_ANSWER: 1,
        LeftOut.NOT_SAID: 3,
        LeftOut.NEVER_FREE: 1,
        LeftOut.NOT_WATCHED: 1,
        LeftOut.WORN_BESIDE: 0,
    }
    assert (total.people, total.at_risk, total.visits, total.visits_open) == (8, 1, 7, 4)


def test_no_course_is_apart_from_its_answers(people):
    assert courses_apart() == []


def test_filters_narrow_the_people(people, cast):
    def count(**given):
        stores = given.pop("stores", (cast.store_a.pk,))
        rows = counts_of(OutcomeFilter(stores, **given), "band", on=ON).people
        return rows[-1].people if rows else 0

    assert count(stores=(cast.store_b.pk,)) == 0
    assert count(since=dt.date(2026, 1, 5), until=dt.date(2026, 9, 1)) == len(people)
    first_days = [fittings[0].on for _, fittings, _ in people]
    assert count(until=dt.date(2026, 2, 1)) == sum(day < dt.date(2026, 2, 1) for day in first_days) > 0
    assert count(since=dt.date(2026, 9, 1)) == 0
    assert count(until=dt.date(2026, 1, 5)) == 0
    assert count(band=3) == len(people)
    assert count(band=2) == 0
    assert count(use="running", fitter=cast.fitter_a.pk) == len(people)
    assert count(use="walking") == 0
    assert count(fitter=cast.fitter_b.pk) == 0


def test_model_takes_those_at_risk_with_a_mass_and_a_distance(people, cast, django_assert_num_queries):
    with django_assert_num_queries(1):
        rows = model_rows(OutcomeFilter((cast.store_a.pk,)), on=ON)
    at_risk = Course.objects.filter(days__isnull=False)
    assert 0 < len(rows) < at_risk.count()
    assert len({row.customer_id for row in rows}) < len(rows)
    assert {1, 2} <= {row.complaints for row in rows}
    # The time with a later shoe begins where it was chosen, and a recurrence counts for the shoe worn then.
    known = at_risk.filter(fitting__body_mass_kg__isnull=False, fitting__distance_km_week__isnull=False)
    assert sorted((row.customer_id, row.entered, row.days, row.recurred) for row in rows) == sorted(
        known.values_list("customer", "entered_days", "days", "recurred")
    )
    assert any(row.entered for row in rows)
    assert sum(row.recurred for row in rows) > 0
    assert {row.store for row in rows} == {cast.store_a.pk}


def test_complaints_of_people_lost_are_counted_once_and_weigh_on_the_others(people, chosen, cast):
    """Everybody with something open is lost a year later; the last part of each course counts, whatever the filter."""
    on = dt.date(2027, 9, 1)
    for days, history in (
        (0, (Complaint("heel", "left"),)),
        (30, (Complaint("heel", "right"), Complaint("knee", None))),
    ):
        chosen(at=START + dt.timedelta(days=days), name="Never answers", email="never@example.org", history=history)
    wanted = OutcomeFilter((cast.store_a.pk,))
    days = counts_of(wanted, "target", on=on).days
    expected = 0
    for stored, _, reports in people:
        rows = list(Course.objects.filter(customer=stored[0].customer))
        parts = [row for row in rows if row.days is not None]
        if all(row.waits_since is None for row in rows):
            continue
        last = {(row.region, row.side): row for row in sorted(parts, key=lambda row: row.days)}
        told = [fitting for fitting in stored if any(row.fitting == fitting and row.complaints for row in rows)]
        expected += sum(not row.recurred for row in last.values())
        if not parts and not reports and told:
            expected += next(row.complaints for row in rows if row.fitting == told[-1])
    assert sum(row.lost_open for row in days) == expected + 2
    assert sum(row.complaints for row in days if row.days is None) == 2
    heard = sum(row.recurred_weight + row.others_weight for row in days)
    assert heard == pytest.approx(sum(row.complaints for row in days))
    first = counts_of(replace(wanted, until=dt.date(2026, 2, 20)), "target", on=on).days
    assert 0 < sum(row.lost_open for row in first) < expected
