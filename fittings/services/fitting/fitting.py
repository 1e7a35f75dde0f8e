"""Recording a fitting."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from catalogue.models import Shoe
from core import audit
from core.audit import Change
from core.domain.errors import DomainError
from core.domain.quoting import quoted
from core.models import Store, User
from fittings.domain.fitting.angles import measured_twice
from fittings.domain.fitting.grading import is_measured
from fittings.domain.fitting.intake import CustomerIntake, FittingIntake, FootIntake, FootMarks
from fittings.domain.fitting.need import OBSERVED_COLUMNS, Need, ObservedFoot, Person, assess
from fittings.domain.fitting.referral import Referral, referral_at_fitting
from fittings.domain.people.consent import CONSENT_VERSION
from fittings.domain.refusals import submission_used
from fittings.domain.shoes.sizing import size_of_pair
from fittings.models import Consent, Customer, Fitting, FootObservation, HistoryItem, PictureAngle
from fittings.selectors.fitting.needs import CurrentRules, current_rules, need_of
from fittings.selectors.fitting.recommendations import recommend, request_of_fitting
from fittings.selectors.fitting.referral import current_referral_rules, referral_of_fitting, reported_of
from fittings.services.fitting.checks import check_intake, check_record, require
from fittings.services.fitting.grading import cutoffs_for, graded
from fittings.services.fitting.looks import looks_store, shoes_looked_at

_SAID = ("use", "body_mass_kg", "distance_km_week", "pain_now", "pain_weeks", "hip_weak", "clinician_advised")

ADVISED = 8
"""How many shoes are noted as advised."""


@dataclass(frozen=True, slots=True)
class RecordedFitting:
    """The fitting with need and referral. `created` is False when the same submission had come before."""

    fitting: Fitting
    need: Need
    referral: Referral
    created: bool


@dataclass(frozen=True, slots=True)
class _Basis:
    """What the need was worked out by, and the need."""

    rules: CurrentRules
    need: Need
    cutoffs_pk: int | None
    referral_rules_pk: int
    referral: Referral


def observed_foot(foot: FootIntake) -> ObservedFoot:
    """What the need depends on, of everything that was observed and measured of a foot."""
    return ObservedFoot(**{name: getattr(foot, name) for name in OBSERVED_COLUMNS})


def advice_note(fitting: Fitting) -> None:
    """Store which shoes are shown for a fitting now, so that its page can say later what was advised then."""
    shown = recommend(request_of_fitting(fitting), limit=ADVISED).results
    fitting.advised = [
        {
            "slug": item.shoe.slug,
            "title": item.shoe.title,
            "stability": item.suggestion.stability,
            "probability": item.suggestion.probability,
            "in_target": item.suggestion.in_target,
        }
        for item in shown
    ]
    fitting.save(update_fields=["advised"])


def person_of(intake: FittingIntake) -> Person:
    """What the need depends on, of everything that came in."""
    return Person(
        use=intake.use,
        body_mass_kg=intake.body_mass_kg,
        left=observed_foot(intake.left),
        right=observed_foot(intake.right),
        hip_weak=intake.hip_weak,
        history=intake.history,
    )


def size_wanted(intake: FittingIntake) -> Decimal | None:
    """Half size of the larger foot; None when neither was measured."""
    pair = size_of_pair(intake.left.length_mm, intake.right.length_mm)
    return None if pair is None else Decimal(str(pair.eu_half))


def fitting_record(
    *,
    actor: User,
    store: Store,
    intake: FittingIntake,
    at: dt.datetime | None = None,
    customer: Customer | None = None,
) -> RecordedFitting:
    """Record a fitting and work out the need.

    Without consent only store, fitter and date are kept; the need is in the answer and nowhere else.

    Parameters
    ----------
    actor : the fitter, who must work in the store
    intake : what was said, seen and measured
    at : when it took place; now where left out
    customer : who it is, where that is known already; else found or made by what the intake says

    Raises
    ------
    DomainError
        404 for a store that is not the actor's, 400 naming every bad field, 409 for a submission of somebody else.
    """
    require(actor, "fittings.fitting:write", store)
    moment = at or timezone.now()
    referral_rules = current_referral_rules()
    check_intake(intake, on=timezone.localdate(moment), signs=referral_rules.rules.signs)
    cutoffs = cutoffs_for(intake)
    intake = graded(intake, cutoffs)
    rules = current_rules()
    need = assess(person_of(intake), rules.rules)
    referral = referral_at_fitting(reported_of(intake), referral_rules.rules)
    basis = _Basis(rules, need, cutoffs.pk if cutoffs else None, referral_rules.pk, referral)
    try:
        with transaction.atomic():
            return _earlier(intake, store, basis) or _record(
                actor=actor, store=store, intake=intake, basis=basis, at=moment, customer=customer
            )
    except IntegrityError as problem:
        # Two of the same submission at the same moment: the other one won.
        earlier = _earlier(intake, store, basis)
        if earlier is not None:
            return earlier
        if "submission" in str(problem):
            # It is there, and the database does not show it: it is another store's.
            raise submission_used() from problem
        raise


def _earlier(intake: FittingIntake, store: Store, basis: _Basis) -> RecordedFitting | None:
    if intake.submission is None:
        return None
    earlier = Fitting.objects.filter(submission=intake.submission).first()
    if earlier is None:
        return None
    if earlier.store_id != store.pk:
        raise submission_used()
    if not earlier.kept:
        return RecordedFitting(earlier, basis.need, basis.referral, created=False)
    return RecordedFitting(earlier, need_of(earlier), referral_of_fitting(earlier), created=False)


def _record(
    *,
    actor: User,
    store: Store,
    intake: FittingIntake,
    basis: _Basis,
    at: dt.datetime,
    customer: Customer | None,
) -> RecordedFitting:
    fitting = Fitting(store=store, fitter=actor, at=at, kept=intake.customer.consent, submission=intake.submission)
    current_shoe = _current_shoe(intake.current_shoe)
    shoes = shoes_looked_at(intake.looks)
    changes: list[Change] = []
    if fitting.kept:
        fitting.customer = customer or customer_find_or_make(intake.customer, store, at, changes)
        fitting.current_shoe = current_shoe
        _fill(fitting, intake, basis)
    else:
        fitting.link_nonce = ""
    check_record(fitting)
    fitting.save()
    if fitting.kept:
        _save_parts(fitting, intake, basis.cutoffs_pk)
        looks_store(fitting, intake.looks, shoes, cutoffs_pk=basis.cutoffs_pk)
    changes.append(Change("fittings.fitting.recorded", fitting, store=store))
    audit.record_many(changes, actor=actor)
    return RecordedFitting(fitting, basis.need, basis.referral, created=True)


def _current_shoe(slug: str | None) -> Shoe | None:
    if not slug:
        return None
    shoe = Shoe.objects.filter(slug=slug).first()
    if shoe is None:
        message = f"There is no shoe {quoted(slug)} in the catalogue. Leave it out; the lab or head office can add it."
        raise DomainError(f"current_shoe: {message}", code="invalid", fields={"current_shoe": [message]})
    return shoe


def customer_find_or_make(given: CustomerIntake, store: Store, at: dt.datetime, changes: list[Change]) -> Customer:
    """Find the customer by e-mail address and name, or make one; record the consent to today's wording once."""
    name, email = given.name.strip(), given.email.strip()
    customer = None
    if email:
        # Two fittings of one new person at the same moment wait for each other here.
        Store.objects.select_for_update(no_key=True).get(pk=store.pk)
        known = Customer.objects.filter(store=store, email__iexact=email, name__iexact=name)
        customer = known.order_by("pk").first()
    if customer is None:
        customer = Customer(store=store, name=name, email=email, phone=given.phone.strip(), created_at=at)
        check_record(customer)
        customer.save()
        changes.append(Change("fittings.customer.created", customer, store=store))
    elif given.phone.strip() not in ("", customer.phone):
        before = audit.snapshot(customer)
        customer.phone = given.phone.strip()
        customer.save(update_fields=["phone"])
        changes.append(Change("fittings.customer.corrected", customer, before, store=store))
    consent_note(customer, at, changes, guardian=given.guardian)
    return customer


