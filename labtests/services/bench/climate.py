"""The climate of chambers: loggers' files previewed, imported all or nothing, struck where they are wrong."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo, available_timezones

from django.db import connection, transaction
from django.utils import timezone

from core import audit
from core.database.validation import check
from core.domain.errors import DomainError, field_error, required_reason
from core.domain.quoting import quoted
from core.models import User
from labtests.domain.conditions.climate import EXCURSION, ClimateSeries, check_climate, climate_of_stays
from labtests.domain.files.climatefile import ClimateTable, read_climate
from labtests.domain.files.problems import Problem
from labtests.domain.scores.protocol import Reason
from labtests.models import Chamber, ClimateLog, StagedUpload, State
from labtests.models.benchtests import POINTS
from labtests.models.uploads import CLIMATE
from labtests.selectors.bench.climate import Touched, climate_of, touched_by
from labtests.services.bench.uploads import UPLOAD_LOCK, clean_name, upload_stage
from labtests.services.holds import hold_waiting, lift_reasons
from labtests.services.rights import needs

MAX_BYTES = 10 * 2**20
UNITS = ("degC", "degF")


@dataclass(frozen=True, slots=True, eq=False)
class ClimateGiven:
    """A logger's file as somebody sends it: of which chamber, in which time zone and unit where it does not say so."""

    chamber: Chamber
    name: str
    data: bytes
    time_zone: str = ""
    unit: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class ClimatePreview:
    """What importing a file would do; `table` is None where there are problems, `known` where it is on record."""

    table: ClimateTable | None
    problems: tuple[Problem, ...]
    known: ClimateLog | None
    touched: tuple[Touched, ...]

    def checked_table(self) -> ClimateTable:
        """The readings; refuses a file with problems."""
        if self.table is None:
            raise _problems(self.problems)
        return self.table

    @property
    def to_hold(self) -> list[Touched]:
        """Tests that wait for review and would be held."""
        return [one for one in self.touched if one.reason and one.test.state == State.ACCEPTED]

    @property
    def in_doubt(self) -> list[Touched]:
        """Approved tests that would be in doubt until somebody has decided; their cards stay as they are."""
        return [one for one in self.touched if one.reason and one.test.state == State.APPROVED]


def _zone(name: str) -> ZoneInfo | None:
    if not name:
        return None
    if name not in available_timezones():
        words = f"There is no time zone {quoted(name)}. Use a name such as UTC or Europe/Oslo."
        raise field_error("time_zone", words, code="bad_time_zone")
    return ZoneInfo(name)


@needs("labtests.conditioning:write")
def climate_preview(*, actor: User, given: ClimateGiven, at: dt.datetime | None = None) -> ClimatePreview:
    """Read a file and say what importing it would do. Writes nothing."""
    if len(given.data) > MAX_BYTES:
        words = f"The file is larger than {MAX_BYTES // 2**20} MB. Send it in several parts."
        raise DomainError(words, code="too_large", status=413, fields={"file": [words]})
    if given.unit and given.unit not in UNITS:
        raise field_error("unit", f"The unit is {' or '.join(UNITS)}, got {quoted(given.unit)}.", code="bad_unit")
    table, problems = read_climate(
        given.data,
        name=clean_name(given.name),
        zone=_zone(given.time_zone),
        unit=given.unit,
        now=at or timezone.now(),
    )
    if table is None:
        return ClimatePreview(None, problems, None, ())
    rows = ClimateLog.objects.valid().select_related("chamber", "by")
    known = rows.filter(chamber=given.chamber, content_sha256=table.sha256).first()
    return ClimatePreview(table, (), known, () if known else _touched(given.chamber, table))


def _touched(chamber: Chamber, table: ClimateTable) -> tuple[Touched, ...]:
    series = ClimateSeries(chamber.code, table.times, table.temperatures_c, table.humidities)
    found = touched_by(chamber, since=table.first_at, until=table.last_at)
    return tuple(replace(one, reason=_reason(one, series)) for one in found)


def _reason(one: Touched, series: ClimateSeries) -> Reason | None:
    limit = one.test.protocol.to_domain().temperature_c
    climate = climate_of_stays(one.stays, [series], limit, at=one.test.performed_at)
    return next(iter(check_climate(climate, limit)), None)


