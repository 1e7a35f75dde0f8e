"""Specimens: received in pairs or singly, moved, disposed of."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.utils import timezone

from catalogue.models import Shoe
from core import audit
from core.audit import Change
from core.database.validation import check, from_validation_error, validate
from core.domain.errors import DomainError, field_error, required_reason
from core.models import User
from labtests.models import CheckDuty, Receipt, Specimen, SpecimenKind, State
from labtests.models.specimens import Side
from labtests.services.bench.uploads import UPLOAD_LOCK
from labtests.services.rights import needs

SIDES = (Side.LEFT, Side.RIGHT)
# What a code has after the part that both shoes of a pair share.
ENDINGS = {Side.LEFT: "-L", Side.RIGHT: "-R"}
STEM_LENGTH = 50


@dataclass(frozen=True, slots=True)
class ReceiptGiven:
    """How shoes came to the lab; a price has its currency (ISO 4217)."""

    source: str
    received_on: dt.date
    supplier: str = ""
    batch: str = ""
    price: Decimal | None = None
    currency: str = ""


@needs("labtests.specimen:write")
@transaction.atomic
def specimens_receive(
    *,
    actor: User,
    shoe: Shoe,
    size_eu: Decimal,
    receipt: ReceiptGiven,
    sides: Sequence[str] = SIDES,
    kind: str = SpecimenKind.SAMPLE,
    stem: str = "",
    place: str = "",
) -> list[Specimen]:
    """Take in the shoes of a pair, each with a code of its own.

    Parameters
    ----------
    sides : which shoes of the pair came
    stem : what their codes begin with; the shoe's short name with a number where left out
    place : where they are

    Raises
    ------
    DomainError
        400 for a day to come, a size that there is not or a code that can't be one, 409 for a code that is taken.
    """
    if receipt.received_on > timezone.localdate():
        raise field_error("received_on", f"{receipt.received_on} is in the future; receive them when they are here.")
    if size_eu % Decimal("0.5"):
        raise field_error("size_eu", "Sizes come in halves, such as 42.5.")
    if not sides:
        raise field_error("sides", "Choose left, right or both.")
    # Uploads take specimens in too: whoever is second finds the codes of the first.
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [UPLOAD_LOCK])
    codes = _codes(shoe, stem.strip(), sides)
    record = Receipt(**_columns_of(receipt), received_by=actor)
    check(record)
    record.save()
    found = [
        Specimen(code=code, shoe=shoe, size_eu=size_eu, side=side, kind=kind, receipt=record, place=place.strip())
        for side, code in codes.items()
    ]
    for specimen in found:
        _check_specimen(specimen)
        specimen.save()
    audit.record(actor=actor, action="labtests.receipt.recorded", subject=record)
    audit.record_many([Change("labtests.specimen.created", specimen) for specimen in found], actor=actor)
    return found


def _columns_of(receipt: ReceiptGiven) -> dict[str, object]:
    return {name: getattr(receipt, name) for name in ReceiptGiven.__slots__}


def _check_specimen(specimen: Specimen) -> None:
    """Check a specimen; what is wrong with its code is said of the part that was typed."""
    try:
        validate(specimen)
    except ValidationError as problem:
        error = from_validation_error(problem)
        fields = {{"code": "stem"}.get(name, name): words for name, words in error.fields.items()}
        raise DomainError(error.message, code=error.code, fields=fields) from problem


def _codes(shoe: Shoe, stem: str, sides: Sequence[str]) -> dict[Side, str]:
    wanted = [side for side in SIDES if side in sides]
    if stem:
        codes = {side: f"{stem}{ENDINGS[side]}" for side in wanted}
        taken = Specimen.objects.filter(code__in=codes.values()).values_list("code", flat=True)
        if taken:
            raise field_error("stem", f"There is already a specimen {', '.join(taken)}.", code="taken", status=409)
        return codes
    base = shoe.slug.upper()[:STEM_LENGTH]
    known = set(Specimen.objects.filter(code__startswith=f"{base}-").values_list("code", flat=True))
    number = 1
    while any(f"{base}-{number:02d}{ending}" in known for ending in ENDINGS.values()):
        number += 1
    return {side: f"{base}-{number:02d}{ENDINGS[side]}" for side in wanted}


def _locked(specimen: Specimen) -> Specimen:
    return Specimen.objects.select_for_update(of=("self",)).select_related("shoe").get(pk=specimen.pk)


@needs("labtests.specimen:write")
@transaction.atomic
def specimen_move(*, actor: User, specimen: Specimen, place: str) -> Specimen:
    """Note where a specimen is; the chambers have a log of their own."""
    specimen = _locked(specimen)
    if specimen.disposed_on is not None:
        raise field_error("place", f"It was disposed of on {specimen.disposed_on}.", code="disposed", status=409)
    before = audit.snapshot(specimen)
    specimen.place = place.strip()
    check(specimen)
    specimen.save(update_fields=["place"])
    audit.record(actor=actor, action="labtests.specimen.moved", subject=specimen, before=before)
    return specimen


@needs("labtests.specimen:write")
@transaction.atomic
def specimen_dispose(*, actor: User, specimen: Specimen, on: dt.date, reason: str) -> Specimen:
    """Note that the lab no longer has a specimen. Its tests stay on record.

    Raises
    ------
    DomainError
        409 where it was disposed of already, is in a chamber or is a check shoe on duty, 400 without a reason, for
        a day to come or one before its last test.
    """
    because = required_reason(reason)
    specimen = _locked(specimen)
    if specimen.disposed_on is not None:
        words = f"It was disposed of on {specimen.disposed_on}: {specimen.disposed_because}"
        raise DomainError(words, code="disposed", status=409)
    if on > timezone.localdate():
        raise field_error("on", f"{on} is in the future; note it when it has happened.")
    _check_not_tested_after(specimen, on)
    _check_not_in_use(specimen)
    before = audit.snapshot(specimen)
    specimen.disposed_on, specimen.disposed_by, specimen.disposed_because = on, actor, because
    check(specimen)
    specimen.save(update_fields=["disposed_on", "disposed_by", "disposed_because"])
    audit.record(actor=actor, action="labtests.specimen.disposed", subject=specimen, before=before, reason=because)
    return specimen


def _check_not_tested_after(specimen: Specimen, on: dt.date) -> None:
    last = specimen.tests.exclude(state=State.VOID).order_by("-performed_at").first()
    if last is not None and on < timezone.localtime(last.performed_at).date():
        day = timezone.localtime(last.performed_at).date()
        raise field_error(
            "on", f"Its test {last.pk} was performed on {day}; give that day or a later one.", code="tested_after"
        )


def _check_not_in_use(specimen: Specimen) -> None:
    open_stay = specimen.conditioning.in_chamber().select_related("chamber").first()
    if open_stay is not None:
        words = f"Specimen {specimen.code} is in chamber {open_stay.chamber.code}; take it out there first."
        raise DomainError(words, code="in_chamber", status=409)
    duty = CheckDuty.objects.current().filter(specimen=specimen).select_related("rig").first()
    if duty is not None:
        words = f"Specimen {specimen.code} is the check shoe of rig {duty.rig.code}; have it retired first."
        raise DomainError(words, code="on_duty", status=409)


@needs("labtests.specimen:write")
@transaction.atomic
def specimen_restore(*, actor: User, specimen: Specimen, reason: str) -> Specimen:
    """Take the disposal of a specimen back: it was noted for the wrong one."""
    because = required_reason(reason)
    specimen = _locked(specimen)
    if specimen.disposed_on is None:
        raise DomainError(f"Specimen {specimen.code} was not disposed of.", code="no_change", status=409)
    before = audit.snapshot(specimen)
    specimen.disposed_on, specimen.disposed_by, specimen.disposed_because = None, None, ""
    check(specimen)
    specimen.save(update_fields=["disposed_on", "disposed_by", "disposed_because"])
    audit.record(actor=actor, action="labtests.specimen.restored", subject=specimen, before=before, reason=because)
    return specimen
