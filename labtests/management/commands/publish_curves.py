"""Publish the curves of shoes that were published before curves were."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction

from catalogue.models import Shoe
from labtests.services.curves import curves_publish

AT_ONCE = 200


class Command(BaseCommand):
    """May be run again: shoes that have curves are left alone."""

    help = "Publish the averaged curves of shoes that were published by an earlier version, from the same tests."

    def handle(self, *args: Any, **options: Any) -> None:
        without = Shoe.objects.published().filter(score_curves__isnull=True).order_by("pk")
        shoes = list(without.values_list("pk", flat=True))
        for start in range(0, len(shoes), AT_ONCE):
            with transaction.atomic():
                curves_publish(shoes=shoes[start : start + AT_ONCE])
        self.stdout.write(f"Looked at {len(shoes)} published shoes without curves.")
