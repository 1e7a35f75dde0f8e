"""Shoes as the lab lists them: with their tests, and whether they can be published again."""

from __future__ import annotations

import datetime as dt

from django.db.models import Count, DateTimeField, Exists, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.http import Http404

from catalogue.models import ScoreCard, Shoe
from labtests.models import BenchTest, State

# Stands for the publication of a shoe that has none: before everything.
NEVER = Value(dt.datetime(1, 1, 2, tzinfo=dt.UTC), output_field=DateTimeField())


def shoes_tested(words: str = "") -> QuerySet[Shoe]:
    """Shoes with tests; `is_ready` where an approved test is newer than the card."""
    tests = BenchTest.objects.filter(specimen__shoe=OuterRef("pk"))
    publishable = BenchTest.objects.publishable().filter(specimen__shoe=OuterRef("pk"))
    card = ScoreCard.objects.filter(shoe=OuterRef("pk"), is_current=True)
    shoes = (
        Shoe.objects.filter(Exists(tests))
        .annotate(
            n_waiting=_count(tests.filter(state=State.ACCEPTED)),
            n_held=_count(tests.filter(state=State.HELD)),
            n_approved=_count(publishable),
            published_on=Coalesce(Subquery(card.values("published_at")[:1]), NEVER),
        )
        .annotate(is_ready=Exists(publishable.filter(reviewed_at__gt=OuterRef("published_on"))))
        .select_related("brand")
        .order_by("-is_ready", "brand__name", "name", "version")
    )
    if words:
        shoes = shoes.filter(Q(name__icontains=words) | Q(slug__icontains=words) | Q(brand__name__icontains=words))
    return shoes


def shoes_ready() -> QuerySet[Shoe]:
    """Shoes with approved tests that no card shows yet."""
    shoes: QuerySet[Shoe] = shoes_tested().filter(Q(is_ready=True))
    return shoes


def _count(tests: QuerySet[BenchTest]) -> Coalesce:
    counted = tests.order_by().values("specimen__shoe").annotate(n=Count("pk")).values("n")
    return Coalesce(Subquery(counted), 0)


def shoe_get(slug: str) -> Shoe:
    shoe = Shoe.objects.select_related("brand").filter(slug=slug).first()
    if shoe is None:
        raise Http404
    return shoe


def card_current(shoe: Shoe) -> ScoreCard | None:
    return shoe.score_cards.filter(is_current=True).select_related("band", "neighbour", "published_by").first()