def consent_note(customer: Customer, at: dt.datetime, changes: list[Change], *, guardian: str = "") -> None:
    """Record the consent to today's wording, once, and who gave it for somebody under age."""
    guardian = guardian.strip()
    consent, is_new = Consent.objects.get_or_create(
        customer=customer, text_version=CONSENT_VERSION, defaults={"given_at": at, "guardian": guardian}
    )
    if not is_new and guardian not in ("", consent.guardian):
        before = audit.snapshot(consent)
        consent.guardian = guardian
        consent.save(update_fields=["guardian"])
        changes.append(Change("fittings.consent.guardian_named", consent, before, store=customer.store))
    if is_new:
        changes.append(Change("fittings.consent.given", consent, store=customer.store))


def _fill(fitting: Fitting, intake: FittingIntake, basis: _Basis) -> None:
    need = basis.need
    for name in _SAID:
        setattr(fitting, name, getattr(intake, name))
    fitting.stop_signs, fitting.stop_signs_asked = list(intake.stop_signs), intake.stop_signs_asked
    fitting.cushioning_wish = intake.cushioning
    fitting.current_shoe_text = "" if fitting.current_shoe_id else " ".join(intake.current_shoe_text.split())
    fitting.insole, fitting.size_system = intake.insole, intake.size_system
    fitting.size_eu = size_wanted(intake)
    fitting.rules_id, fitting.referral_rules_id = basis.rules.pk, basis.referral_rules_pk
    fitting.referral_advice = list(basis.referral.advice)
    fitting.need_centre, fitting.need_low, fitting.need_high = need.centre, need.low, need.high
    fitting.need_contributions = [asdict(item) for item in need.contributions]
    fitting.need_left_out = list(need.left_out)


def _save_parts(fitting: Fitting, intake: FittingIntake, cutoffs_pk: int | None) -> None:
    items = [
        HistoryItem(fitting=fitting, region=item.region, side=item.side or "", now=item.now, settled_on=item.settled_on)
        for item in intake.history
    ]
    if items:
        HistoryItem.objects.bulk_create(items)
    feet = [
        FootObservation(
            fitting=fitting, foot=name, cutoffs_id=cutoffs_pk if is_measured(foot) else None, **asdict(foot)
        )
        for name, foot in (("left", intake.left), ("right", intake.right))
        if foot != FootIntake()
    ]
    if feet:
        FootObservation.objects.bulk_create(feet)
    if intake.marks:
        PictureAngle.objects.bulk_create(
            PictureAngle(fitting=fitting, foot=item.foot, by=fitting.fitter, at=fitting.at, **_measured(item))
            for item in intake.marks
        )


def _measured(item: FootMarks) -> dict[str, Any]:
    """What is stored of a measure on a picture: never the marks."""
    measured = measured_twice(item.marks, item.foot)
    return {"kind": measured.kind, "mean": measured.mean, "apart": measured.apart}
