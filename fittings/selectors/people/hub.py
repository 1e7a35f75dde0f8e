"""Everything of one customer that the staff of their store may read, for one page."""

from __future__ import annotations

from typing import Any

from django.db.models import Prefetch, QuerySet

from fittings.models import Choice, Customer, Fitting, FollowUp
from fittings.selectors.people.people import people_matching

SIMILAR_MOST = 8


def fittings_with_everything(customer: Customer) -> list[Fitting]:
    """The fittings of a customer, newest first, with choices, answers and who gave them: seven queries."""
    choices = Choice.objects.select_related("shoe__brand", "correction__by").order_by("pair", "-pk")
    answers = (
        FollowUp.objects.select_related("choice__shoe__brand", "answered_by")
        .prefetch_related("pains", "superseded__superseded_by")
        .order_by("due_on", "pk")
    )
    rows = Fitting.objects.filter(customer=customer, kept=True).select_related(
        "fitter", "store", "choice__shoe__brand", "current_shoe__brand"
    )
    return list(
        rows.prefetch_related("history", Prefetch("choices", choices), Prefetch("follow_ups", answers)).order_by(
            "-at", "-pk"
        )
    )


def last_fitting(customer: Customer) -> Fitting | None:
    """The newest fitting of a customer with what a new one may want to know of it: three queries."""
    rows = Fitting.objects.filter(customer=customer, kept=True).select_related(
        "store", "choice__shoe__brand", "choice__correction", "current_shoe__brand"
    )
    return rows.prefetch_related("history", "feet").order_by("-at", "-pk").first()


def perhaps_the_same(customer: Customer, words: str) -> QuerySet[Any]:
    """Other records of the store that words point to; without words those of the same name."""
    others = Customer.objects.filter(store=customer.store).exclude(pk=customer.pk)
    alike = people_matching(others, words) if words.strip() else others.filter(name__iexact=customer.name)
    return alike.order_by("name", "pk")[:SIMILAR_MOST]