@needs("labtests.conditioning:write")
@transaction.atomic
def climate_stage(*, actor: User, name: str, data: bytes) -> uuid.UUID:
    """Store a file for a day while it is previewed."""
    return upload_stage(actor=actor, name=name, data=data, source=CLIMATE).batch


@needs("labtests.conditioning:write")
@transaction.atomic
def climate_confirm(*, actor: User, staged: StagedUpload, given: ClimateGiven) -> ClimateLog:
    """Import what was previewed."""
    log = climate_import(actor=actor, given=given)
    staged.delete()
    return log


@needs("labtests.conditioning:write")
@transaction.atomic
def climate_import(*, actor: User, given: ClimateGiven, at: dt.datetime | None = None) -> ClimateLog:
    """Store a logger's readings. Tests that wait for review and were conditioned during an excursion are held.

    Approved ones are not changed, nor are their cards: they are in doubt, and nothing new is published of them until
    somebody has decided.

    Returns
    -------
    ClimateLog
        With `is_repeat` set where the same readings of the chamber are on record; then nothing was written.

    Raises
    ------
    DomainError
        400 with `fields["file"]`, each problem by line and column; nothing is stored then.
    """
    moment = at or timezone.now()
    # Uploads that are judged now are waited for, so that their tests are among those touched.
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [UPLOAD_LOCK])
    preview = climate_preview(actor=actor, given=given, at=moment)
    if preview.known is not None:
        preview.known.is_repeat = True
        return preview.known
    log = _row(preview.checked_table(), given, actor=actor, at=moment)
    reasons = {one.test.pk: one.reason for one in preview.to_hold if one.reason}
    held = hold_waiting(reasons, because=f"climate of chamber {given.chamber.code}")
    log.touched = {"held": held.numbers(), "doubted": [one.test.pk for one in preview.in_doubt]}
    check(log)
    log.save()
    audit.record(actor=actor, action="labtests.climate_log.imported", subject=log)
    held.record(actor)
    return log


def _problems(problems: Sequence[Problem]) -> DomainError:
    lines = [f"line {problem.line}, {problem.column}: {problem.problem}" for problem in problems]
    return DomainError(
        f"Nothing was imported: {lines[0]}{' and more' if len(lines) > 1 else ''}.",
        code="bad_climate_file",
        fields={"file": lines},
    )


def _row(table: ClimateTable, given: ClimateGiven, *, actor: User, at: dt.datetime) -> ClimateLog:
    columns = {"times": table.times, "temperatures_c": table.temperatures_c, "humidities": table.humidities}
    return ClimateLog(
        chamber=given.chamber,
        name=clean_name(given.name),
        content_sha256=table.sha256,
        time_zone=given.time_zone or "as written",
        first_at=table.first_at,
        last_at=table.last_at,
        by=actor,
        at=at,
        **{name: values.astype(POINTS).tobytes() for name, values in columns.items()},
    )


@needs("labtests.conditioning:write")
@transaction.atomic
def climate_strike(*, actor: User, log: ClimateLog, reason: str, at: dt.datetime | None = None) -> ClimateLog:
    """Strike a wrong log, of another chamber or with a wrong clock. Tests that were held by it alone go on."""
    reason = required_reason(reason)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [UPLOAD_LOCK])
    log = ClimateLog.objects.select_for_update(of=("self",)).select_related("chamber").get(pk=log.pk)
    if log.struck_by is not None:
        words = f"This log was struck by {log.struck_by.display_name}: {log.struck_because}"
        raise DomainError(words, code="struck", status=409)
    before = audit.snapshot(log)
    log.struck_at, log.struck_by, log.struck_because = at or timezone.now(), actor, reason
    log.save(update_fields=["struck_at", "struck_by", "struck_because"])
    lifted = lift_reasons({test: {EXCURSION} for test in _held_by_it_alone(log)}, because=f"struck: {log}")
    audit.record(actor=actor, action="labtests.climate_log.struck", subject=log, before=before, reason=reason)
    lifted.record(actor)
    return log


def _held_by_it_alone(log: ClimateLog) -> list[int]:
    """Held tests that no other log shows an excursion for."""
    found = touched_by(log.chamber, since=log.first_at, until=log.last_at, states=[State.HELD])
    return [one.test.pk for one in found if not _has_other_excursion(one)]


def _has_other_excursion(one: Touched) -> bool:
    limit = one.test.protocol.to_domain().temperature_c
    return bool(climate_of(one.stays, limit, until=one.test.performed_at).found.excursions)
