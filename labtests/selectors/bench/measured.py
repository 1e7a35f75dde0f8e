"""Which shoes the lab has measured, for the catalogue's list of all shoes."""

from __future__ import annotations

from django.db.models import Exists, OuterRef

from catalogue.selectors.records.shoe_records import register_measured
from labtests.models import BenchTest


def is_measured() -> Exists:
    """Return the condition that a shoe (the outer query's `pk`) has an approved test."""
    return Exists(BenchTest.objects.publishable().filter(specimen__shoe=OuterRef("pk")))


register_measured(is_measured)
