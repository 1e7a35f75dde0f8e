"""Decisions on tests: approve, keep on record, hold, void, amend. Never by the operator or the uploader of the test.

The names begin with `test_` because a bench test is what they act on; they are no tests of this program (PT028).
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction
from django.utils import timezone

from catalogue.services import taken_back_notice_send
from core import audit
from core.audit import Change
from core.database.validation import validate_constraints
from core.domain.errors import DomainError, optional_reason, required_reason
from core.gate.two_people import need_another
from core.models import User
from labtests.models import INCIDENT, BenchTest, State, Upload
from labtests.selectors.bench.conditioning import wrote_hours
from labtests.selectors.bench.conditioning_doubts import conditioning_doubts
from labtests.selectors.scores.taking_back import cards_resting_on, changes_without
from labtests.services.bench.uploads import upload_store
from labtests.services.locks import keep_model, keep_tests
from labtests.services.rights import needs
from labtests.services.scores.cards import cards_change
from labtests.services.studies.check_shoes import checks_judge_with, checks_judge_without

DONE = {State.APPROVED: "approved", State.VOID: "voided"}


def _locked(test: BenchTest) -> BenchTest:
    """Read the test again under a lock, so that of two reviewers the second sees what the first did.

    The other tests of the shoe are locked too: a decision may change the card that they share.
    """
    keep_model()
    keep_tests(shoes=[test.specimen.shoe_id])
    return BenchTest.objects.select_related("specimen", "upload", "amends").defer("upload__data").get(pk=test.pk)


def _check_four_eyes(test: BenchTest, actor: User) -> None:
    for person, words in ((test.operator_id, "carried it out"), (test.upload.by_id, "uploaded it")):
        need_another(
            "labtests.test:review",
            actor,
            involved=[person],
            message=f"You can’t decide on test {test.pk}: you {words}. Somebody else has to.",
        )


def _check_hours(test: BenchTest, actor: User) -> None:
    """Refuse to accept a test that rests on hours the actor wrote into the conditioning log."""
    need_another(
        "labtests.test:approve",
        actor,
        involved=wrote_hours(test),
        message=(
            f"You can’t accept test {test.pk}: you wrote the conditioning hours that it rests on. Somebody else has to."
        ),
    )


def _check_open(test: BenchTest) -> None:
    if test.state in DONE:
        reviewer = test.reviewed_by.display_name if test.reviewed_by else "a successor"
        raise DomainError(
            f"Test {test.pk} was already {DONE[State(test.state)]} by {reviewer}; look at it again.",
            code="already_reviewed",
            status=409,
        )


def _check_conditioning(test: BenchTest) -> None:
    """The log may have been changed since the test was judged."""
    for doubt in conditioning_doubts(BenchTest.objects.filter(pk=test.pk)).values():
        raise DomainError(
            f"{doubt.refusal} Or put it on hold in the meantime.",
            code="conditioning_doubted",
            status=409,
            fields={"reasons": [doubt.because]},
        )


def _decided(actor: User, reason: str, at: dt.datetime, **change: Any) -> dict[str, Any]:
    """Return the columns of a decision."""
    return {"reviewed_by": actor, "reviewed_at": at, "review_reason": reason, **change}


def test_change(test: BenchTest, columns: dict[str, Any], *, action: str, reason: str) -> Change:
    """Save some columns of a locked test. Returns the entry for the trail, which is written last."""
    before = audit.snapshot(test)
    for name, value in columns.items():
        setattr(test, name, value)
    # What was measured was checked when it came and is not checked again; no reasons and no link are fine.
    untouched = {column.name for column in test._meta.fields} - columns.keys()
    test.clean_fields(exclude=untouched | {"reasons", "amends"})
    validate_constraints(test)
    test.save(update_fields=list(columns))
    return Change(action, test, before, reason)


@needs("labtests.test:review")
@transaction.atomic
def bench_test_approve(*, actor: User, test: BenchTest, reason: str, at: dt.datetime | None = None) -> BenchTest:
    """Approve a test that is within the protocol. The reason may be empty.

    The approved test that it is to replace is void from then on, the card that rested on it is worked out again, and
    the stores are informed.
    """
    test = _locked(test)
    _check_four_eyes(test, actor)
    _check_open(test)
    if test.state == State.HELD:
        raise DomainError(
            f"Test {test.pk} is held: {_reasons_of(test)}. {_ways_out(test)}",
            code="held",
            status=409,
            fields={"reasons": [entry["message"] for entry in test.reasons]},
        )
    _check_hours(test, actor)
    _check_conditioning(test)
    moment, reason = at or timezone.now(), optional_reason(reason)
    columns = _decided(actor, reason, moment, state=State.APPROVED)
    return _accept(test, columns, actor=actor, action="labtests.test.approved")


@needs("labtests.test:review")
@transaction.atomic
def bench_test_keep_on_record(*, actor: User, test: BenchTest, reason: str, at: dt.datetime | None = None) -> BenchTest:
    """Keep a held test on record although it is outside the protocol; it is marked so and never published."""
    reason = required_reason(reason)
    test = _locked(test)
    _check_four_eyes(test, actor)
    _check_open(test)
    if test.state != State.HELD:
        raise DomainError(f"Test {test.pk} is not held; approve or void it.", code="not_held", status=409)
    if test.torque_15_nm is None or test.deflection_mm is None:
        raise DomainError(
            f"Test {test.pk} can’t be put on record, it has no scores: {_reasons_of(test)}. Void it and test again.",
            code="not_scored",
            status=409,
        )
    _check_hours(test, actor)
    columns = _decided(actor, reason, at or timezone.now(), state=State.APPROVED, is_released=True)
    return _accept(test, columns, actor=actor, action="labtests.test.put_on_record")


def _accept(test: BenchTest, columns: dict[str, Any], *, actor: User, action: str) -> BenchTest:
    """Save an accepted test; where it replaces an approved one, that one is void and its card follows."""
    replaced, moment, reason = test.amends, columns["reviewed_at"], columns["review_reason"]
    if replaced is None or replaced.state == State.VOID:
        audit.record_many([test_change(test, columns, action=action, reason=reason)], actor=actor)
        return test
    counting = [] if columns.get("is_released") else [test.pk]
    cards, resting = changes_without([replaced.pk], successors=counting), _resting_on(replaced)
    because = f"amended by test {test.pk}" + (f": {reason}" if reason else "")
    gone = {"state": State.VOID, "is_released": False, "review_reason": because}
    entries = [
        test_change(replaced, gone, action="labtests.test.amended", reason=reason),
        test_change(test, columns, action=action, reason=reason),
    ]
    alarms = checks_judge_with(test)
    what = f"Test {replaced.pk} was replaced by test {test.pk}"
    cards_change(cards, actor=actor, what=what, reason=reason or f"{what}.", at=moment)
    taken_back_notice_send(actor=actor, score_cards=resting, reason=reason or f"{what}.", at=moment)
    audit.record_many(entries, actor=actor)
    audit.record_many(alarms, actor=None)
    return test


def _resting_on(test: BenchTest) -> list[int]:
    """Return the cards, earlier ones too, that rest on a test; read before it is taken back."""
    return list(cards_resting_on([test.pk]).values_list("pk", flat=True))


@needs("labtests.test:review")
@transaction.atomic
def bench_test_hold(*, actor: User, test: BenchTest, reason: str, at: dt.datetime | None = None) -> BenchTest:
    """Put a test that waits for review on hold for a reason that the protocol does not know of."""
    reason = required_reason(reason)
    test = _locked(test)
    _check_four_eyes(test, actor)
    _check_open(test)
    if test.state == State.HELD:
        raise DomainError(f"Test {test.pk} is already held: {_reasons_of(test)}.", code="held", status=409)
    reasons = [*test.reasons, {"code": "reviewer", "message": reason}]
    columns = _decided(actor, reason, at or timezone.now(), state=State.HELD, reasons=reasons)
    alarms = checks_judge_without(test)
    audit.record_many(
        [test_change(test, columns, action="labtests.test.put_on_hold", reason=reason)],
        actor=actor,
    )
    audit.record_many(alarms, actor=None)
    return test


@needs("labtests.test:review")
@transaction.atomic
def bench_test_clear_doubt(*, actor: User, test: BenchTest, reason: str, at: dt.datetime | None = None) -> BenchTest:
    """End the doubt that an incident cast on a test: it waits for review again, or is held for what else holds it."""
    reason = required_reason(reason)
    test = _locked(test)
    _check_four_eyes(test, actor)
    _check_open(test)
    if not test.is_in_doubt:
        raise DomainError(f"Test {test.pk} is not in doubt for an incident.", code="not_in_doubt", status=409)
    left = [entry for entry in test.reasons if entry["code"] != INCIDENT]
    columns = _decided(actor, reason, at or timezone.now(), state=State.HELD if left else State.ACCEPTED, reasons=left)
    entry = test_change(test, columns, action="labtests.test.doubt_cleared", reason=reason)
    alarms = checks_judge_with(test)
    audit.record_many([entry], actor=actor)
    audit.record_many(alarms, actor=None)
    return test


@needs("labtests.test:review")
@transaction.atomic
def bench_test_void(*, actor: User, test: BenchTest, reason: str, at: dt.datetime | None = None) -> BenchTest:
    """Take a test out of use for good, in whatever state it is. It stays on record.

    The card that rests on it is worked out again from the tests that remain, or withdrawn, in the same transaction,
    and the stores are informed.
    """
    reason, moment = required_reason(reason), at or timezone.now()
    test = _locked(test)
    _check_four_eyes(test, actor)
    if test.state == State.VOID:
        _check_open(test)
    cards, resting = changes_without([test.pk]), _resting_on(test)
    alarms = checks_judge_without(test)
    entry = test_change(
        test, _decided(actor, reason, moment, **voided(test)), action="labtests.test.voided", reason=reason
    )
    cards_change(cards, actor=actor, what=f"Worked out again without test {test.pk}", reason=reason, at=moment)
    taken_back_notice_send(actor=actor, score_cards=resting, reason=reason, at=moment)
    audit.record_many([entry], actor=actor)
    audit.record_many(alarms, actor=None)
    return test


def voided(test: BenchTest) -> dict[str, Any]:
    """A successor that never replaced its test makes room for another one."""
    is_pending = test.amends is not None and test.amends.state != State.VOID
    return {"state": State.VOID, "amends": None} if is_pending else {"state": State.VOID}


@needs("labtests.test:amend")
@transaction.atomic
def bench_test_amend(*, actor: User, test: BenchTest, name: str, data: bytes, reason: str) -> BenchTest:
    """Submit a corrected file of the same specimen in place of a test; the successor waits for review.

    An approved test counts until a reviewer accepts the successor; any other is void at once.

    Returns
    -------
    BenchTest
        The successor. Nothing is stored where the file is refused or is not of this specimen alone.
    """
    reason = required_reason(reason)
    test = _locked(test)
    if test.state == State.VOID:
        raise DomainError(f"Test {test.pk} is void; upload the new test by itself.", code="void", status=409)
    pending = BenchTest.objects.filter(amends=test).first()
    if pending is not None:
        raise DomainError(
            f"Test {pending.pk} already waits to replace test {test.pk}; approve or void that one first.",
            code="replacement_waits",
            status=409,
        )
    upload = upload_store(actor=actor, name=name, data=data, replaces=test)
    successor = _successor_in(upload, test)
    audit.record_many(_link(successor, test, reason), actor=actor)
    return successor


def _link(successor: BenchTest, test: BenchTest, reason: str) -> list[Change]:
    """Make one test the successor of another, which is void at once unless it was approved.

    One that was itself waiting to replace an approved test hands that place on.
    """
    amended = test
    if test.state == State.APPROVED:
        entry = Change("labtests.test.replacement_submitted", test, audit.snapshot(test), reason)
        linked = "labtests.test.replacement_linked"
    else:
        because = f"amended by test {successor.pk}: {reason}"
        gone = {"is_released": False, "review_reason": because, **voided(test)}
        amended = test.amends if "amends" in gone and test.amends is not None else test
        entry = test_change(test, gone, action="labtests.test.amended", reason=reason)
        linked = "labtests.test.amended"
    return [entry, test_change(successor, {"amends": amended}, action=linked, reason=reason)]


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


def _ways_out(test: BenchTest) -> str:
    if test.is_in_doubt:
        return "Clear the doubt with a reason, or void it."
    return "Keep it on record with a reason or void it."
