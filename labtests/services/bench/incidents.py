"""Incidents: proposed by anybody of the lab, carried out or dismissed by a reviewer who made none of the tests.

To put tests in doubt is a stop that protects customers and is lifted test by test. One reviewer may do it alone, as
with stopping a rig. To void them is final, and takes another reviewer than the one who proposed it. Carrying an
incident out takes its tests out of use together, works out again or withdraws the cards that rest on them, and informs
the stores, in one transaction. Locks are taken as everywhere: model, incident, tests, rig, shoes, audit trail.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django.db import transaction
from django.utils import timezone

from catalogue.services import incident_notice_send
from core import audit
from core.audit import Change
from core.database.validation import check
from core.domain.errors import DomainError, optional_reason, required_reason
from core.gate.two_people import need_another
from core.models import User
from labtests.models import INCIDENT, BenchTest, Incident, IncidentEffect, IncidentState, State
from labtests.selectors.bench.incidents import (
    Period,
    Touched,
    period_of,
    same_proposed,
    tests_read,
    tests_touched,
    touched_body,
    touched_by,
    touched_with,
)
from labtests.services.locks import keep_model, keep_tests
from labtests.services.reviews import voided
from labtests.services.rights import needs
from labtests.services.scores.cards import cards_change
from labtests.services.studies.check_shoes import charts_judge

OWN_LISTED = 10
BATCH = 500
CHANGED = ("state", "is_released", "reasons", "amends", "reviewed_by", "reviewed_at", "review_reason")


@needs("labtests.incident:propose")
def incident_preview(*, actor: User, period: Period, at: dt.datetime | None = None) -> Touched:
    """Say what an incident would touch now. Writes nothing."""
    return touched_by(_checked(period, at or timezone.now()))


@needs("labtests.incident:propose")
@transaction.atomic
def incident_propose(*, actor: User, period: Period, reason: str, at: dt.datetime | None = None) -> Incident:
    """Put an incident before the reviewers. No test changes.

    Raises
    ------
    DomainError
        400 without a reason or for a period that cannot be, 409 where it touches no test or the same is proposed.
    """
    moment = at or timezone.now()
    period, reason = _checked(period, moment), required_reason(reason)
    _check_new(period)
    incident = Incident(
        rig=period.rig,
        quantity=period.quantity,
        begins_at=period.begins_at,
        ends_at=period.ends_at,
        effect=period.effect,
        reason=reason,
        proposed_by=actor,
        proposed_at=moment,
    )
    check(incident)
    incident.save()
    audit.record(actor=actor, action="labtests.incident.proposed", subject=incident, reason=incident.reason)
    return incident


def _check_new(period: Period) -> None:
    if not tests_touched(period).exists():
        raise _nothing_touched(period)
    same = same_proposed(period).first()
    if same is not None:
        raise DomainError(
            f"Incident {same.pk} is the same and waits already: {same.proposed_by.display_name} proposed it. "
            f"{same.decider.capitalize()} carries it out or dismisses it.",
            code="already_proposed",
            status=409,
        )


@needs("labtests.incident:carry_out")
@transaction.atomic
def incident_ask(*, actor: User, period: Period, reason: str, at: dt.datetime | None = None) -> Incident:
    """Carry out an incident that puts tests in doubt, or one to void them that somebody else proposed.

    One that nobody else proposed to void is only proposed.

    Raises
    ------
    DomainError
        As `incident_carry_out` and `incident_propose` do.
    """
    moment = at or timezone.now()
    period, is_final = _checked(period, moment), period.effect == IncidentEffect.VOID
    same = same_proposed(period)
    incident = (same.exclude(proposed_by=actor) if is_final else same).first()
    if incident is None:
        incident = incident_propose(actor=actor, period=period, reason=reason, at=moment)
        if is_final:
            return incident
    return incident_carry_out(actor=actor, incident=incident, reason=reason, at=moment)


@needs("labtests.incident:carry_out")
@transaction.atomic
def incident_carry_out(*, actor: User, incident: Incident, reason: str = "", at: dt.datetime | None = None) -> Incident:
    """Take an incident's tests back together, as they are now, with everything that rests on them.

    Parameters
    ----------
    reason : of the decision; without one it is the incident's own, which is the public one in any case

    Raises
    ------
    DomainError
        409 where somebody else decided first or no test is touched any more; 403 where the reviewer made some of the
        tests, and for who proposed to void them.
    """
    moment = at or timezone.now()
    keep_model()
    incident = _open(incident)
    need_another(
        "labtests.incident:void",
        actor,
        involved=[incident.proposed_by_id] if incident.takes_two else [],
        message=f"You proposed incident {incident.pk}, which voids tests. Another reviewer has to carry it out.",
    )
    before, touched = audit.snapshot(incident), _touched_locked(period_of(incident))
    _check_tests_of_others(touched.tests, actor, "carry this out")
    # Before anything changes: it names the state that each test had.
    incident.touched = touched_body(touched)
    entries = _take_back(touched.tests, incident, actor, moment)
    alarms = charts_judge(touched.tests)
    what = f"Worked out again after {incident}"
    cards_change(touched.shoes, actor=actor, what=what, reason=incident.reason, at=moment)
    if touched.score_cards:
        incident_notice_send(actor=actor, score_cards=touched.score_cards, reason=incident.reason, at=moment)
    reason = optional_reason(reason) or incident.reason
    _decide(incident, IncidentState.CARRIED_OUT, actor=actor, reason=reason, at=moment)
    entries.append(Change("labtests.incident.carried_out", incident, before, reason))
    audit.record_many(entries, actor=actor)
    audit.record_many(alarms, actor=None)
    return incident


@needs("labtests.incident:carry_out")
@transaction.atomic
def incident_dismiss(*, actor: User, incident: Incident, reason: str, at: dt.datetime | None = None) -> Incident:
    """Decide that an incident was none. It stays on record.

    Raises
    ------
    DomainError
        409 where somebody else decided first; 403 where the reviewer made some of the tests, which would count on.
    """
    reason = required_reason(reason)
    incident = _open(incident)
    _check_tests_of_others(tests_read(period_of(incident)), actor, "dismiss it")
    return _end(incident, actor=actor, action="labtests.incident.dismissed", reason=reason, at=at)


@needs("labtests.incident:propose")
@transaction.atomic
def incident_withdraw(*, actor: User, incident: Incident, reason: str, at: dt.datetime | None = None) -> Incident:
    """Take back a proposal of one's own, which is dismissed by that. It stays on record.

    Raises
    ------
    DomainError
        409 where somebody decided first; 403 for anybody else's.
    """
    reason = required_reason(reason)
    incident = _open(incident)
    if incident.proposed_by_id != actor.pk:
        raise DomainError(
            f"{incident.proposed_by.display_name} proposed incident {incident.pk}. Only who proposed it withdraws it; "
            "a reviewer may dismiss it.",
            code="not_own_proposal",
            status=403,
        )
    return _end(incident, actor=actor, action="labtests.incident.withdrawn", reason=reason, at=at)


def _end(incident: Incident, *, actor: User, action: str, reason: str, at: dt.datetime | None) -> Incident:
    before = audit.snapshot(incident)
    _decide(incident, IncidentState.DISMISSED, actor=actor, reason=reason, at=at or timezone.now())
    audit.record(actor=actor, action=action, subject=incident, before=before, reason=reason)
    return incident


def _checked(period: Period, now: dt.datetime) -> Period:
    """Refuse a period that cannot be; one that ends later ends now."""
    if period.begins_at > now:
        raise _bad_time("from", f"The time {period.begins_at.isoformat()} is in the future; give an earlier one.")
    if period.begins_at > period.ends_at:
        raise _bad_time("to", f"The end {period.ends_at.isoformat()} is before the beginning; give a later one.")
    return replace(period, ends_at=min(period.ends_at, now))


def _bad_time(field: str, message: str) -> DomainError:
    return DomainError(message, code="bad_period", fields={field: [message]})


def _nothing_touched(period: Period) -> DomainError:
    return DomainError(
        f"There is nothing to take back: rig {period.rig.code} has no test from {period.begins_at.isoformat()} to "
        f"{period.ends_at.isoformat()} with a reading of {period.quantity} that is not already void or in doubt.",
        code="nothing_touched",
        status=409,
    )


def _open(incident: Incident) -> Incident:
    """Read the incident again under a lock, so that of two reviewers the second sees what the first did."""
    incident = Incident.objects.select_for_update(of=("self",)).select_related("rig").get(pk=incident.pk)
    if incident.state != IncidentState.PROPOSED and incident.decided_by is not None:
        state = IncidentState(incident.state).label
        raise DomainError(
            f"Incident {incident.pk} was already {state} by {incident.decided_by.display_name}; look at it again.",
            code="already_decided",
            status=409,
        )
    return incident


def _touched_locked(period: Period) -> Touched:
    """What is touched once all tests of the shoes are locked: somebody may have decided on some before."""
    shoes = set(tests_touched(period).values_list("specimen__shoe", flat=True))
    locked = set(keep_tests(shoes=shoes))
    tests = [test for test in tests_read(period) if test.pk in locked]
    if not tests:
        raise _nothing_touched(period)
    return touched_with(tests)


def _check_tests_of_others(tests: Sequence[BenchTest], actor: User, act: str) -> None:
    own = [test for test in tests if actor.pk in (test.operator_id, test.upload.by_id)]
    listed = ", ".join(str(test.pk) for test in own[:OWN_LISTED]) + (" and more" if len(own) > OWN_LISTED else "")
    need_another(
        "labtests.incident:decide",
        actor,
        involved=[person for test in own for person in (test.operator_id, test.upload.by_id)],
        message=f"You carried out or uploaded some of the tests ({listed}). Another reviewer has to {act}.",
    )


def _take_back(tests: Sequence[BenchTest], incident: Incident, actor: User, at: dt.datetime) -> list[Change]:
    """Void locked tests or hold them, all in one statement. Returns the entries for the trail."""
    because = f"Incident {incident.pk} of {incident.rig.code}: {incident.reason}"
    before = audit.snapshots(BenchTest, [test.pk for test in tests])
    is_void = incident.effect == IncidentEffect.VOID
    for test in tests:
        for name, value in (voided(test) if is_void else _doubted(test, because)).items():
            setattr(test, name, value)
        test.reviewed_by, test.reviewed_at, test.review_reason = actor, at, because
    BenchTest.objects.bulk_update(tests, [*CHANGED], batch_size=BATCH)
    action = "labtests.test.voided" if is_void else "labtests.test.doubted"
    return [Change(action, test, before[test.pk], because) for test in tests]


def _doubted(test: BenchTest, because: str) -> dict[str, Any]:
    doubt = {"code": INCIDENT, "message": because}
    return {"state": State.HELD, "is_released": False, "reasons": [*test.reasons, doubt]}


def _decide(incident: Incident, state: IncidentState, *, actor: User, reason: str, at: dt.datetime) -> None:
    incident.state, incident.decided_by, incident.decided_at, incident.decided_because = state, actor, at, reason
    incident.save(update_fields=["state", "decided_by", "decided_at", "decided_because", "touched"])
