"""Reads of the chambers' climate: the logs, and what they say of the stays of a test."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.http import Http404

from labtests.domain.conditions.climate import ClimateSeries, StayClimate, climate_of_stays
from labtests.domain.conditions.conditioning import Stay
from labtests.domain.scores.protocol import Limit, Reason
from labtests.models import BenchTest, Chamber, ClimateLog, ConditioningEntry, State
from labtests.selectors.bench.conditioning import logged_of


def chamber_get(code: str) -> Chamber:
    """Find a chamber, or answer 404."""
    found = Chamber.objects.filter(code=code).first()
    if found is None:
        raise Http404
    return found


def climate_list(chamber: Chamber) -> QuerySet[ClimateLog]:
    """Logs of a chamber with what a line of a list needs, newest first, without their readings."""
    rows = ClimateLog.objects.filter(chamber=chamber).select_related("chamber", "by", "struck_by")
    return rows.defer("times", "temperatures_c", "humidities").order_by("-first_at", "-pk")


def climate_get(pk: int) -> ClimateLog:
    """Find a log, or answer 404."""
    found = ClimateLog.objects.select_related("chamber", "by", "struck_by").filter(pk=pk).first()
    if found is None:
        raise Http404
    return found


def logs_of_chambers(codes: Collection[str], since: dt.datetime, until: dt.datetime) -> QuerySet[ClimateLog]:
    """Logs of some chambers that reach into a period, with their readings."""
    rows = ClimateLog.objects.valid().filter(chamber__code__in=codes, first_at__lte=until, last_at__gte=since)
    return rows.select_related("chamber").order_by("first_at", "pk")


@dataclass(frozen=True, slots=True, eq=False)
class ShownClimate:
    """Stays, the logs that reach into them, and what these say."""

    stays: tuple[Stay, ...]
    logs: tuple[ClimateSeries, ...]
    found: StayClimate
    until: dt.datetime


def climate_of_test(test: BenchTest) -> ShownClimate | None:
    """Return the climate while the specimen of a test was conditioned; None where its hours are a file's claim."""
    logged = logged_of(test)
    if logged is None:
        return None
    entries = ConditioningEntry.objects.valid().filter(
        specimen=test.specimen_id, in_at__gte=logged.since, in_at__lt=test.performed_at
    )
    stays = [entry.to_domain() for entry in entries.select_related("chamber").order_by("in_at")]
    return climate_of(stays, test.protocol.to_domain().temperature_c, until=test.performed_at)


def climate_of(stays: Sequence[Stay], limit: Limit, *, until: dt.datetime) -> ShownClimate:
    """Return the climate during some stays, by a protocol's temperatures (°C)."""
    codes = {stay.chamber for stay in stays}
    since = min((stay.in_at for stay in stays), default=until)
    logs = tuple(log.to_domain() for log in logs_of_chambers(codes, since, until))
    return ShownClimate(tuple(stays), logs, climate_of_stays(stays, logs, limit, at=until), until)


@dataclass(frozen=True, slots=True, eq=False)
class Touched:
    """A test whose specimen was in a chamber during a log; `reason` where the log speaks against it."""

    test: BenchTest
    stays: tuple[Stay, ...]
    reason: Reason | None = None


DECIDABLE = (State.ACCEPTED, State.APPROVED, State.HELD)


def touched_by(
    chamber: Chamber, *, since: dt.datetime, until: dt.datetime, states: Sequence[str] = DECIDABLE
) -> list[Touched]:
    """Tests with hours from stays in a chamber that reach into a period, void ones left out; in two queries."""
    reach = Q(specimen__conditioning__chamber=chamber) & Q(specimen__conditioning__struck_at__isnull=True)
    reach &= Q(specimen__conditioning__in_at__lte=until)
    reach &= Q(specimen__conditioning__out_at__isnull=True) | Q(specimen__conditioning__out_at__gte=since)
    tests = BenchTest.objects.filter(
        reach, state__in=states, logged_conditioning__isnull=False, performed_at__gte=since
    ).distinct()
    rows = list(tests.select_related("specimen", "protocol", "logged_conditioning").order_by("pk"))
    stays: dict[int, list[Stay]] = {test.specimen_id: [] for test in rows}
    entries = ConditioningEntry.objects.valid().filter(specimen__in=stays).select_related("chamber")
    for entry in entries.order_by("in_at") if rows else ():
        stays[entry.specimen_id].append(entry.to_domain())
    found = [Touched(test, _counted(test, stays[test.specimen_id])) for test in rows]
    return [one for one in found if any(_reaches(stay, chamber, since, until, one.test) for stay in one.stays)]


def _counted(test: BenchTest, stays: Sequence[Stay]) -> tuple[Stay, ...]:
    """The stays that a test's hours come from."""
    logged = logged_of(test)
    since = logged.since if logged else test.performed_at
    return tuple(stay for stay in stays if since <= stay.in_at < test.performed_at)


def _reaches(stay: Stay, chamber: Chamber, since: dt.datetime, until: dt.datetime, test: BenchTest) -> bool:
    end = min(stay.out_at or test.performed_at, test.performed_at)
    return stay.chamber == chamber.code and stay.in_at <= until and end >= since
