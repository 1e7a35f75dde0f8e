"""Publish the curves of shoes that were published before curves were."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet, Subquery

from catalogue.models import ScoreCard, Shoe
from labtests.models import BenchTest
from labtests.services.scores.curves import curves_publish

AT_ONCE = 200


class Command(BaseCommand):
    """May be run again: shoes that have curves are left alone.

    So are shoes with a test approved since they were published, because their curves would be of more tests than their
    scores; they get them with their next publication.
    """

    help = "Publish the averaged curves of shoes that were published by an earlier version, from the same tests."

    def handle(self, *args: Any, **options: Any) -> None:
        shoes = list(_without_curves().values_list("pk", flat=True))
        for start in range(0, len(shoes), AT_ONCE):
            with transaction.atomic():
                curves_publish(shoes=shoes[start : start + AT_ONCE])
        self.stdout.write(f"Looked at {len(shoes)} published shoes without curves.")


def _without_curves() -> QuerySet[Shoe]:
    card = ScoreCard.objects.filter(shoe=OuterRef("pk"), is_current=True)
    later = BenchTest.objects.publishable().filter(
        specimen__shoe=OuterRef("pk"), reviewed_at__gt=OuterRef("scores_published_at")
    )
    return (
        Shoe.objects.published()
        .filter(score_curves__isnull=True)
        .annotate(scores_published_at=Subquery(card.values("published_at")[:1]))
        .exclude(Exists(later))
        .order_by("pk")
    )
