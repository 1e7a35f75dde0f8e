"""Approved tests whose hours of conditioning the log does not bear out any more: struck entries, later ones."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from labtests.domain.scores.conditioning import Stay, conditioning_from_log, standing_doubt
from labtests.models import BenchTest, ConditioningEntry, State
from labtests.selectors.conditioning import logged_of

HOW_TO_FIX = (
    "Write the stay into the log as it was: the test counts again once the log agrees. Or void the test and test again."
)


@dataclass(frozen=True, slots=True, eq=False)
class ConditioningDoubt:
    """A test, and why its hours can't be relied on."""

    test: BenchTest
    because: str

    @property
    def refusal(self) -> str:
        """Why nothing is published of it, and what to do."""
        return f"Test {self.test.pk} of {self.test.specimen.code} is in doubt: {self.because}. {HOW_TO_FIX}"


def conditioning_doubts(tests: QuerySet[BenchTest]) -> dict[int, ConditioningDoubt]:
    """Of some tests those in doubt, by number; in two queries."""
    speaks = ConditioningEntry.objects.filter(specimen=OuterRef("specimen"), in_at__lt=OuterRef("performed_at"))
    asked = tests.filter(Exists(speaks)).select_related("specimen", "protocol", "logged_conditioning").order_by("pk")
    candidates = list(asked)
    stays = _stays_of(candidates)
    found = {}
    for test in candidates:
        because = _doubt_of(test, stays[test.specimen_id])
        if because:
            found[test.pk] = ConditioningDoubt(test, because)
    return found


def _stays_of(tests: Iterable[BenchTest]) -> dict[int, list[Stay]]:
    specimens = {test.specimen_id for test in tests}
    stays: dict[int, list[Stay]] = defaultdict(list)
    if specimens:
        for entry in ConditioningEntry.objects.valid().filter(specimen__in=specimens).select_related("chamber"):
            stays[entry.specimen_id].append(entry.to_domain())
    return stays


def _doubt_of(test: BenchTest, stays: list[Stay]) -> str:
    kept = logged_of(test)
    required_h = test.protocol.to_domain().conditioned_h.low or 0.0
    claimed_h = kept.claimed_h if kept else test.conditioned_h
    logged = conditioning_from_log(stays, at=test.performed_at, window_h=max(required_h, claimed_h))
    return standing_doubt(logged, counted_h=test.conditioned_h, is_from_log=kept is not None, required_h=required_h)


def doubted_approvals() -> list[ConditioningDoubt]:
    """Approved tests that count for published scores and are in doubt, oldest first.

    Approval looks at the log, so only what was changed in it since is asked about: entries struck or noted later, and
    the end of a stay that had none and now lies before the test.
    """
    approved = BenchTest.objects.filter(state=State.APPROVED, is_released=False)
    later = Q(struck_at__gte=OuterRef("reviewed_at")) | Q(noted_at__gte=OuterRef("reviewed_at"))
    touched = ConditioningEntry.objects.filter(later, specimen=OuterRef("specimen"), in_at__lt=OuterRef("performed_at"))
    ended = Q(logged_conditioning__out_h=0, logged_conditioning__entry__out_at__lt=F("performed_at"))
    return [*conditioning_doubts(approved.filter(Exists(touched) | ended)).values()]
