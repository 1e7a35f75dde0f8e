"""Letters to a clinician, and what the clinician answers."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from django.db import IntegrityError, transaction
from django.utils import timezone

from core import audit
from core.domain.errors import DomainError, field_error
from core.models import User
from fittings.domain.fitting.clinician_wishes import check_wishes
from fittings.domain.refusals import submission_used
from fittings.models import ClinicianReply, Fitting, ReferralLetter
from fittings.services.fitting.checks import check_record, require

WRITE = "fittings.letter:write"
TEXT_MAX = 1000
NAME_MAX = 120
_Row = TypeVar("_Row", ReferralLetter, ClinicianReply)


@dataclass(frozen=True, slots=True)
class ReplyGiven:
    """What a clinician said: who, received when, the wishes (`wishes.WISHES`) and a note in the clinician's words."""

    clinician: str
    received_on: dt.date
    wishes: Sequence[str]
    note: str = ""


def letter_write(
    *, actor: User, fitting: Fitting, addressee: str = "", remark: str = "", submission: uuid.UUID | None = None
) -> ReferralLetter:
    """Write a letter for a customer to take to a clinician. The same submission again writes nothing.

    Raises
    ------
    DomainError
        400 naming a bad field, 404 for another store, 409 where nothing is stored of the customer.
    """
    letter = ReferralLetter(addressee=addressee.strip(), remark=_text("remark", remark))
    letter.written_at, letter.written_by, letter.submission = timezone.now(), actor, submission
    return _save_once(letter, fitting, "fittings.letter.written", actor)


def reply_record(
    *, actor: User, fitting: Fitting, given: ReplyGiven, submission: uuid.UUID | None = None
) -> ClinicianReply:
    """Record what a clinician asks for; from then on it comes before the rules. The same submission again is once.

    Raises
    ------
    DomainError
        400 naming a bad field, 404 for another store, 409 where nothing is stored of the customer.
    """
    if given.received_on > timezone.localdate():
        raise field_error("received_on", "This date is in the future. Enter the day on which you received the reply.")
    try:
        wishes = check_wishes(given.wishes)
    except ValueError as problem:
        raise field_error("wishes", str(problem)) from problem
    if not given.clinician.strip():
        raise field_error("clinician", "Say who the clinician is: a name, or the profession.")
    reply = ClinicianReply(clinician=given.clinician.strip(), received_on=given.received_on, wishes=list(wishes))
    reply.note, reply.submission = _text("note", given.note), submission
    reply.recorded_at, reply.recorded_by = timezone.now(), actor
    return _save_once(reply, fitting, "fittings.reply.recorded", actor)


def _text(name: str, text: str) -> str:
    if len(text) > TEXT_MAX or "\x00" in text:
        raise field_error(name, f"{name} must be text of at most {TEXT_MAX} characters, got {len(text)}")
    return text.strip()


def _save_once(row: _Row, fitting: Fitting, action: str, actor: User) -> _Row:
    require(actor, WRITE, fitting.store)
    try:
        with transaction.atomic():
            row.fitting = _locked(fitting)
            earlier = _earlier(row)
            if earlier is not None:
                return earlier
            check_record(row)
            row.save()
            audit.record(actor=actor, action=action, subject=row, store=fitting.store)
            return row
    except IntegrityError as problem:
        if "submission" not in str(problem):
            raise
        # It is there, and the database does not show it: it is another store's.
        raise submission_used() from problem


def _locked(fitting: Fitting) -> Fitting:
    locked = Fitting.objects.select_for_update(of=("self",)).filter(pk=fitting.pk).first()
    if locked is None or not locked.kept:
        message = "No data is stored about this customer: there was no consent, or it was withdrawn."
        raise DomainError(message, code="not_kept", status=409)
    return locked


def _earlier(row: _Row) -> _Row | None:
    if row.submission is None:
        return None
    earlier: _Row | None = type(row)._base_manager.filter(submission=row.submission).first()
    if earlier is not None and earlier.fitting_id != row.fitting_id:
        raise submission_used()
    return earlier
