"""Whom to inform of tests that were taken back: customers who chose a shoe by scores that rested on them.

A store whose wall cards show such scores is informed too, until it has printed others or taken them down.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, F, Func, OuterRef, QuerySet, Subquery

from catalogue.models import IncidentNotice, NoticeCard, PrintedCard, ScoreCard
from catalogue.selectors.stock.cards_in_use import FittingCount, hanging
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
            Choice.objects.uncorrected()
            .filter(score_card__in=score_cards, fitting__in=Fitting.objects.without_training())
            .values_list("fitting_id", "fitting__customer_id", "fitting__store_id")
        )
    return FittingCount(
        fittings=len(rows),
        customers=len({customer for _, customer, _ in rows}),
        stores=frozenset(store for _, _, store in rows),
    )


def _choices(user: Any) -> QuerySet[Choice]:
    """The choices of fittings in the user's stores, of people who agreed that they are kept; none taken back."""
    return Choice.objects.uncorrected().filter(fitting__store_id__in=user.store_ids(), fitting__kept=True)


def notices_for(user: Any) -> QuerySet[IncidentNotice]:
    """The notices that concern fittings or wall cards of the user's stores, newest first.

    `fittings` counts those fittings, `open` those whose customer nobody has informed yet, `walls` the wall cards that
    still show scores which were taken back.
    """
    cards = NoticeCard.objects.filter(notice=OuterRef(OuterRef("pk")), score_card=OuterRef("score_card"))
    concerned = _choices(user).filter(Exists(cards)).order_by()
    ticks = NoticeTick.objects.filter(notice=OuterRef(OuterRef("pk")), choice=OuterRef("pk"), is_informed=True)
    walls = hanging().filter(Exists(cards), run__store_id__in=user.store_ids()).order_by()
    rows = IncidentNotice.objects.filter(Exists(concerned) | Exists(walls))
    still_open = _count_of(concerned.exclude(Exists(ticks)))
    return rows.annotate(fittings=_count_of(concerned), open=still_open, walls=_count_of(walls))


def _count_of(rows: QuerySet[Any]) -> Subquery:
    return Subquery(rows.annotate(every=Func(F("pk"), function="count")).values("every"))


def walls_with(user: Any, notice: IncidentNotice) -> list[PrintedCard]:
    """The wall cards of the user's stores that show scores which the notice names: one query."""
    cards = hanging().filter(run__store_id__in=user.store_ids(), score_card__in=notice.cards.values("score_card"))
    return list(cards.select_related("run__store", "shoe__brand").order_by("run__store__name", "shoe__slug"))


def notice_for(user: Any, pk: int) -> IncidentNotice:
    """One of these notices, or a 404."""
    notice = notices_for(user).filter(pk=pk).first()
    if notice is None:
        raise DomainError(
            "This notice does not exist, or it affects no fitting and no wall card at your store.", status=404
        )
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
