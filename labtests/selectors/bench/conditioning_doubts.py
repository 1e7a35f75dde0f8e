"""Approved tests that later records do not bear out any more: the conditioning log, the climate, calibrations."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from labtests.domain.conditions.climate import ClimateSeries, check_climate, climate_of_stays
from labtests.domain.conditions.conditioning import Stay, conditioning_from_log, doubt_now
from labtests.models import BenchTest, Calibration, ClimateLog, ConditioningEntry, State
from labtests.selectors.bench.calibrations import struck_calibrations
from labtests.selectors.bench.climate import logs_of_chambers
from labtests.selectors.bench.conditioning import logged_of

HOW_TO_FIX = (
    "Write the stay into the log as it was: the test counts again once the log agrees. Or void the test and test again."
)
FIX_CLIMATE = "Void the test and test again, or strike the climate log where it is of another chamber."
FIX_CALIBRATION = (
    "Record the calibration as its certificate says and have it signed: the test counts again where uncertainty and "
    "resolution are the same. Or void the test and test again."
)


@dataclass(frozen=True, slots=True, eq=False)
class ConditioningDoubt:
    """A test, why it can't be relied on, and what to do."""

    test: BenchTest
    because: str
    how_to_fix: str = HOW_TO_FIX

    @property
    def refusal(self) -> str:
        """Why nothing is published of it, and what to do."""
        return f"Test {self.test.pk} of {self.test.specimen.code} is in doubt: {self.because}. {self.how_to_fix}"


def conditioning_doubts(tests: QuerySet[BenchTest]) -> dict[int, ConditioningDoubt]:
    """Of some tests those in doubt, by number; in two queries, one more each for climate and calibrations."""
    speaks = ConditioningEntry.objects.filter(specimen=OuterRef("specimen"), in_at__lt=OuterRef("performed_at"))
    flagged = tests.annotate(has_struck=Exists(_struck_for_test()), has_climate=Exists(_climate_for_test()))
    asked = flagged.filter(Exists(speaks) | Q(has_struck=True))
    candidates = list(asked.select_related("specimen", "protocol", "logged_conditioning").order_by("pk"))
    stays = _stays_of(candidates)
    struck = struck_calibrations(test for test in candidates if vars(test)["has_struck"])
    climate = _climate_of(candidates, stays)
    found = {}
    for test in candidates:
        doubt = _log_doubt(test, stays[test.specimen_id])
        doubt = doubt or _climate_doubt(test, stays[test.specimen_id], climate)
        for calibration in struck.get(test.pk, [])[:1]:
            doubt = doubt or ConditioningDoubt(test, calibration.words, FIX_CALIBRATION)
        if doubt:
            found[test.pk] = doubt
    return found


def _struck_for_test() -> QuerySet[Calibration]:
    """Struck calibrations of the rig that cover the day of a test of an outer query."""
    return Calibration.objects.filter(
        rig=OuterRef("rig"),
        struck_at__gte=OuterRef("reviewed_at"),
        calibrated_on__lte=OuterRef("performed_at__date"),
        due_on__gte=OuterRef("performed_at__date"),
    )


def _climate_for_test() -> QuerySet[ClimateLog]:
    """Climate logs of chambers that the specimen of an outer query's test was in."""
    return ClimateLog.objects.valid().filter(
        chamber__entries__specimen=OuterRef("specimen"), first_at__lte=OuterRef("performed_at")
    )


def _stays_of(tests: Iterable[BenchTest]) -> dict[int, list[Stay]]:
    specimens = {test.specimen_id for test in tests}
    stays: dict[int, list[Stay]] = defaultdict(list)
    if specimens:
        for entry in ConditioningEntry.objects.valid().filter(specimen__in=specimens).select_related("chamber"):
            stays[entry.specimen_id].append(entry.to_domain())
    return stays


def _climate_of(tests: Iterable[BenchTest], stays: dict[int, list[Stay]]) -> list[ClimateSeries]:
    asked = [test for test in tests if vars(test)["has_climate"]]
    ours = [stay for test in asked for stay in stays[test.specimen_id]]
    if not ours:
        return []
    begin, end = min(stay.in_at for stay in ours), max(test.performed_at for test in asked)
    return [log.to_domain() for log in logs_of_chambers({stay.chamber for stay in ours}, begin, end)]


def _log_doubt(test: BenchTest, stays: list[Stay]) -> ConditioningDoubt | None:
    logged_hours = logged_of(test)
    required_h = test.protocol.to_domain().conditioned_h.low or 0.0
    claimed_h = logged_hours.claimed_h if logged_hours else test.conditioned_h
    logged = conditioning_from_log(stays, at=test.performed_at, window_h=max(required_h, claimed_h))
    because = doubt_now(
        logged, counted_h=test.conditioned_h, is_from_log=logged_hours is not None, required_h=required_h
    )
    return ConditioningDoubt(test, because) if because else None


def _climate_doubt(test: BenchTest, stays: list[Stay], climate: list[ClimateSeries]) -> ConditioningDoubt | None:
    logged_hours = logged_of(test)
    if logged_hours is None or not climate:
        return None
    limit = test.protocol.to_domain().temperature_c
    counted = [stay for stay in stays if logged_hours.since <= stay.in_at < test.performed_at]
    reasons = check_climate(climate_of_stays(counted, climate, limit, at=test.performed_at), limit)
    return ConditioningDoubt(test, reasons[0].message, FIX_CLIMATE) if reasons else None


def doubted_approvals() -> list[ConditioningDoubt]:
    """Approved tests that count for published scores and are in doubt, oldest first.

    Approval looks at the records, so only what was changed in them since is asked about: entries struck or noted
    later, the end of a stay that had none and is now before the test, climate imported and calibrations struck later.
    """
    approved = BenchTest.objects.filter(state=State.APPROVED, is_released=False)
    later = Q(struck_at__gte=OuterRef("reviewed_at")) | Q(noted_at__gte=OuterRef("reviewed_at"))
    touched = ConditioningEntry.objects.filter(later, specimen=OuterRef("specimen"), in_at__lt=OuterRef("performed_at"))
    ended = Q(logged_conditioning__out_h=0, logged_conditioning__entry__out_at__lt=F("performed_at"))
    imported = _climate_for_test().filter(at__gte=OuterRef("reviewed_at"))
    # A union lets each part begin from its few records; joined by OR, every approved test would be asked four times.
    changed = [approved.filter(part).order_by().values("pk") for part in (Exists(touched), ended, Exists(imported))]
    candidates = approved.filter(Exists(_struck_for_test())).order_by().values("pk").union(*changed)
    return [*conditioning_doubts(BenchTest.objects.filter(pk__in=candidates)).values()]
