"""Published shoes that are due to be tested again, and why."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from catalogue.models import FaultReport, ScoreCard
from core.domain.coverage import UNLIMITED_K, coverage_factor, expanded
from labtests.domain.scores.seasons import season_year
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
    "season": "made for a later season than the one it was tested in",
    "faults": "faulty pairs reported by stores since the last test",
}
SORTS = {
    "reasons": "most reasons",
    "oldest": "oldest test",
    "uncertainty": "largest U",
    "faults": "most faulty pairs",
    "shoe": "name",
}


@dataclass(frozen=True, slots=True, eq=False)
class Retest:
    """A published shoe with the reasons (keys of `WHY`) to test it again.

    `expanded_uncertainty` of stability is null where it is not known; `samples` counts those that the lab still has;
    `faults` the faulty pairs that stores reported since the last test; `is_under_way` where a sample is in a chamber or
    has a test that waits for a decision.
    """

    card: ScoreCard
    reasons: tuple[str, ...]
    expanded_uncertainty: float | None
    samples: int
    faults: int
    is_under_way: bool


def retests(today: dt.date, why: str = "", sort: str = "reasons") -> list[Retest]:
    """List the shoes that are sold and have a reason, in one of the orders of `SORTS`; two queries."""
    counts = dict(
        Specimen.objects.present()
        .filter(kind=SpecimenKind.SAMPLE)
        .order_by()
        .values_list("shoe_id")
        .annotate(n=Count("pk"))
    )
    listed = [_retest(card, today, counts.get(card.shoe_id, 0)) for card in _cards(today)]
    due = [one for one in listed if (why in one.reasons if why else one.reasons)]
    return sorted(due, key=_KEYS[sort])


def _cards(today: dt.date) -> QuerySet[ScoreCard]:
    waiting = BenchTest.objects.filter(
        specimen__shoe=OuterRef("shoe"),
        state__in=[State.ACCEPTED, State.HELD],
        performed_at__date__gt=OuterRef("tested_on"),
    )
    in_chamber = ConditioningEntry.objects.in_chamber().filter(specimen__shoe=OuterRef("shoe"))
    faults = FaultReport.objects.filter(shoe=OuterRef("shoe"), reported_at__date__gt=OuterRef("tested_on"))
    counted = faults.order_by().values("shoe").annotate(n=Count("pk")).values("n")
    cards = ScoreCard.objects.filter(is_current=True, shoe__is_discontinued=False)
    cards = cards.select_related("shoe__brand", "band", "neighbour").annotate(n_faults=Coalesce(Subquery(counted), 0))
    return cards.filter(_due(today)).annotate(is_waiting=Exists(waiting), is_in_chamber=Exists(in_chamber))


def _name(one: Retest) -> tuple[str, str]:
    return one.card.shoe.brand.name.casefold(), one.card.shoe.title.casefold()


_KEYS: dict[str, Callable[[Retest], Any]] = {
    "reasons": lambda one: (-len(one.reasons), one.card.tested_on, one.card.shoe_id),
    "oldest": lambda one: (one.card.tested_on, one.card.shoe_id),
    # A U that is not known comes first: it may be any.
    "uncertainty": lambda one: (-(one.expanded_uncertainty or math.inf), one.card.shoe_id),
    "faults": lambda one: (-one.faults, one.card.tested_on, one.card.shoe_id),
    "shoe": _name,
}


def _due(today: dt.date) -> Q:
    """Cards that may have a reason; `_retest` says which."""
    uncertain = Q(stability_u__isnull=True) | Q(stability_u__gt=WIDE_U / UNLIMITED_K) | _wide_by_k()
    reported = Q(n_faults__gt=0) | ~Q(shoe__season="")
    doubtful = Q(is_borderline=True) | Q(is_provisional=True)
    return uncertain | Q(tested_on__lt=today - OLD_AFTER) | doubtful | reported


def _wide_by_k() -> Q:
    """Cards that a coverage factor above 2 may make uncertain; `_retest` works it out."""
    few = Q(stability_df__lt=FEW_DF, stability_u__gt=WIDE_U / coverage_factor(1))
    return few | Q(stability_df__gte=FEW_DF, stability_u__gt=WIDE_U / coverage_factor(FEW_DF))


def _retest(card: ScoreCard, today: dt.date, samples: int) -> Retest:
    faults: int = vars(card)["n_faults"]
    wide = expanded(card.stability_u, card.stability_df)
    holds = {
        "old": today - card.tested_on > OLD_AFTER,
        "uncertain": wide is None or wide > WIDE_U,
        "borderline": card.is_borderline,
        "provisional": card.is_provisional,
        "season": (season_year(card.shoe.season) or 0) > card.tested_on.year,
        "faults": faults > 0,
    }
    is_under_way = vars(card)["is_waiting"] or vars(card)["is_in_chamber"]
    return Retest(card, tuple(key for key in WHY if holds[key]), wide, samples, faults, is_under_way)
