"""Published shoes that are due to be tested again, and why."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Count, Exists, OuterRef, Q

from catalogue.models import ScoreCard
from core.domain.coverage import UNLIMITED_K, coverage_factor, expanded
from labtests.models import BenchTest, ConditioningEntry, Specimen, SpecimenKind, State

# Common practice, no source: foams and deliveries change within a year; half of a band's width of 10.
OLD_AFTER = dt.timedelta(days=365)
WIDE_U = 5.0
# From here on a coverage factor is hardly above 2.
FEW_DF = 6
WHY = {
    "old": "tested more than a year ago",
    "uncertain": f"U of stability above {WIDE_U:g}, or not known",
    "borderline": "near the edge of its band",
    "provisional": "tested on one specimen",
}


@dataclass(frozen=True, slots=True, eq=False)
class Retest:
    """A published shoe with the reasons (keys of `WHY`) to test it again.

    `expanded_uncertainty` of stability is null where it is not known; `samples` counts those that the lab still has;
    `is_under_way` where one of them is in a chamber or has a test that waits for a decision.
    """

    card: ScoreCard
    reasons: tuple[str, ...]
    expanded_uncertainty: float | None
    samples: int
    is_under_way: bool


def retests(today: dt.date, why: str = "") -> list[Retest]:
    """List the shoes that are sold and have a reason, those with most reasons first, then the oldest; two queries."""
    waiting = BenchTest.objects.filter(
        specimen__shoe=OuterRef("shoe"),
        state__in=[State.ACCEPTED, State.HELD],
        performed_at__date__gt=OuterRef("tested_on"),
    )
    in_chamber = ConditioningEntry.objects.in_chamber().filter(specimen__shoe=OuterRef("shoe"))
    cards = (
        ScoreCard.objects.filter(_due(today), is_current=True, shoe__is_discontinued=False)
        .select_related("shoe__brand", "band", "neighbour")
        .annotate(is_waiting=Exists(waiting), is_in_chamber=Exists(in_chamber))
    )
    counts = dict(
        Specimen.objects.present()
        .filter(kind=SpecimenKind.SAMPLE)
        .order_by()
        .values_list("shoe_id")
        .annotate(n=Count("pk"))
    )
    found = [_retest(card, today, counts.get(card.shoe_id, 0)) for card in cards]
    due = [one for one in found if (why in one.reasons if why else one.reasons)]
    return sorted(due, key=lambda one: (-len(one.reasons), one.card.tested_on, one.card.shoe_id))


def _due(today: dt.date) -> Q:
    """Cards with any reason; `_retest` says which."""
    uncertain = Q(stability_u__isnull=True) | Q(stability_u__gt=WIDE_U / UNLIMITED_K) | _wide_by_k()
    return uncertain | Q(tested_on__lt=today - OLD_AFTER) | Q(is_borderline=True) | Q(is_provisional=True)


def _wide_by_k() -> Q:
    """Cards that a coverage factor above 2 may make uncertain; `_retest` works it out."""
    few = Q(stability_df__lt=FEW_DF, stability_u__gt=WIDE_U / coverage_factor(1))
    return few | Q(stability_df__gte=FEW_DF, stability_u__gt=WIDE_U / coverage_factor(FEW_DF))


def _retest(card: ScoreCard, today: dt.date, samples: int) -> Retest:
    wide = expanded(card.stability_u, card.stability_df)
    holds = {
        "old": today - card.tested_on > OLD_AFTER,
        "uncertain": wide is None or wide > WIDE_U,
        "borderline": card.is_borderline,
        "provisional": card.is_provisional,
    }
    is_under_way = vars(card)["is_waiting"] or vars(card)["is_in_chamber"]
    return Retest(card, tuple(key for key in WHY if holds[key]), wide, samples, is_under_way)
