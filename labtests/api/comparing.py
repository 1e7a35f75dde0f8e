"""Two tests of a shoe beside each other, in the API."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers as fields
from rest_framework.request import Request
from rest_framework.response import Response

from core.domain.errors import DomainError
from core.web.api import QueryView
from labtests.api.bench_tests import PROBLEM, PROBLEMS
from labtests.api.queries import CompareQuery
from labtests.domain.scores.differences import Difference
from labtests.presentation.bench_tests import covered
from labtests.selectors import comparing
from labtests.selectors.comparing import Comparison, Scored
from labtests.selectors.shoes import shoe_get


class LabDifference(fields.Serializer[Any]):
    """One quantity: second less first, and whether that is more than its expanded uncertainty."""

    first = fields.FloatField()
    second = fields.FloatField()
    difference = fields.FloatField()
    expanded_uncertainty = fields.FloatField(allow_null=True)
    coverage_factor = fields.FloatField(allow_null=True)
    degrees_of_freedom = fields.IntegerField(allow_null=True, help_text="Null where unlimited.")
    beyond = fields.BooleanField(allow_null=True, help_text="Null where an uncertainty is not known.")
    en = fields.FloatField(
        allow_null=True,
        help_text="E_n where one specimen was tested on two rigs in 90 days, else null; beyond ±1 the rigs disagree.",
    )


class LabCompared(fields.Serializer[Any]):
    """Which test it is."""

    test = fields.IntegerField()
    specimen = fields.CharField()
    side = fields.CharField()


class LabComparison(fields.Serializer[Any]):
    """Two tests of a shoe (torque in N·m, deflection in mm, work in J)."""

    first = LabCompared()
    second = LabCompared()
    scores = fields.SerializerMethodField()
    readings = fields.SerializerMethodField()
    shared = fields.ListField(child=fields.CharField(), help_text="Errors that both tests have in common.")

    @extend_schema_field(fields.DictField(child=LabDifference()))
    def get_scores(self, given: Any) -> Any:
        return given["scores"]

    @extend_schema_field(fields.DictField(child=LabDifference()))
    def get_readings(self, given: Any) -> Any:
        return given["readings"]


def _test_body(one: Scored) -> dict[str, Any]:
    return {"test": one.test.pk, "specimen": one.test.specimen.code, "side": one.test.specimen.side}


def _difference_body(pair: tuple[float, float], found: Difference, *, of_rigs: bool) -> dict[str, Any]:
    return {
        "first": pair[0],
        "second": pair[1],
        "difference": found.value,
        **covered(found.u, found.df),
        "beyond": found.is_beyond,
        "en": found.en if of_rigs else None,
    }


def comparison_body(comparison: Comparison) -> dict[str, Any]:
    first, second, of_rigs = comparison.first, comparison.second, comparison.is_of_rigs
    return {
        "first": _test_body(first),
        "second": _test_body(second),
        "scores": {
            name: _difference_body((getattr(first.result, name), getattr(second.result, name)), found, of_rigs=of_rigs)
            for name, found in comparison.scores.items()
        },
        "readings": {
            name: _difference_body((getattr(first.test, name), getattr(second.test, name)), found, of_rigs=of_rigs)
            for name, found in comparison.readings.items()
        },
        "shared": list(comparison.shared),
    }


class ShoeCompare(QueryView):
    """Left against right, specimen against specimen."""

    permission = {"GET": "labtests.test:view"}
    query = CompareQuery

    @extend_schema(
        operation_id="lab_shoe_compare",
        responses={200: LabComparison, 409: PROBLEM, **PROBLEMS},
    )
    def get(self, request: Request, slug: str) -> Response:
        """Tell what two tests of a shoe differ by; 409 where there are not two that the current model scored."""
        found = comparing.comparable_tests(shoe_get(slug))
        if not self.asked:
            chosen = comparing.first_choice(found)
            if chosen is None:
                message = "Comparing needs two tests of this shoe that were scored by the current model."
                raise DomainError(message, code="nothing_to_compare", status=409)
            return Response(comparison_body(comparing.compare(*chosen)))
        first, second = (self._chosen(name, found) for name in ("first", "second"))
        if first is second:
            message = "That is the same test; choose another."
            raise DomainError(message, code="bad_query", fields={"second": [message]})
        return Response(comparison_body(comparing.compare(first, second)))

    def _chosen(self, name: str, found: Sequence[Scored]) -> Scored:
        pk = self.asked.get(name)
        chosen = next((one for one in found if one.test.pk == pk), None)
        if chosen is None:
            problem = f"There is no test {pk} of this shoe that can be compared."
            message = f"Give {name} too: two tests are needed." if pk is None else problem
            raise DomainError(message, code="bad_query", fields={name: [message]})
        return chosen
