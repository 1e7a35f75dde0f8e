"""A choice that is taken back: what stays, what moves, what is refused."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from catalogue.models import FaultReport, StockItem, StockMovement
from core.audit import record_kinds, verification
from core.domain.errors import DomainError
from core.models import AuditEntry
from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.domain.people.recurrence import Pain
from fittings.models import Choice, Correction, Course, FollowUp, LeftOut
from fittings.selectors.outcomes.courses import courses_apart
from fittings.selectors.outcomes.demand import chosen_since
from fittings.services import choice_correct, choice_record, contact_record, follow_up_answer
from tests.shared import shared

pytestmark = pytest.mark.usefixtures("db")

CHOSEN = dt.datetime(2026, 1, 5, 10, 0, tzinfo=dt.UTC)


def day(number):
    return CHOSEN + dt.timedelta(days=number)


@shared
def fitting(chosen, make_shoe):
    make_shoe("other", 66.0)
    return chosen(at=CHOSEN)


@pytest.fixture
def correct(fitting, cast):
    def run(kind="exchange", *, choice=None, slug="other", size="EU 43", reason="too short", actor=None, **more):
        return choice_correct(
            actor=actor or cast.fitter_a,
            choice=choice or fitting.choice,
            kind=kind,
            slug=slug,
            size=size,
            reason=reason,
            **more,
        )

    return run


def answer(fitting, weeks, *pains, km=14.0, **said):
    follow_up = fitting.follow_ups.get(weeks=weeks, pair=1)
    given = FollowUpAnswer(distance_km_week=km, pain=pains, **said)
    return follow_up_answer(actor=None, follow_up=follow_up, answer=given, at=day(weeks * 7))


def pairs_of(store, shoe, size):
    return (
        StockItem.objects.filter(store=store, shoe__slug=shoe, size_eu=Decimal(size))
        .values_list("quantity", flat=True)
        .first()
    )


def parts():
    rows = Course.objects.order_by("choice_id").values_list("shoe__slug", "entered_days", "days", "km", "recurred")
    return list(rows)


def test_exchange_leaves_the_old_choice_as_it_was_and_splits_the_outcomes(fitting, correct):
    before = Choice.objects.values().get()
    answer(fitting, 2, nothing_hurts=True)
    done = correct(at=day(28))
    assert Choice.objects.filter(pk=before["id"]).values().get() == before
    assert (done.successor.replaces_id, done.successor.at, done.successor.pair) == (before["id"], day(28), 1)
    assert done.successor.fitting.__class__.objects.get().choice == done.successor
    answer(fitting, 6, Pain("heel", "left", 4))
    assert parts() == [("in-target", 0, 28, 56.0, False), ("other", 28, 42, 28.0, True)]
    assert courses_apart() == []


def test_answered_follow_ups_stay_with_the_old_shoe_and_open_ones_ask_about_the_new(fitting, correct):
    answer(fitting, 2, nothing_hurts=True)
    old, new = fitting.choice, correct(at=day(28)).successor
    about = dict(FollowUp.objects.values_list("weeks", "choice"))
    assert about == {2: old.pk, 6: new.pk, 12: new.pk, 26: new.pk, 52: new.pk}
    open_ones = FollowUp.objects.filter(answered_at__isnull=True)
    # An exchange answers nothing: it was once entered as a follow-up without a recurrence.
    assert set(open_ones.values_list("recurrence", "free_of_complaints", "closed_at")) == {("", None, None)}


def test_mistake_is_as_if_the_successor_had_been_chosen_from_the_beginning(fitting, correct, cast):
    answer(fitting, 2, nothing_hurts=True)
    answer(fitting, 6, nothing_hurts=True)
    new = correct("mistake", at=day(50)).successor
    assert new.at == CHOSEN
    assert parts() == [("other", 0, 42, 84.0, False)]
    assert set(FollowUp.objects.values_list("choice", flat=True)) == {new.pk}
    assert not StockMovement.objects.exists()
    assert chosen_since(cast.store_a, CHOSEN.date()) == {(new.shoe_id, Decimal("43.0"), ""): 1}


def test_return_without_a_new_shoe_closes_what_is_open_and_ends_the_time(fitting, correct, cast):
    answer(fitting, 2, nothing_hurts=True)
    done = correct("return", slug="", size="", at=day(28))
    assert done.successor is None
    assert FollowUp.objects.due(day(90).date()).count() == 0
    assert FollowUp.objects.filter(closed_at=day(28)).count() == 4
    assert pairs_of(cast.store_a, "in-target", "42.5") == 1
    with pytest.raises(DomainError) as refused:
        answer(fitting, 6, nothing_hurts=True)
    assert refused.value.code == "closed"
    # Free until the second week, and nothing known since: the time ends there, before the return.
    assert parts() == [("in-target", 0, 14, 28.0, False)]
    assert Course.objects.get().waits_since is None


def test_shoe_chosen_after_a_return_takes_the_follow_ups_over(fitting, correct, cast):
    old = fitting.choice
    correct("return", slug="", size="", at=day(28))
    new = choice_record(actor=cast.fitter_a, fitting=fitting, slug="other", size="EU 43", at=day(35))
    assert (new.replaces, new.pair) == (old, 1)
    assert set(FollowUp.objects.values_list("choice", "closed_at")) == {(new.pk, None)}
    with pytest.raises(DomainError) as refused:
        choice_record(actor=cast.fitter_a, fitting=fitting, slug="other", size="EU 43")
    assert refused.value.code == "already_chosen"


def test_pair_comes_back_and_a_new_one_leaves(fitting, correct, cast):
    StockItem.objects.create(store=cast.store_a, shoe=Choice.objects.get().shoe, size_eu=Decimal("43"), quantity=2)
    assert correct(slug="in-target").stock_notes == ()
    assert pairs_of(cast.store_a, "in-target", "42.5") == 1
    assert pairs_of(cast.store_a, "in-target", "43") == 1


def test_pair_that_cannot_be_sold_again_is_written_off(fitting, correct, cast):
    correct(restock=False)
    assert pairs_of(cast.store_a, "in-target", "42.5") == 0
    assert list(StockMovement.objects.order_by("pk").values_list("kind", "change")) == [
        ("returned", 1),
        ("written_off", -1),
    ]


def test_count_without_the_new_pair_is_told_and_refuses_nobody(fitting, correct):
    (note,) = correct().stock_notes
    assert "has 0 pairs of Brand other" in note


def test_faulty_pair_goes_to_the_lab_without_the_person_and_never_back_on_the_shelf(fitting, correct, cast):
    correct("fault", reason="The heel counter broke", at=day(30))
    assert not Correction.objects.get().restocked
    assert pairs_of(cast.store_a, "in-target", "42.5") == 0
    report = FaultReport.objects.get()
    assert (report.shoe.slug, report.store, report.size_eu) == ("in-target", cast.store_a, Decimal("42.5"))
    assert (report.words, report.reported_by) == ("The heel counter broke", cast.fitter_a)
    assert report.weeks_worn == (timezone.now() - CHOSEN).days // 7


def test_fault_that_names_the_customer_is_refused(correct):
    with pytest.raises(DomainError) as refused:
        correct("fault", reason="Ada, says it broke")
    assert "reason" in refused.value.fields
    assert not Correction.objects.exists()
    assert not FaultReport.objects.exists()


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"kind": "theft"}, "kind"),
        ({"reason": "  "}, "reason"),
        ({"reason": "x" * 501}, "reason"),
        ({"reason": "a\x00b"}, "reason"),
        ({"slug": "no-such"}, "slug"),
        ({"size": "EU 99"}, "size"),
        ({"size": ""}, "size"),
        ({"slug": ""}, "slug"),
        ({"slug": "", "size": ""}, "slug"),
        ({"comfort": 11}, "comfort"),
        ({"kind": "mistake", "slug": "in-target", "size": "EU 42.5"}, "slug"),
    ],
)
def test_bad_correction_is_refused_by_field_and_leaves_nothing(correct, change, field):
    with pytest.raises(DomainError) as refused:
        correct(**change)
    assert refused.value.status == 400
    assert field in refused.value.fields
    assert (Choice.objects.count(), Correction.objects.count(), StockMovement.objects.count()) == (1, 0, 0)


def test_doubled_correction_is_refused_and_names_the_newest(fitting, correct):
    first = fitting.choice
    second = correct().successor
    with pytest.raises(DomainError) as refused:
        correct(choice=first)
    assert (refused.value.status, refused.value.code) == (409, "already_corrected")
    assert f"number {second.pk}" in refused.value.message
    third = correct(choice=second, slug="in-target", size="EU 44").successor
    assert third.replaces == second
    assert Choice.objects.uncorrected().get() == third


def test_foreign_store_and_time_before_the_choice_are_refused(correct, cast):
    with pytest.raises(DomainError) as refused:
        correct(actor=cast.fitter_b)
    assert refused.value.status == 404
    with pytest.raises(DomainError) as refused:
        correct(at=day(-1))
    assert refused.value.code == "before_choice"


def test_second_pair_has_follow_ups_of_its_own_and_leaves_the_first_ones_course_alone(fitting, cast, correct):
    choice_record(actor=cast.fitter_a, fitting=fitting, slug="other", size="EU 43", another_pair=True, at=CHOSEN)
    assert FollowUp.objects.filter(pair=2).count() == FollowUp.objects.filter(pair=1).count() == 5
    assert FollowUp.objects.due(day(14).date()).count() == 2
    answer(fitting, 2, nothing_hurts=True)
    beside = fitting.follow_ups.get(pair=2, weeks=6)
    given = FollowUpAnswer(distance_km_week=50.0, pain=(Pain("heel", "left", 5),))
    follow_up_answer(actor=None, follow_up=beside, answer=given, at=day(42))
    first, second = Course.objects.order_by("choice_id")
    # Pain is the person's, whichever pair they were asked about; distance is taken from the first pair's answers.
    assert (first.days, first.recurred, first.km, first.left_out) == (42, True, None, None)
    assert (second.days, second.left_out) == (None, LeftOut.WORN_BESIDE)
    for _ in range(2):
        choice_record(actor=cast.fitter_a, fitting=fitting, slug="other", size="EU 43", another_pair=True)
    with pytest.raises(DomainError) as refused:
        choice_record(actor=cast.fitter_a, fitting=fitting, slug="other", size="EU 43", another_pair=True)
    assert refused.value.status == 409


def test_call_in_pain_is_an_onset_and_uses_up_no_follow_up(fitting, cast):
    answer(fitting, 2, nothing_hurts=True)
    given = FollowUpAnswer(pain=(Pain("heel", "left", 6),), comment="calls in pain after three weeks")
    noted = contact_record(actor=cast.fitter_a, fitting=fitting, answer=given, at=day(21))
    assert (noted.weeks, noted.recurrence, noted.comment) == (0, "late", "calls in pain after three weeks")
    row = Course.objects.get()
    assert (row.free_until_days, row.days, row.recurred, row.visits) == (14, 21, True, 1)
    assert FollowUp.objects.due(day(42).date()).get().weeks == 6


def test_contact_never_says_that_a_complaint_is_gone(fitting, cast):
    contact_record(actor=cast.fitter_a, fitting=fitting, answer=FollowUpAnswer(comment="asks for laces"), at=day(9))
    assert Course.objects.get().days is None
    for said in ({"nothing_hurts": True}, {"pain": (Pain("heel", "left", 0),)}):
        with pytest.raises(DomainError) as refused:
            contact_record(actor=cast.fitter_a, fitting=fitting, answer=FollowUpAnswer(**said))
        assert "pain" in refused.value.fields
    assert FollowUp.objects.filter(weeks=0).count() == 1


def test_every_step_is_in_the_trail_without_words_about_the_person(fitting, correct):
    correct(reason="secretly unhappy", at=day(28))
    kinds = [kind for kind in record_kinds() if kind.model._meta.app_label == "fittings"]
    assert [fault for kind in kinds for fault in verification.record_faults(kind)] == []
    actions = set(AuditEntry.objects.values_list("action", flat=True))
    assert actions >= {"fittings.choice.corrected", "fittings.choice.recorded", "fittings.follow_up.moved"}
    assert not AuditEntry.objects.filter(payload__icontains="unhappy").exists()
