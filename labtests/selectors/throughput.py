"""How many tests a month brought, how many of them were held, and why."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass

from django.db.models import Count, Q
from django.db.models.functions import TruncMonth
from django.utils import timezone

from labtests.models import BenchTest, State

MONTHS_SHOWN = 24


@dataclass(frozen=True, slots=True)
class Month:
    """The tests performed in a month, by their state now; `held_ever` also counts those decided on since.

    `why` counts the tests that were held by each code, the most frequent first; a test may have several.
    """

    begins_on: dt.date
    tests: int
    held_ever: int
    held: int
    waiting: int
    approved: int
    void: int
    why: tuple[tuple[str, int], ...]

    @property
    def share_held(self) -> float:
        return self.held_ever / self.tests


def throughput(today: dt.date, months: int = MONTHS_SHOWN) -> list[Month]:
    """The last months that had tests, newest first; two queries."""
    first = today.year * 12 + today.month - months
    begins = dt.datetime(first // 12, first % 12 + 1, 1, tzinfo=timezone.get_current_timezone())
    tests = BenchTest.objects.filter(performed_at__gte=begins).annotate(month=TruncMonth("performed_at")).order_by()
    why: dict[dt.date, Counter[str]] = {}
    for month, reasons in tests.exclude(reasons=[]).values_list("month", "reasons").iterator():
        why.setdefault(month.date(), Counter()).update({entry["code"] for entry in reasons})
    counted = tests.values("month").annotate(
        n=Count("pk"),
        held_ever=Count("pk", filter=~Q(reasons=[])),
        held=Count("pk", filter=Q(state=State.HELD)),
        waiting=Count("pk", filter=Q(state=State.ACCEPTED)),
        approved=Count("pk", filter=Q(state=State.APPROVED)),
        voided=Count("pk", filter=Q(state=State.VOID)),
    )
    return [
        Month(
            begins_on=row["month"].date(),
            tests=row["n"],
            held_ever=row["held_ever"],
            held=row["held"],
            waiting=row["waiting"],
            approved=row["approved"],
            void=row["voided"],
            why=tuple(why.get(row["month"].date(), Counter()).most_common()),
        )
        for row in counted.order_by("-month")
    ]
