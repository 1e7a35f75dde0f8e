"""Reads of bench tests: lists, one, its history, what its scores say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet
from django.http import Http404

from core.audit import sentence
from core.models import AuditEntry
from labtests.domain.scores.bands import Band, Placement, place
from labtests.models import BenchTest, Result, ScoringModel
from labtests.selectors.methods import bands_of


@dataclass(frozen=True, slots=True)
class Asked:
    """Which tests are asked for; empty words ask for all."""

    state: str = ""
    shoe: str = ""
    rig: str = ""
    specimen: str = ""


@dataclass(frozen=True, slots=True)
class HistoryEntry:
    """One step in the life of a test."""

    id: int
    at: dt.datetime
    actor: str
    action: str
    words: str
    reason: str


def bench_test_list(asked: Asked | None = None) -> QuerySet[BenchTest]:
    """Tests with what a line of a list needs, newest first."""
    asked = asked or Asked()
    given = {
        "state": asked.state,
        "specimen__shoe__slug": asked.shoe,
        "rig__code": asked.rig,
        "specimen__code": asked.specimen,
    }
    results = Result.objects.select_related("scoring_model__scale").order_by("-scoring_model__created_at")
    return (
        BenchTest.objects.filter(**{name: value for name, value in given.items() if value})
        .select_related("specimen__shoe__brand", "rig", "protocol", "operator", "reviewed_by", "amends", "successor")
        .select_related("upload__by", "logged_conditioning__entry__chamber")
        .defer("upload__data", "upload__verdict")
        .prefetch_related(Prefetch("results", queryset=results))
    )


def bench_test_get(pk: int) -> BenchTest:
    """Find a test, or answer 404."""
    test = bench_test_list().prefetch_related("readings").filter(pk=pk).first()
    if test is None:
        raise Http404
    return test


def result_of(test: BenchTest) -> Result | None:
    """The scores by the newest scoring model that scored the test; None where none could."""
    return next(iter(test.results.all()), None)


class Scales:
    """Places scores on the bands of their models, reading each scale once."""

    def __init__(self) -> None:
        self._bands: dict[int, tuple[Band, ...]] = {}

    def bands(self, model: ScoringModel) -> tuple[Band, ...]:
        if model.scale_id not in self._bands:
            self._bands[model.scale_id] = bands_of(model.scale)
        return self._bands[model.scale_id]

    def place(self, result: Result) -> Placement:
        return place(result.stability, result.stability_u, self.bands(result.scoring_model))


def histories_of(tests: Iterable[BenchTest]) -> dict[int, list[HistoryEntry]]:
    """The steps of each test, oldest first, in one query."""
    histories: dict[int, list[HistoryEntry]] = {test.pk: [] for test in tests}
    found = AuditEntry.objects.filter(
        object_type=BenchTest._meta.label_lower, object_id__in=[str(pk) for pk in histories]
    )
    for entry in found.order_by("id"):
        histories[int(entry.object_id)].append(history_entry(entry))
    return histories


def history_entry(entry: AuditEntry) -> HistoryEntry:
    content = entry.content
    return HistoryEntry(
        id=entry.pk,
        at=entry.at,
        actor=content["actor_name"],
        action=entry.action,
        words=sentence(entry),
        reason=content["reason"],
    )
