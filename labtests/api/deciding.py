"""The lab's API: one decision on several tests."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from core.web.api import QueryView
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from labtests import services
from labtests.api import bodies, serializers
from labtests.api.bench_tests import PROBLEMS
from labtests.selectors.bench_tests import bench_tests_chosen


class BenchTestsDecide(QueryView):
    """A reviewer's decision on several tests."""

    permission = {"POST": "labtests.test:review"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_tests_decide",
        request=serializers.DecideInput,
        responses={200: serializers.LabDecisions, **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Decide on tests one by one: a refused one does not stop the others, and its result says why."""
        given = serializers.DecideInput(data=request.data)
        given.is_valid(raise_exception=True)
        numbers = list(dict.fromkeys(given.validated_data["tests"]))
        decision, reason = given.validated_data["decision"], given.validated_data["reason"]
        tests = bench_tests_chosen(numbers)
        decided = {
            one.test.pk: one
            for one in (
                services.bench_tests_decide(actor=actor_of(request), tests=tests, decision=decision, reason=reason)
                if tests
                else ()
            )
        }
        results = [bodies.decided_body(number, decided.get(number)) for number in numbers]
        return Response({"done": sum(one.is_done for one in decided.values()), "results": results})
