"""The API of temperature studies: their tests and coefficients, planning, proposing, adopting, discarding."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers as fields
from rest_framework.request import Request
from rest_framework.response import Response

from core.models import printable
from core.web.api import PageQuery, PracticePagination, QueryView
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from core.web.strict import StrictSerializer
from labtests import services
from labtests.api.bench_tests import PROBLEM, PROBLEMS, paged_schema
from labtests.models import TemperatureState, TemperatureStudy
from labtests.selectors.bench.rigs import rig_get
from labtests.selectors.studies import temperature as selectors

REASON_LENGTH = 2000


class TemperatureInput(StrictSerializer):
    """The plan of a temperature study."""

    title = fields.CharField(max_length=80, validators=[printable])
    rig = fields.CharField(max_length=64)
    specimen = fields.CharField(max_length=64, help_text="Its code; all tests are of this one.")
    begins_on = fields.DateField()
    reason = fields.CharField(max_length=REASON_LENGTH)


class TemperatureReason(StrictSerializer):
    """Why something is done."""

    reason = fields.CharField(max_length=REASON_LENGTH)


class LabTemperatureStudy(fields.Serializer[Any]):
    """A temperature study in a list."""

    id = fields.IntegerField()
    title = fields.CharField()
    rig = fields.CharField()
    specimen = fields.CharField()
    state = fields.ChoiceField(choices=TemperatureState.choices)
    begins_on = fields.DateField()
    ends_on = fields.DateField(allow_null=True)
    reason = fields.CharField()
    planned_by = fields.CharField()
    proposed_by = fields.CharField(allow_null=True)
    decided_by = fields.CharField(allow_null=True)


class LabTemperatureCoefficient(fields.Serializer[Any]):
    """How much a reading changes with the temperature, %/K, with a 95 % interval."""

    percent_k = fields.FloatField()
    u = fields.FloatField()
    low = fields.FloatField()
    high = fields.FloatField()
    n = fields.IntegerField(help_text="Tests.")
    from_c = fields.FloatField()
    to_c = fields.FloatField()


class LabTemperatureTest(fields.Serializer[Any]):
    """A test that counts; readings are null where they were not read."""

    test = fields.IntegerField()
    performed_at = fields.DateTimeField()
    temperature_c = fields.FloatField()
    torque_nm = fields.FloatField(allow_null=True)
    deflection_mm = fields.FloatField(allow_null=True)
    work_j = fields.FloatField(allow_null=True)


class LabTemperatureDetail(LabTemperatureStudy):
    """A temperature study with its tests and what follows from them."""

    tests = LabTemperatureTest(many=True)
    coefficients = fields.DictField(child=LabTemperatureCoefficient(), help_text="torque, deflection, work.")
    problems = fields.DictField(child=fields.CharField(), help_text="By reading, why it has no coefficient.")
    can_be_proposed = fields.BooleanField()


def _name(user: Any) -> str | None:
    return user.username if user else None


def study_body(study: TemperatureStudy) -> dict[str, Any]:
    return {
        "id": study.pk,
        "title": study.title,
        "rig": study.rig.code,
        "specimen": study.specimen.code,
        "state": study.state,
        "begins_on": study.begins_on.isoformat(),
        "ends_on": study.ends_on.isoformat() if study.ends_on else None,
        "reason": study.reason,
        "planned_by": _name(study.planned_by),
        "proposed_by": _name(study.proposed_by),
        "decided_by": _name(study.decided_by),
    }


def detail_body(progress: selectors.TemperatureProgress) -> dict[str, Any]:
    study = progress.study
    names = {"torque": "torque_nm", "deflection": "deflection_mm", "work": "work_j"}
    return {
        **study_body(study),
        "tests": [
            {
                "test": test.test,
                "performed_at": test.performed_at.isoformat(),
                "temperature_c": test.temperature_c,
                **{name: test.values[key] for key, name in names.items()},
            }
            for test in progress.tests
        ],
        "coefficients": study.figures or selectors.fitted_figures(progress),
        "problems": {} if study.figures else dict(progress.problems),
        "can_be_proposed": study.state == TemperatureState.OPEN and progress.can_be_proposed,
    }


def _answer(pk: int, status: int = 200) -> Response:
    progress = selectors.temperature_progress(selectors.temperature_study_get(pk))
    return Response(detail_body(progress), status=status)


class TemperatureList(QueryView):
    """Temperature studies."""

    permission = {"GET": "labtests.study:view", "POST": "labtests.study:write"}
    query = PageQuery
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_temperature_list",
        responses={200: paged_schema("LabTemperaturePage", LabTemperatureStudy(many=True)), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """List temperature studies, newest first."""
        pagination = PracticePagination()
        page = pagination.paginate_queryset(selectors.temperature_studies(), request, view=self) or []
        return pagination.get_paginated_response([study_body(study) for study in page])

    @extend_schema(
        operation_id="lab_temperature_plan",
        request=TemperatureInput,
        responses={201: LabTemperatureDetail, **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Plan a study: one specimen is tested on a rig at several temperatures; its tests are uploaded as usual."""
        given = TemperatureInput(data=request.data)
        given.is_valid(raise_exception=True)
        read = {**given.validated_data, "rig": rig_get(given.validated_data["rig"])}
        study = services.temperature_study_plan(actor=actor_of(request), **read)
        return _answer(study.pk, status=201)


class TemperatureDetail(QueryView):
    """One temperature study."""

    permission = {"GET": "labtests.study:view"}

    @extend_schema(operation_id="lab_temperature", responses={200: LabTemperatureDetail, **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """The tests of a study and the coefficients that follow from them, or those that were proposed."""
        return _answer(pk)


def _carry_out(request: Request, pk: int, service: Callable[..., Any]) -> Response:
    study = selectors.temperature_study_get(pk)
    given = TemperatureReason(data=request.data)
    given.is_valid(raise_exception=True)
    service(actor=actor_of(request), study=study, reason=given.validated_data["reason"])
    return _answer(pk)


_DECISION: dict[str, Any] = {
    "request": TemperatureReason,
    "responses": {200: LabTemperatureDetail, 409: PROBLEM, **PROBLEMS},
}


class TemperaturePropose(QueryView):
    """Proposing the coefficients of a study."""

    permission = {"POST": "labtests.study:write"}
    parser_classes = [PatientJSONParser]

    @extend_schema(operation_id="lab_temperature_propose", **_DECISION)
    def post(self, request: Request, pk: int) -> Response:
        """End the testing and propose the coefficients; 409 while torque and deflection do not have one each."""
        return _carry_out(request, pk, services.temperature_study_propose)


class TemperatureAdopt(QueryView):
    """Adopting proposed coefficients."""

    permission = {"POST": "labtests.study:adopt"}
    parser_classes = [PatientJSONParser]

    @extend_schema(operation_id="lab_temperature_adopt", **_DECISION)
    def post(self, request: Request, pk: int) -> Response:
        """Take proposed coefficients into use for tests from now on; 403 for who proposed them."""
        return _carry_out(request, pk, services.temperature_study_adopt)


class TemperatureDiscard(QueryView):
    """Discarding a study."""

    permission = {"POST": "labtests.study:write"}
    parser_classes = [PatientJSONParser]

    @extend_schema(operation_id="lab_temperature_discard", **_DECISION)
    def post(self, request: Request, pk: int) -> Response:
        """Give a study up that is not in use; it stays readable."""
        return _carry_out(request, pk, services.temperature_study_discard)
