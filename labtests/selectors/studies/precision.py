"""Reads for the comparison of rigs: specimens that were tested on several, and their readings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Q, QuerySet

from labtests.models import Specimen, State
from labtests.selectors.studies.studies import COLUMNS, counted_tests

MAX_LEVELS = 12


@dataclass(frozen=True, slots=True)
class Level:
    """One specimen (a level of ISO 5725) with its readings by rig, in the order of testing."""

    name: str
    results: dict[str, list[float]]


def shared_specimens() -> QuerySet[Specimen]:
    """Unworn specimens tested on two rigs or more, those on the most rigs first; `n_rigs` says on how many."""
    counted = Q(tests__state__in=[State.ACCEPTED, State.APPROVED], tests__is_released=False) & (
        Q(tests__worn_km__isnull=True) | Q(tests__worn_km=0)
    )
    return (
        Specimen.objects.annotate(n_rigs=Count("tests__rig", filter=counted, distinct=True))
        .filter(n_rigs__gte=2)
        .select_related("shoe__brand")
        .order_by("-n_rigs", "code")
    )


def widest(shared: Sequence[Any]) -> list[str]:
    """Codes of the specimens that the most rigs tested: what is compared where nothing is picked."""
    most = max((specimen.n_rigs for specimen in shared), default=0)
    return [specimen.code for specimen in shared if specimen.n_rigs == most][:MAX_LEVELS]


def levels_of(
    codes: Sequence[str], key: str, *, since: dt.date | None = None, until: dt.date | None = None
) -> list[Level]:
    """Readings of specimens by rig, one level a specimen, in the order asked for; one query."""
    tests = counted_tests(since, until).filter(Q(worn_km__isnull=True) | Q(worn_km=0), specimen__code__in=codes)
    found: dict[str, dict[str, list[float]]] = {code: {} for code in codes}
    for code, rig, value in tests.values_list("specimen__code", "rig__code", COLUMNS[key]):
        if value is not None:
            found[code].setdefault(rig, []).append(value)
    return [Level(code, dict(sorted(results.items()))) for code, results in found.items()]
