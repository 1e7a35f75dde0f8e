"""Calibrations: recorded, signed by somebody else, given their certificate's file, struck.

What counts: a calibration counts from its second signature on, by another person than its author. Until then a signed
one that is still in date goes on counting; a test that no signed one covers is held, and its hold is lifted with the
signature. A struck calibration never counts: tests that wait for review are held, those approved before are in doubt,
both until a signed calibration with the same figures covers their day.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import uuid
from collections.abc import Sequence
from dataclasses import asdict

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import connection, transaction
from django.utils import timezone

from core import audit
from core.database.validation import check
from core.domain.errors import DomainError, required_reason
from core.gate.two_people import need_another
from core.models import User
from labtests.domain.conditions.calibrations import Certificate, Point, certificate_problems
from labtests.domain.files.certificates import CertificateRefused, read_certificate
from labtests.domain.scores.protocol import Reason, unsigned_code
from labtests.models import Calibration, Rig, State
from labtests.selectors.bench.calibrations import struck_with_same_figures, tests_covered_by, tests_depending_on
from labtests.services.bench.batches import GivenFile
from labtests.services.bench.uploads import UPLOAD_LOCK, clean_name
from labtests.services.holds import Held, hold_waiting, lift_reasons
from labtests.services.rights import needs

FOLDER = "calibrations"


def struck_code(quantity: str) -> str:
    """Code of the reason that a calibration was struck."""
    return f"calibration_{quantity}_struck"


@needs("labtests.rig:write")
@transaction.atomic
def calibration_record(
    *,
    actor: User | None,
    rig: Rig,
    quantity: str,
    certificate: str,
    calibrated_on: dt.date,
    due_on: dt.date,
    standard_uncertainty: float,
    resolution: float,
    laboratory: str = "",
    reference_standard: str = "",
    range_low: float | None = None,
    range_high: float | None = None,
    points: Sequence[Point] = (),
    zero: float | None = None,
    gain: float | None = None,
    degrees_of_freedom: float | None = None,
    file: GivenFile | None = None,
    at: dt.datetime | None = None,
) -> Calibration:
    """Add a calibration; values in N, N·m, mm, ° or °C. It counts once somebody else has signed it.

    Tests already judged keep their verdict.

    Raises
    ------
    DomainError
        400 for dates and values that can't be, or a file that is no certificate; `fields` names each.
    """
    moment = at or timezone.now()
    given = Certificate(
        calibrated_on,
        due_on,
        standard_uncertainty,
        resolution,
        range_low=range_low,
        range_high=range_high,
        points=tuple(points),
        zero=zero,
        gain=gain,
        degrees_of_freedom=degrees_of_freedom,
    )
    _check_given(given, timezone.localtime(moment).date())
    calibration = Calibration(
        rig=rig,
        quantity=quantity,
        certificate=certificate,
        laboratory=laboratory.strip(),
        reference_standard=reference_standard.strip(),
        recorded_by=actor,
        recorded_at=moment,
        needs_signature=actor is not None,
        **{name: getattr(given, name) for name in Certificate.__slots__ if name != "points"},
        points=[asdict(point) for point in given.points],
    )
    return _save_new(calibration, file, actor)


def _save_new(calibration: Calibration, file: GivenFile | None, actor: User | None) -> Calibration:
    check(calibration)
    calibration.save()
    if file is not None:
        _store_file(calibration, file)
    audit.record(actor=actor, action="labtests.calibration.recorded", subject=calibration)
    return calibration


def _check_given(given: Certificate, today: dt.date) -> None:
    problems = certificate_problems(given, today=today)
    if problems:
        fields: dict[str, list[str]] = {}
        for problem in problems:
            fields.setdefault(problem.field, []).append(problem.words)
        raise DomainError(" ".join(problem.words for problem in problems), code="bad_calibration", fields=fields)


def _store_file(calibration: Calibration, given: GivenFile) -> None:
    """Check a file and store it under a name of our own; what is stored of it on record is saved with it."""
    try:
        file = read_certificate(given.data)
    except CertificateRefused as problem:
        raise DomainError(str(problem), code="bad_certificate", fields={"file": [str(problem)]}) from problem
    calibration.file_name = clean_name(given.name)
    calibration.file_type = file.type_
    calibration.file_sha256 = hashlib.sha256(file.data).hexdigest()
    calibration.file_key = default_storage.save(f"{FOLDER}/{uuid.uuid4().hex}{file.ending}", ContentFile(file.data))
    calibration.save(update_fields=["file_name", "file_type", "file_sha256", "file_key"])


def _locked(calibration: Calibration) -> Calibration:
    """Lock a calibration that is to change; of two people the second sees what the first did."""
    # An upload that is judging now is waited for, so that its tests are among those touched.
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [UPLOAD_LOCK])
    found = Calibration.objects.select_for_update(of=("self",)).select_related("rig").get(pk=calibration.pk)
    if found.struck_by is not None:
        words = f"This calibration was struck by {found.struck_by.display_name}: {found.struck_because}"
        raise DomainError(words, code="struck", status=409)
    return found


@needs("labtests.calibration:sign")
@transaction.atomic
def calibration_sign(*, actor: User, calibration: Calibration, at: dt.datetime | None = None) -> Calibration:
    """Confirm that a calibration says what its certificate says. Tests that were held for the signature alone go on.

    Raises
    ------
    DomainError
        403 for its author, 409 where it is signed or struck.
    """
    calibration = _locked(calibration)
    if calibration.signed_by is not None:
        words = f"{calibration.signed_by.display_name} has already signed this calibration."
        raise DomainError(words, code="signed_already", status=409)
    if not calibration.needs_signature:
        words = "This calibration was recorded before signatures were introduced and counts without one."
        raise DomainError(words, code="signed_already", status=409)
    need_another(
        "labtests.calibration:sign",
        actor,
        involved=[calibration.recorded_by_id],
        message="You recorded this calibration. Somebody else has to compare it with the certificate and sign it.",
    )
    before = audit.snapshot(calibration)
    calibration.signed_by, calibration.signed_at = actor, at or timezone.now()
    check(calibration)
    calibration.save(update_fields=["signed_by", "signed_at"])
    held = tests_covered_by(calibration).filter(state=State.HELD).values_list("pk", flat=True)
    codes = {unsigned_code(calibration.quantity)}
    if struck_with_same_figures(calibration):
        codes.add(struck_code(calibration.quantity))
    lifted = lift_reasons(dict.fromkeys(held, codes), because=f"signed: {calibration}")
    audit.record(actor=actor, action="labtests.calibration.signed", subject=calibration, before=before)
    lifted.record(actor)
    return calibration


@needs("labtests.rig:write")
@transaction.atomic
def calibration_attach(*, actor: User, calibration: Calibration, file: GivenFile) -> Calibration:
    """Add the certificate's file to a calibration that has none."""
    calibration = _locked(calibration)
    if calibration.file_key:
        words = (
            f"This calibration has the file {calibration.file_name}. Strike the calibration where it is the wrong one."
        )
        raise DomainError(words, code="file_already", status=409)
    before = audit.snapshot(calibration)
    _store_file(calibration, file)
    audit.record(actor=actor, action="labtests.calibration.certificate_added", subject=calibration, before=before)
    return calibration


