"""Decisions on tests: approve, keep on record, hold, void, amend. Never by the operator or the uploader of the test.

The names begin with `test_` because a bench test is what they act on; they are no tests of this program (PT028).
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction
from django.utils import timezone

from core import audit
from core.domain.errors import DomainError
from core.models import User
from labtests.models import BenchTest, State, Upload
from labtests.selectors.conditioning_doubts import conditioning_doubts
from labtests.services.checks import checks_judge_without
from labtests.services.rights import needs
from labtests.services.uploads import upload_store

DONE = {State.APPROVED: "approved", State.VOID: "voided"}


def _locked(test: BenchTest) -> BenchTest:
    """Read the test anew under a lock, so that of two reviewers the second sees what the first did."""
    return BenchTest.objects.select_for_update(of=("self",)).select_related("specimen", "upload").get(pk=test.pk)


def _check_four_eyes(test: BenchTest, actor: User) -> None:
    for person, words in ((test.operator_id, "carried it out"), (test.upload.by_id, "uploaded it")):
        if person == actor.pk:
            raise DomainError(
                f"You can't decide on test {test.pk}: you {words}. Somebody else has to.",
                code="own_test",
                status=403,
            )


def _check_open(test: BenchTest) -> None:
    if test.state in DONE:
        reviewer = test.reviewed_by.username if test.reviewed_by else "a successor"
        raise DomainError(
            f"Test {test.pk} was already {DONE[State(test.state)]} by {reviewer}; look at it again.",
            code="already_reviewed",
            status=409,
        )


def _check_conditioning(test: BenchTest) -> None:
    """The log may have been changed since the test was judged."""
    for doubt in conditioning_doubts(BenchTest.objects.filter(pk=test.pk)).values():
        raise DomainError(
            f"{doubt.refusal} Or put it on hold meanwhile.",
            code="conditioning_doubted",
            status=409,
            fields={"reasons": [doubt.because]},
        )


def _check_reason(reason: str) -> str:
    if not reason.strip():
        raise DomainError("Give a reason.", code="reason_required", fields={"reason": ["Give a reason."]})
    return reason.strip()


def _save(
    test: BenchTest, change: dict[str, Any], *, actor: User, action: str, reason: str, at: dt.datetime | None
) -> BenchTest:
    before = audit.snapshot(test)
    columns = {"reviewed_by": actor, "reviewed_at": at or timezone.now(), "review_reason": reason, **change}
    for name, value in columns.items():
        setattr(test, name, value)
    # What was measured was checked when it came and is not checked again.
    untouched = {column.name for column in test._meta.fields} - columns.keys()
    test.clean_fields(exclude=untouched)
    test.validate_constraints(exclude=untouched)
    test.save(update_fields=list(columns))
    audit.record(actor=actor, action=action, subject=test, before=before, reason=reason)
    return test


@needs("labtests.test:review")
@transaction.atomic
def bench_test_approve(*, actor: User, test: BenchTest, reason: str, at: dt.datetime | None = None) -> BenchTest:
    """Approve a test that is within the protocol. The reason may be empty."""
    test = _locked(test)
    _check_four_eyes(test, actor)
    _check_open(test)
    if test.state == State.HELD:
        raise DomainError(
            f"Test {test.pk} is held: {_reasons_of(test)}. Keep it on record with a reason or void it.",
            code="held",
            status=409,
            fields={"reasons": [entry["message"] for entry in test.reasons]},
        )
    _check_conditioning(test)
    change = {"state": State.APPROVED}
    return _save(test, change, actor=actor, action="labtests.test.approved", reason=reason.strip(), at=at)


@needs("labtests.test:review")
@transaction.atomic
def bench_test_keep_on_record(*, actor: User, test: BenchTest, reason: str, at: dt.datetime | None = None) -> BenchTest:
    """Keep a held test on record although it is outside the protocol; it is marked so and never published."""
    reason = _check_reason(reason)
    test = _locked(test)
    _check_four_eyes(test, actor)
    _check_open(test)
    if test.state != State.HELD:
        raise DomainError(f"Test {test.pk} is not held; approve or void it.", code="not_held", status=409)
    if test.torque_15_nm is None or test.deflection_mm is None:
        raise DomainError(
            f"Test {test.pk} can't be kept on record, it has no scores: {_reasons_of(test)}. Void it and test again.",
            code="not_scored",
            status=409,
        )
    change = {"state": State.APPROVED, "is_released": True}
    return _save(test, change, actor=actor, action="labtests.test.released", reason=reason, at=at)


@needs("labtests.test:review")
@transaction.atomic
def bench_test_hold(*, actor: User, test: BenchTest, reason: str, at: dt.datetime | None = None) -> BenchTest:
    """Put a test that waits for review on hold for a reason that the protocol does not know of."""
    reason = _check_reason(reason)
    test = _locked(test)
    _check_four_eyes(test, actor)
    _check_open(test)
    if test.state == State.HELD:
        raise DomainError(f"Test {test.pk} is already held: {_reasons_of(test)}.", code="held", status=409)
    change = {"state": State.HELD, "reasons": [*test.reasons, {"code": "reviewer", "message": reason}]}
    alarms = checks_judge_without(test)
    test = _save(test, change, actor=actor, action="labtests.test.put_on_hold", reason=reason, at=at)
    audit.record_many(alarms, actor=None)
    return test


@needs("labtests.test:review")
@transaction.atomic
def bench_test_void(*, actor: User, test: BenchTest, reason: str, at: dt.datetime | None = None) -> BenchTest:
    """Take a test out of use for good, in whatever state it is. It stays on record."""
    reason = _check_reason(reason)
    test = _locked(test)
    _check_four_eyes(test, actor)
    if test.state == State.VOID:
        _check_open(test)
    change = {"state": State.VOID}
    alarms = checks_judge_without(test)
    test = _save(test, change, actor=actor, action="labtests.test.voided", reason=reason, at=at)
    audit.record_many(alarms, actor=None)
    return test


@needs("labtests.test:amend")
@transaction.atomic
def bench_test_amend(*, actor: User, test: BenchTest, name: str, data: bytes, reason: str) -> BenchTest:
    """Replace a test by a corrected file of the same specimen: the test is void, its successor waits for review.

    Returns
    -------
    BenchTest
        The successor. Nothing is stored where the file is refused or is not of this specimen alone.
    """
    reason = _check_reason(reason)
    test = _locked(test)
    if test.state == State.VOID:
        raise DomainError(f"Test {test.pk} is void; upload the new test by itself.", code="void", status=409)
    upload = upload_store(actor=actor, name=name, data=data, replaces=test)
    successor = _successor_in(upload, test)
    before = audit.snapshot(test)
    test.state, test.is_released = State.VOID, False
    test.review_reason = f"amended by test {successor.pk}: {reason}"
    test.save(update_fields=["state", "is_released", "review_reason"])
    link_before = audit.snapshot(successor)
    successor.amends = test
    successor.save(update_fields=["amends"])
    audit.record(actor=actor, action="labtests.test.amended", subject=test, before=before, reason=reason)
    audit.record(actor=actor, action="labtests.test.amended", subject=successor, before=link_before, reason=reason)
    return successor


def _successor_in(upload: Upload, test: BenchTest) -> BenchTest:
    if upload.is_repeat:
        raise DomainError("This very file is already on record; amend with a corrected one.", code="same", status=409)
    found = list(upload.tests.select_related("specimen"))
    if len(found) != 1 or found[0].specimen_id != test.specimen_id:
        problems = [f"line {entry['line']}, {entry['column']}: {entry['problem']}" for entry in _rejected(upload)]
        raise DomainError(
            f"The file must hold one test of specimen {test.specimen.code}. {'; '.join(problems)}".strip(),
            code="not_the_specimen",
            fields={"file": problems or [f"It must hold one test of specimen {test.specimen.code}."]},
        )
    return found[0]


def _rejected(upload: Upload) -> list[dict[str, Any]]:
    rejected: list[dict[str, Any]] = upload.verdict["rejected"]
    return rejected


def _reasons_of(test: BenchTest) -> str:
    return "; ".join(entry["message"] for entry in test.reasons)
