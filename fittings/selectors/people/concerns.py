"""Answers of follow-ups that need attention."""

from __future__ import annotations

from typing import Any

from django.db.models import Case, IntegerField, QuerySet, Value, When

from core.models import Store
from fittings.domain.fitting.referral_rules import referral_from_data
from fittings.domain.refusals import not_here
from fittings.models import AnswerConcern, Fitting


def concerns_open(user: Any, store: Store | None = None) -> QuerySet[AnswerConcern]:
    """Answers of the user's stores that nobody has closed: the earliest deadline first, of a day the user's own."""
    rows = _shown(AnswerConcern.objects.visible_to(user).unresolved())
    if store is not None:
        rows = rows.filter(follow_up__fitting__store=store)
    own = Case(When(owner=user, then=Value(0)), default=Value(1), output_field=IntegerField())
    return rows.order_by("due_on", own, "pk")


def concerns_closed(user: Any) -> QuerySet[AnswerConcern]:
    """Closed answers of the user's stores, the newest first."""
    return _shown(AnswerConcern.objects.visible_to(user).filter(closed_at__isnull=False)).order_by("-closed_at", "-pk")


def concern_get(user: Any, pk: int) -> AnswerConcern:
    """One answer of the user's stores; a 404 for any other."""
    concern = _shown(AnswerConcern.objects.visible_to(user)).select_related("rules").filter(pk=pk).first()
    if concern is None:
        raise not_here("answer")
    return concern


def concern_to_ask(fitting: Fitting, pk: str) -> AnswerConcern | None:
    """The worrying answer of a fitting whose customer was not asked about the stop signs yet."""
    if not pk.isascii() or not pk.isdecimal() or len(pk) > 15:
        return None
    rows = AnswerConcern.objects.unresolved().filter(follow_up__fitting=fitting, stop_signs_asked_at__isnull=True)
    return rows.select_related("rules").filter(pk=int(pk)).first()


def signs_asked(concern: AnswerConcern) -> dict[str, str]:
    """Code and words of the stop signs by the rules that the answer was judged by."""
    return referral_from_data(concern.rules.data).signs


def _shown(rows: QuerySet[AnswerConcern]) -> QuerySet[AnswerConcern]:
    fitting = "follow_up__fitting"
    return rows.select_related(
        f"{fitting}__store", f"{fitting}__customer", f"{fitting}__choice__shoe__brand", "owner", "closed_by"
    )
