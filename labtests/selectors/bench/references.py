"""What a model can be fitted to: the shoes with tests that count, and their readings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models import Avg, F

from core.domain.quoting import quoted
from labtests.domain.files.reference_table import TARGETS, Target
from labtests.domain.scores.model_fit import ReferenceShoe
from labtests.models import BenchTest

READINGS = ("torque_15_nm", "deflection_mm", "work_j")


@dataclass(frozen=True, slots=True)
class ReferenceReading:
    """A shoe's readings: means over its specimens."""

    slug: str
    title: str
    specimens: int
    torque_15_nm: float
    deflection_mm: float
    work_j: float


def reference_readings() -> list[ReferenceReading]:
    """The readings of every shoe with tests that count, by name."""
    rows: Iterable[Any] = (
        BenchTest.objects.publishable()
        .filter(torque_15_nm__isnull=False, deflection_mm__isnull=False, work_j__isnull=False)
        .order_by()
        .values(
            "specimen_id",
            slug=F("specimen__shoe__slug"),
            brand=F("specimen__shoe__brand__name"),
            name=F("specimen__shoe__name"),
            version=F("specimen__shoe__version"),
        )
        .annotate(**{f"mean_{name}": Avg(name) for name in READINGS})
    )
    by_shoe: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        by_shoe.setdefault(row["slug"], []).append(row)
    return sorted((_reading_of(slug, found) for slug, found in by_shoe.items()), key=lambda found: found.title)


def _reading_of(slug: str, specimens: list[dict[str, Any]]) -> ReferenceReading:
    first = specimens[0]
    means = {name: float(np.mean([row[f"mean_{name}"] for row in specimens])) for name in READINGS}
    title = f"{first['brand']} {first['name']} {first['version']}".strip()
    return ReferenceReading(slug, title, len(specimens), **means)


def reference_shoes(
    targets: Sequence[Target], readings: Sequence[ReferenceReading]
) -> tuple[list[ReferenceShoe], list[str]]:
    """Join targets with the readings of their shoes; the second list says which shoes have none."""
    by_slug = {reading.slug: reading for reading in readings}
    unknown = [
        f"{quoted(target.shoe)} has no approved test within the protocol; leave it out or correct its short name"
        for target in targets
        if target.shoe not in by_slug
    ]
    shoes = [_reference(target, by_slug[target.shoe]) for target in targets if target.shoe in by_slug]
    return shoes, unknown


def _reference(target: Target, reading: ReferenceReading) -> ReferenceShoe:
    scores = {score: getattr(target, score) for score in TARGETS}
    return ReferenceShoe(reading.title, **{name: getattr(reading, name) for name in READINGS}, **scores)