@needs("labtests.calibration:strike")
@transaction.atomic
def calibration_strike(
    *, actor: User, calibration: Calibration, reason: str, at: dt.datetime | None = None
) -> Calibration:
    """Take a wrong calibration out of use. Tests that wait for review and depend on it are held."""
    reason = required_reason(reason)
    calibration = _locked(calibration)
    before = audit.snapshot(calibration)
    touched = list(tests_depending_on(calibration).filter(state=State.ACCEPTED).values_list("pk", flat=True))
    calibration.struck_at, calibration.struck_by, calibration.struck_because = at or timezone.now(), actor, reason
    check(calibration)
    calibration.save(update_fields=["struck_at", "struck_by", "struck_because"])
    held = _hold(calibration, touched)
    audit.record(actor=actor, action="labtests.calibration.struck", subject=calibration, before=before, reason=reason)
    held.record(actor)
    return calibration


def _hold(calibration: Calibration, numbers: list[int]) -> Held:
    message = (
        f"the {calibration.quantity} calibration of rig {calibration.rig.code} that it depends on "
        f"({calibration.certificate}) was struck: {calibration.struck_because}"
    )
    return hold_waiting(
        dict.fromkeys(numbers, Reason(struck_code(calibration.quantity), message)), because=calibration.struck_because
    )
