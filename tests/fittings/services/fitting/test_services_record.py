"""Services: what they refuse whoever calls them, and what they leave behind."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import replace

import pytest
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from core.audit import actions, record_kinds
from core.audit.verification import head
from core.domain.errors import DomainError
from core.models import AuditEntry
from fittings.audit_words import NOT_AUDITED
from fittings.domain.fitting.intake import CustomerIntake, FittingIntake, FollowUpAnswer, FootIntake
from fittings.domain.people.recurrence import Pain
from fittings.domain.regions import Complaint
from fittings.models import Choice, Customer, Fitting, FollowUp, NeedRules, TryOn
from fittings.services import choice_record, fitting_record, follow_up_answer, try_on_record

GOOD = FittingIntake(use="running", stop_signs_asked=True, customer=CustomerIntake("Ada Example", "", True))


def record(cast, intake, **options):
    return fitting_record(actor=cast.fitter_a, store=cast.store_a, intake=intake, **options)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"use": "flying"}, "use"),
        ({"cushioning": "very"}, "cushioning"),
        ({"body_mass_kg": 9.0}, "body_mass_kg"),
        ({"distance_km_week": float("nan")}, "distance_km_week"),
        ({"pain_now": 11}, "pain_now"),
        ({"stop_signs": ("hunger",)}, "stop_signs"),
        ({"history": (Complaint("tail"),)}, "history.0.region"),
        ({"history": (Complaint("heel", "up"),)}, "history.0.side"),
        ({"history": (Complaint("heel"),) * 31}, "history"),
        ({"history": (Complaint("heel", None, True, dt.date(2025, 1, 1)),)}, "history.0.settled_on"),
        ({"left": FootIntake(pronation=4)}, "observation.left.pronation"),
        ({"right": FootIntake(fpi6=13)}, "observation.right.fpi6"),
        ({"right": FootIntake(length_mm=26.5)}, "feet.right.length_mm"),
        ({"customer": CustomerIntake("", "", True)}, "customer.name"),
        ({"customer": CustomerIntake("Ada", "nowhere", True)}, "customer.email"),
        ({"customer": CustomerIntake("Ada\x00", "", True)}, "customer.name"),
        ({"current_shoe": "no-such"}, "current_shoe"),
    ],
)
def test_a_bad_intake_is_refused_by_field(cast, change, field):
    with pytest.raises(DomainError) as refused:
        record(cast, replace(GOOD, **change))
    assert refused.value.status == 400
    assert field in refused.value.fields
    assert Fitting.objects.count() == 0


def test_settled_after_the_fitting_is_refused_by_the_day_of_the_fitting(cast):
    at = timezone.now() - dt.timedelta(days=400)
    late = replace(GOOD, history=(Complaint("heel", None, False, timezone.localdate()),))
    assert record(cast, late).created
    with pytest.raises(DomainError, match="must not be after the fitting"):
        record(cast, late, at=at)


def test_a_person_of_another_store_or_role_records_nothing(cast):
    for actor in (cast.fitter_b, cast.technician, cast.office):
        with pytest.raises(DomainError) as refused:
            fitting_record(actor=actor, store=cast.store_a, intake=GOOD)
        assert refused.value.status == 404


def test_without_rules_nothing_is_worked_out(cast):
    NeedRules.objects.update(is_current=False)
    with pytest.raises(DomainError, match="No rules"):
        record(cast, GOOD)


def test_past_date_is_kept_and_follow_ups_count_from_it(cast, make_fitting, make_shoe):
    make_shoe("in-target", 65.0)
    at = dt.datetime(2025, 3, 1, 10, 0, tzinfo=dt.UTC)
    fitting = make_fitting(at=at)
    choice = choice_record(actor=cast.fitter_a, fitting=fitting, slug="in-target", size=42, at=at)
    assert choice.at == at
    assert fitting.follow_ups.get(weeks=2).due_on == dt.date(2025, 3, 15)
    answered = follow_up_answer(
        actor=None,
        follow_up=fitting.follow_ups.get(weeks=2),
        answer=FollowUpAnswer(pain=(Pain("heel", "left", 3),)),
        at=at + dt.timedelta(days=15),
    )
    assert answered.recurrence == "early"
    assert answered.answered_by is None


def test_answer_before_the_fitting_is_refused(cast, chosen):
    fitting = chosen()
    with pytest.raises(DomainError, match="before its fitting"):
        follow_up_answer(
            actor=cast.fitter_a,
            follow_up=fitting.follow_ups.first(),
            answer=FollowUpAnswer(wearing=True),
            at=timezone.now() - dt.timedelta(days=9),
        )


def test_answer_of_bad_values_names_every_field(cast, chosen):
    bad = FollowUpAnswer(comfort=11, days_off=-1, overuse=(0, 13, 0, 0), pain=(Pain("heel", None, 11),) * 31)
    with pytest.raises(DomainError) as refused:
        follow_up_answer(actor=cast.fitter_a, follow_up=chosen().follow_ups.first(), answer=bad)
    assert {"comfort", "days_off", "overuse", "pain", "pain.0.score"} <= set(refused.value.fields)


def test_try_on_again_replaces_the_comfort(cast, make_fitting, make_shoe):
    make_shoe("in-target", 65.0)
    fitting = make_fitting()
    try_on_record(actor=cast.fitter_a, fitting=fitting, slug="in-target", size="EU 42", comfort=5)
    try_on_record(actor=cast.fitter_a, fitting=fitting, slug="in-target", size="42", comfort=7)
    try_on_record(actor=cast.fitter_a, fitting=fitting, slug="in-target", size="42.5", comfort=None)
    assert list(TryOn.objects.values_list("comfort", flat=True)) == [7, None]


def test_try_on_of_nothing_known_is_refused(cast, make_fitting):
    with pytest.raises(DomainError) as refused:
        try_on_record(actor=cast.fitter_a, fitting=make_fitting(), slug="no-such", size="XL", comfort=11)
    assert set(refused.value.fields) == {"slug", "size", "comfort"}


def test_nothing_can_be_added_to_what_was_not_kept(cast, make_fitting, make_shoe):
    make_shoe("in-target", 65.0)
    fitting = make_fitting(consent=False)
    for service in (try_on_record, choice_record):
        with pytest.raises(DomainError) as refused:
            service(actor=cast.fitter_a, fitting=fitting, slug="in-target", size="42")
        assert refused.value.status == 409


def test_choice_keeps_the_score_of_the_day(cast, make_fitting, make_shoe):
    shoe = make_shoe("in-target", 65.0, u=2.0)
    fitting = make_fitting()
    choice_record(actor=cast.fitter_a, fitting=fitting, slug="in-target", size="42.5")
    shoe.score_cards.update(stability=20.0)
    choice = Choice.objects.get()
    assert (choice.stability, choice.in_target) == (65.0, True)
    # The need is 65 ± 6, three standard uncertainties to each side.
    assert (fitting.need_low, fitting.need_high) == (59.0, 71.0)
    assert choice.probability == pytest.approx(0.9973002039367398)


def test_choice_of_a_shoe_with_unknown_uncertainty_has_no_probability(cast, make_fitting, make_shoe):
    make_shoe("in-target", 65.0, u=None)
    choice = choice_record(actor=cast.fitter_a, fitting=make_fitting(), slug="in-target", size="42.5")
    assert choice.probability is None


def test_the_database_itself_keeps_nothing_without_consent(cast, make_fitting):
    fitting = make_fitting(consent=False)
    with pytest.raises(IntegrityError, match="fitting_nothing_kept_without_consent"), transaction.atomic():
        Fitting.objects.filter(pk=fitting.pk).update(body_mass_kg=80)


def test_the_database_itself_wants_a_reason_outside_the_target(chosen):
    chosen()
    with pytest.raises(IntegrityError, match="choice_outside_target_has_reason"), transaction.atomic():
        Choice.objects.update(in_target=False)


def test_the_database_itself_refuses_answers_of_an_open_follow_up(chosen):
    chosen()
    with pytest.raises(IntegrityError, match="follow_up_nothing_before_answer"), transaction.atomic():
        FollowUp.objects.update(comfort=5)


@pytest.mark.django_db(transaction=False)
def test_recording_costs_few_queries(cast, make_shoe, django_assert_max_num_queries):
    make_shoe("in-target", 65.0)
    intake = replace(
        GOOD,
        customer=CustomerIntake("Ada", "ada@example.org", True),
        history=(Complaint("heel"), Complaint("knee")),
        left=FootIntake(pronation=2),
        right=FootIntake(pronation=1),
        submission=uuid.uuid4(),
    )
    with django_assert_max_num_queries(26):
        fitting = record(cast, intake).fitting
    with django_assert_max_num_queries(16):
        choice_record(actor=cast.fitter_a, fitting=fitting, slug="in-target", size="42.5", reason="test")


def test_everything_that_happened_is_in_the_trail_without_a_word_about_the_person(cast, chosen, make_shoe):
    make_shoe("firm", 73.0)
    fitting = chosen(
        slug="firm",
        name="Very Private",
        email="very.private@example.org",
        body_mass_kg=97.25,
        stop_signs=("night_pain",),
        history=(Complaint("inner_shin", "left"),),
    )
    follow_up_answer(
        actor=cast.fitter_a,
        follow_up=fitting.follow_ups.first(),
        answer=FollowUpAnswer(pain=(Pain("inner_shin", "left", 9),), overuse=(25, 25, 25, 25), days_off=13),
    )
    standard = [f"fittings.{kind}.created" for kind in ("need_rules", "referral_rules", "grade_cutoffs")]
    trail = AuditEntry.objects.filter(action__startswith="fittings.").exclude(action__in=standard)
    assert set(trail.values_list("action", flat=True)) == {
        "fittings.customer.created",
        "fittings.consent.given",
        "fittings.fitting.recorded",
        "fittings.choice.recorded",
        "fittings.follow_up.created",
        "fittings.follow_up.answered",
        "fittings.concern.opened",
    }
    text = "".join(trail.values_list("payload", flat=True)).lower()
    for private in (
        "private",
        "97.25",
        "night_pain",
        "inner_shin",
        "shin",
        "pain",
        "overuse_total",
        "days_off",
        "comfort",
    ):
        assert private not in text, private


def test_the_trail_agrees_with_the_records(cast, chosen, make_fitting):
    from core.audit import verification

    make_fitting(consent=False)
    fitting = chosen()
    try_on_record(actor=cast.fitter_a, fitting=fitting, slug="in-target", size="42", comfort=5)
    follow_up_answer(actor=None, follow_up=fitting.follow_ups.first(), answer=FollowUpAnswer(comfort=5))
    FollowUp.objects.filter(answered_at__isnull=True).update(sent_at=timezone.now())
    kinds = [kind for kind in record_kinds() if kind.model._meta.app_label == "fittings"]
    faults = [str(fault) for kind in kinds for fault in verification.record_faults(kind)]
    assert kinds
    assert faults == []
    assert head().entry_id > 0


def test_every_model_is_in_the_trail_or_exempt_with_a_reason():
    from django.apps import apps

    audited = {kind.model._meta.label_lower for kind in record_kinds()}
    for model in apps.get_app_config("fittings").get_models():
        label = model._meta.label_lower
        assert (label in audited) != (label in NOT_AUDITED), label
    assert {name for name in actions() if name.startswith("fittings.")}


def test_models_are_told_by_number_only(chosen):
    fitting = chosen(name="Very Private")
    rows = [
        fitting,
        fitting.customer,
        fitting.choice,
        *fitting.history.all(),
        *fitting.feet.all(),
        *fitting.follow_ups.all(),
    ]
    assert "Private" not in "".join(str(row) + repr(row) for row in rows)


def test_two_submissions_at_once_make_one_fitting(cast):
    intake = replace(GOOD, submission=uuid.uuid4())
    record(cast, intake)
    # What the second of two sees that were sent at the same moment: nothing at first, then the constraint.
    from unittest import mock

    from fittings.services.fitting import fitting as service

    found = [None]
    real = service._earlier

    def at_first_nothing(*args):
        return found.pop() if found else real(*args)

    with mock.patch.object(service, "_earlier", at_first_nothing):
        again = record(cast, intake)
    assert again.created is False
    assert Fitting.objects.count() == Customer.objects.count() == 1


def test_standard_rules_are_there_once_and_the_domain_reads_them(db):
    from fittings.domain.fitting.need import N1
    from fittings.selectors.fitting.needs import current_rules
    from fittings.standard import install_need_rules

    install_need_rules()
    assert NeedRules.objects.get().version == "N1"
    assert current_rules().rules == N1
    assert connection.vendor == "postgresql"
