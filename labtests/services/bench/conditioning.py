"""The conditioning log: specimens put into a chamber and taken out; a wrong entry is struck and written again."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.utils import timezone

from catalogue.models import EU_SIZE_MAX, EU_SIZE_MIN
from catalogue.selectors.records.shoe_records import current_address, shoes_at
from core import audit
from core.database.validation import check, from_validation_error, validate
from core.domain.errors import DomainError, field_error, required_reason
from core.domain.quoting import quoted
from core.models import User
from labtests.domain.files.fields import YEARS
from labtests.domain.scores.protocol import Reason
from labtests.models import BenchTest, Chamber, ConditioningEntry, Specimen, State
from labtests.selectors.bench.conditioning import relying_on
from labtests.services.bench.uploads import UPLOAD_LOCK
from labtests.services.holds import Held, hold_waiting
from labtests.services.judging import ADD_OR_CORRECT, CLOCK_TOLERANCE
from labtests.services.rights import needs

# The same person saying the same again within this time pressed a button twice.
SAME_MOMENT = dt.timedelta(minutes=2)


@dataclass(frozen=True, slots=True)
class SpecimenGiven:
    """A specimen as somebody names it: its code, and what it is where it may not be on record yet."""

    code: str
    shoe: str = ""
    size_eu: Decimal | None = None
    side: str = ""


def _clock(moment: dt.datetime) -> str:
    return f"{timezone.localtime(moment):%Y-%m-%d %H:%M}"


@needs("labtests.conditioning:write")
@transaction.atomic
def chamber_create(*, actor: User | None, code: str, name: str = "") -> Chamber:
    chamber = Chamber(code=code, name=name)
    check(chamber)
    chamber.save()
    audit.record(actor=actor, action="labtests.chamber.created", subject=chamber)
    return chamber


@needs("labtests.conditioning:write")
@transaction.atomic
def specimen_in(
    *,
    actor: User,
    chamber: Chamber,
    specimen: SpecimenGiven,
    in_at: dt.datetime | None = None,
    out_at: dt.datetime | None = None,
    note: str = "",
    at: dt.datetime | None = None,
) -> ConditioningEntry:
    """Note that a specimen was put into a chamber.

    Parameters
    ----------
    specimen : its code; where it is not on record yet its shoe, size and side too
    in_at : when it was put in; now where left out
    out_at : when it was taken out, for a stay that is over
    at : when this is noted; now where left out

    Returns
    -------
    ConditioningEntry
        With `is_repeat` set where the same person noted the same a moment before; then nothing was written.

    Raises
    ------
    DomainError
        400 for a time in the future or a specimen that is not known well enough, 409 where it is in a chamber
        already or lay in one at that time.
    """
    moment = at or timezone.now()
    found = _specimen_for(specimen, actor)
    # Of two people who put the same specimen in, the second sees what the first did.
    found = Specimen.objects.select_for_update(of=("self",)).get(pk=found.pk)
    since = in_at or moment
    if found.disposed_on is not None and timezone.localtime(out_at or since).date() > found.disposed_on:
        words = f"Specimen {found.code} was disposed of on {found.disposed_on}. Correct the code, or take that back."
        raise field_error("specimen", words, code="disposed", status=409)
    open_stay = found.conditioning.in_chamber().select_related("chamber", "put_in_by").first()
    if open_stay is not None:
        if out_at is None and _is_repeat(open_stay, actor, chamber, since):
            open_stay.is_repeat = True
            return open_stay
        if out_at is None or open_stay.in_at < out_at:
            raise _already_in_chamber(found, open_stay)
    _check_times(since, out_at, moment)
    _check_free(found, since, out_at)
    entry = ConditioningEntry(
        specimen=found,
        chamber=chamber,
        in_at=since,
        noted_at=moment,
        put_in_by=actor,
        out_at=out_at,
        taken_out_by=actor if out_at else None,
        note=note.strip(),
    )
    check(entry)
    entry.save()
    audit.record(actor=actor, action="labtests.conditioning_entry.put_in", subject=entry)
    return entry


def _check_times(since: dt.datetime, out_at: dt.datetime | None, moment: dt.datetime) -> None:
    for name, time in (("in_at", since), ("out_at", out_at)):
        if time is not None and time > moment + CLOCK_TOLERANCE:
            raise field_error(name, f"{_clock(time)} is in the future; note it when it has happened.")
    if since.year < YEARS[0]:
        raise field_error("in_at", f"The year {since.year} makes no sense; correct the date.")
    if out_at is not None and out_at <= since:
        words = f"It was put in at {_clock(since)}; it can only be taken out after that."
        raise field_error("out_at", words)


def _is_repeat(open_stay: ConditioningEntry, actor: User, chamber: Chamber, since: dt.datetime) -> bool:
    is_same = (open_stay.put_in_by_id, open_stay.chamber_id) == (actor.pk, chamber.pk)
    return is_same and abs(open_stay.in_at - since) <= SAME_MOMENT


def _already_in_chamber(specimen: Specimen, open_stay: ConditioningEntry) -> DomainError:
    return field_error(
        "specimen",
        f"Specimen {specimen.code} has been in chamber {open_stay.chamber.code} since {_clock(open_stay.in_at)}, put "
        f"in by {open_stay.put_in_by.display_name}. Take it out there first, or strike that entry.",
        code="already_in_chamber",
        status=409,
    )


def _check_free(specimen: Specimen, since: dt.datetime, until: dt.datetime | None) -> None:
    """A specimen can be in one place only at a time."""
    others = specimen.conditioning.valid().filter(out_at__gt=since)
    if until is not None:
        others = others.filter(in_at__lt=until)
    other = others.select_related("chamber").order_by("in_at").first()
    if other is not None:
        raise field_error(
            "in_at",
            f"Specimen {specimen.code} was in chamber {other.chamber.code} from {_clock(other.in_at)} to "
            f"{_clock(other.out_at or other.in_at)}; two stays can’t overlap.",
            code="overlaps",
            status=409,
        )


def _specimen_for(given: SpecimenGiven, actor: User) -> Specimen:
    known = _on_record(given)
    if known is not None:
        return known
    # Uploads take specimens in too: whoever is second finds the row of the first.
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [UPLOAD_LOCK])
    return _on_record(given) or _take_in(given, actor)


def _on_record(given: SpecimenGiven) -> Specimen | None:
    """Find the specimen; refuse what contradicts its record."""
    known = Specimen.objects.select_related("shoe").filter(code=given.code).first()
    if known is None:
        return None
    for field, stated, stored in (
        ("shoe", given.shoe and (current_address(given.shoe) or given.shoe), known.shoe.slug),
        ("size", given.size_eu, known.size_eu),
        ("side", given.side, known.side),
    ):
        if stated not in (None, "") and stated != stored:
            raise field_error(field, f"Specimen {known.code} is on record with the {field} {stored}, not {stated}.")
    return known


def _take_in(given: SpecimenGiven, actor: User) -> Specimen:
    if not given.shoe or given.size_eu is None or not given.side:
        missing = [
            name for name, value in (("shoe", given.shoe), ("size", given.size_eu), ("side", given.side)) if not value
        ]
        message = f"Specimen {given.code} is not on record yet. Say which shoe, size and side it is."
        raise DomainError(message, code="unknown_specimen", fields={name: [message] for name in missing})
    shoe = shoes_at([given.shoe]).get(given.shoe)
    if shoe is None:
        raise field_error("shoe", f"The catalogue has no shoe {quoted(given.shoe)}; {ADD_OR_CORRECT}.")
    if not EU_SIZE_MIN <= given.size_eu <= EU_SIZE_MAX:
        raise field_error("size", f"Sizes run from EU {EU_SIZE_MIN} to EU {EU_SIZE_MAX}.")
    if given.size_eu % Decimal("0.5"):
        raise field_error("size", "Sizes come in halves, such as 42.5.")
    specimen = Specimen(code=given.code, shoe=shoe, size_eu=given.size_eu, side=given.side)
    try:
        validate(specimen)
    except ValidationError as problem:
        error = from_validation_error(problem)
        names = {"code": "specimen", "size_eu": "size"}
        fields = {names.get(name, name): words for name, words in error.fields.items()}
        raise DomainError(error.message, code=error.code, fields=fields) from problem
    specimen.save()
    audit.record(actor=actor, action="labtests.specimen.created", subject=specimen)
    return specimen


def _locked(entry: ConditioningEntry) -> ConditioningEntry:
    entries = ConditioningEntry.objects.select_for_update(of=("self",))
    # Not joined: who took it out or struck it. A row that was waited for comes as the other left it, a joined one as
    # it was before.
    found = entries.select_related("specimen", "chamber").get(pk=entry.pk)
    if found.struck_by is not None:
        raise DomainError(
            f"This entry was struck by {found.struck_by.display_name}: {found.struck_because}",
            code="struck",
            status=409,
        )
    return found


@needs("labtests.conditioning:write")
@transaction.atomic
def specimen_out(
    *, actor: User, entry: ConditioningEntry, out_at: dt.datetime | None = None, at: dt.datetime | None = None
) -> ConditioningEntry:
    """Note that a specimen was taken out of its chamber, now where no time is given."""
    moment = at or timezone.now()
    entry = _locked(entry)
    until = out_at or moment
    if entry.out_at is not None and entry.taken_out_by is not None:
        if entry.taken_out_by_id == actor.pk and abs(entry.out_at - until) <= SAME_MOMENT:
            entry.is_repeat = True
            return entry
        raise DomainError(
            f"Specimen {entry.specimen.code} was taken out at {_clock(entry.out_at)} by "
            f"{entry.taken_out_by.display_name}. If that is wrong, strike the entry and write it again.",
            code="out_already",
            status=409,
        )
    if until > moment + CLOCK_TOLERANCE:
        raise field_error("out_at", f"{_clock(until)} is in the future; note it when it has happened.")
    if until <= entry.in_at:
        raise field_error("out_at", f"It was put in at {_clock(entry.in_at)}; it can only be taken out after that.")
    before = audit.snapshot(entry)
    entry.out_at, entry.taken_out_by = until, actor
    check(entry)
    entry.save(update_fields=["out_at", "taken_out_by"])
    audit.record(actor=actor, action="labtests.conditioning_entry.taken_out", subject=entry, before=before)
    return entry


@needs("labtests.conditioning:write")
@transaction.atomic
def conditioning_strike(
    *, actor: User, entry: ConditioningEntry, reason: str, at: dt.datetime | None = None
) -> ConditioningEntry:
    """Strike a wrong entry. Tests that wait for review and took their hours from it are held."""
    reason = required_reason(reason)
    # An upload that is reading the log now is waited for, so that its tests are among those held below.
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [UPLOAD_LOCK])
    entry = _locked(entry)
    before = audit.snapshot(entry)
    entry.struck_at, entry.struck_by, entry.struck_because = at or timezone.now(), actor, reason
    check(entry)
    entry.save(update_fields=["struck_at", "struck_by", "struck_because"])
    held = _hold_tests_of(entry)
    # The trail is written last: its lock comes after those of tests and rigs everywhere.
    audit.record(actor=actor, action="labtests.conditioning_entry.struck", subject=entry, before=before, reason=reason)
    held.record(actor)
    return entry


def _hold_tests_of(entry: ConditioningEntry) -> Held:
    """Hold the tests; what was approved in the meantime is left, and the entry's page names it."""
    waiting = BenchTest.objects.filter(relying_on(entry), state=State.ACCEPTED).values_list("pk", flat=True)
    message = f"the conditioning entry that its hours came from was struck: {entry.struck_because}"
    reason = Reason("conditioning_struck", message)
    return hold_waiting(dict.fromkeys(waiting, reason), because=entry.struck_because)
