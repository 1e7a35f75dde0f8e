"""Reads of specimens: the list, and one with all that happened to it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from operator import and_

from django.db.models import Count, F, Max, Prefetch, Q, QuerySet
from django.http import Http404

from labtests.models import BenchTest, ConditioningEntry, Result, Specimen
from labtests.selectors.bench_tests import bench_test_list


@dataclass(frozen=True, slots=True)
class SpecimensAsked:
    """Which specimens are asked for; `state` is "present", "disposed" or empty for both."""

    q: str = ""
    kind: str = ""
    state: str = ""

    def as_q(self) -> Q:
        wanted = Q(kind=self.kind) if self.kind else Q()
        if self.state:
            wanted &= Q(disposed_on__isnull=self.state == "present")
        names = ("code", "place", "shoe__brand__name", "shoe__name", "shoe__version", "shoe__slug")
        words = (Q(*((f"{name}__icontains", word) for name in names), _connector=Q.OR) for word in self.q.split())
        return reduce(and_, words, wanted)


def specimen_list(asked: SpecimensAsked | None = None) -> QuerySet[Specimen]:
    """Specimens by code, with the number of their tests and the day of the last one."""
    in_chamber = ConditioningEntry.objects.in_chamber().select_related("chamber")
    return (
        Specimen.objects.filter((asked or SpecimensAsked()).as_q())
        .select_related("shoe__brand", "receipt__received_by", "disposed_by")
        .prefetch_related(Prefetch("conditioning", queryset=in_chamber, to_attr="open_stays"))
        .annotate(n_tests=Count("tests"), tested_at=Max("tests__performed_at"))
        .order_by("code")
    )


def specimen_page(code: str) -> Specimen:
    """Find a specimen as the list has it, or answer 404."""
    specimen = specimen_list().filter(code=code).first()
    if specimen is None:
        raise Http404
    return specimen


def specimens_named(codes: list[str]) -> list[Specimen]:
    """The specimens of these codes that there are, in the order given."""
    found = {specimen.code: specimen for specimen in specimen_list().filter(code__in=codes)}
    return [found[code] for code in dict.fromkeys(codes) if code in found]


def tests_of(specimen: Specimen) -> QuerySet[BenchTest]:
    return bench_test_list().filter(specimen=specimen)


def stays_of(specimen: Specimen) -> QuerySet[ConditioningEntry]:
    return ConditioningEntry.objects.filter(specimen=specimen).select_related("specimen__shoe", "chamber", "put_in_by")


def distances_of(specimen: Specimen) -> int:
    """At how many distances a specimen was scored; a wear series takes two."""
    worn = Result.objects.filter(test__specimen=specimen, scoring_model__is_current=True)
    return len(set(worn.values_list(F("test__worn_km"), flat=True)))
