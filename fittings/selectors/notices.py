"""Whom to inform after an incident in the laboratory: customers who chose a shoe by scores that were taken back."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, F, Func, OuterRef, QuerySet, Subquery

from catalogue.models import IncidentNotice, NoticeCard, ScoreCard
from catalogue.selectors.reach import FittingCount
from core.domain.errors import DomainError
from core.gate import row_scope
from fittings.models import Choice, Fitting, NoticeTick


@dataclass(frozen=True, slots=True)
class ShoeNow:
    """What is published of a shoe now: None for both where it is not published any more."""

    stability: float | None = None
    band: str | None = None


@dataclass(frozen=True, slots=True)
class Affected:
    """A fitting that ended in a shoe whose scores were taken back; `informed`: by whom its customer was."""

    choice: Choice
    now: ShoeNow
    informed: NoticeTick | None


def count_fittings(score_cards: Collection[int]) -> FittingCount:
    """Count the fittings of all stores whose shoe was chosen by one of some score cards: one query, no names."""
    with row_scope.figures():
        rows = set(
            Choice.objects.standing()
            .filter(score_card__in=score_cards, fitting__in=Fitting.objects.counted())
            .values_list("fitting_id", "fitting__customer_id", "fitting__store_id")
        )
    return FittingCount(
        fittings=len(rows),
        customers=len({customer for _, customer, _ in rows}),
        stores=frozenset(store for _, _, store in rows),
    )


def _choices(user: Any) -> QuerySet[Choice]:
    """The choices of fittings in the user's stores, of people who agreed that they are kept; none taken back."""
    return Choice.objects.standing().filter(fitting__store_id__in=user.store_ids(), fitting__kept=True)


def notices_for(user: Any) -> QuerySet[IncidentNotice]:
    """The notices that concern fittings in the user's stores, newest first.

    `fittings` counts those fittings, `open` those whose customer nobody has informed yet.
    """
    cards = NoticeCard.objects.filter(notice=OuterRef(OuterRef("pk")), score_card=OuterRef("score_card"))
    concerned = _choices(user).filter(Exists(cards)).order_by()
    ticks = NoticeTick.objects.filter(notice=OuterRef(OuterRef("pk")), choice=OuterRef("pk"), is_informed=True)
    rows = IncidentNotice.objects.filter(Exists(concerned))
    return rows.annotate(fittings=_count_of(concerned), open=_count_of(concerned.exclude(Exists(ticks))))


def _count_of(choices: QuerySet[Choice]) -> Subquery:
    return Subquery(choices.annotate(every=Func(F("pk"), function="count")).values("every"))


def notice_for(user: Any, pk: int) -> IncidentNotice:
    """One of these notices, or a 404."""
    notice = notices_for(user).filter(pk=pk).first()
    if notice is None:
        raise DomainError("There is no such notice, or it concerns no fitting of your store.", status=404)
    return notice


def affected_by(user: Any, notice: IncidentNotice) -> list[Affected]:
    """The fittings of the user's stores that a notice concerns, those to be informed first: three queries."""
    cards = NoticeCard.objects.filter(notice=notice).values("score_card")
    choices = list(
        _choices(user)
        .filter(score_card__in=cards)
        .select_related("fitting__customer", "fitting__store", "shoe__brand", "score_card__band")
        .order_by("-at", "pk")
    )
    current = ScoreCard.objects.filter(is_current=True, shoe__in={choice.shoe_id for choice in choices})
    now = {
        shoe: ShoeNow(stability, band)
        for shoe, stability, band in current.values_list("shoe_id", "stability", "band__name")
    }
    ticks = NoticeTick.objects.filter(notice=notice, is_informed=True, choice__in=choices).select_related("by")
    informed = {tick.choice_id: tick for tick in ticks}
    lines = [Affected(choice, now.get(choice.shoe_id, ShoeNow()), informed.get(choice.pk)) for choice in choices]
    return sorted(lines, key=lambda line: line.informed is not None)
