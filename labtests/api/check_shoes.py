"""The API of checks, studies, comparisons and wear. The same services and selectors as the pages."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from core.domain.errors import DomainError
from core.domain.quoting import quoted
from core.web.api import PageQuery, PracticePagination, QueryView
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from labtests import services
from labtests.api import check_bodies as bodies
from labtests.api import check_serializers as serializers
from labtests.api.bench_tests import PROBLEM, PROBLEMS, paged_schema
from labtests.api.queries import PrecisionQuery, StudyQuery, WearQuery
from labtests.domain.studies.agreement import Agreement
from labtests.domain.studies.gauge import gauge_study
from labtests.domain.studies.interlab import precision as precision_of
from labtests.forms.quantities import WORN
from labtests.presentation.studies.studies import readings_of
from labtests.presentation.studies.wear import wear_sheet
from labtests.selectors.bench.rigs import rig_get
from labtests.selectors.scores import methods
from labtests.selectors.studies import check_shoes, precision, studies, wear
from labtests.selectors.studies.agreement import agreements_of


def _check_body(code: str) -> dict[str, Any]:
    rig = rig_get(code)
    duty = check_shoes.duty_current(rig)
    status = check_shoes.statuses([rig], timezone.localdate())[0]
    charts = check_shoes.check_series(duty) if duty else ()
    alarms = list(check_shoes.alarms_of(duty)) if duty else []
    return bodies.check_body(status, duty, charts, alarms, check_shoes.doubts_of([rig]).get(rig.pk))


class RigCheck(QueryView):
    """The check shoe of a rig: its charts, alarms, days without a check."""

    permission = {"GET": "labtests.check:view", "POST": "labtests.check:write"}
    parser_classes = [PatientJSONParser]

    @extend_schema(operation_id="lab_rig_check", responses={200: serializers.LabCheck, **PROBLEMS})
    def get(self, request: Request, code: str) -> Response:
        return Response(_check_body(code))

    @extend_schema(
        operation_id="lab_rig_check_designate",
        request=serializers.DesignateInput,
        responses={201: serializers.LabCheck, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, code: str) -> Response:
        """Designate a check shoe; 409 while another is on duty."""
        rig = rig_get(code)
        given = serializers.DesignateInput(data=request.data)
        given.is_valid(raise_exception=True)
        specimen = studies.specimen_named(given.validated_data["specimen"])
        if specimen is None:
            message = f"there is no specimen {quoted(given.validated_data['specimen'])}"
            raise DomainError(message, code="unknown", fields={"specimen": [message]})
        services.check_shoe_designate(
            actor=actor_of(request),
            rig=rig,
            specimen=specimen,
            since=given.validated_data["since"],
            reason=given.validated_data["reason"],
        )
        return Response(_check_body(code), status=201)


class RigCheckRetire(QueryView):
    """Taking a check shoe off duty."""

    permission = {"POST": "labtests.check:retire"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_rig_check_retire",
        request=serializers.ReasonInput,
        responses={200: serializers.LabCheck, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, code: str) -> Response:
        """Retire the check shoe; 409 where none is on duty."""
        rig = rig_get(code)
        given = serializers.ReasonInput(data=request.data)
        given.is_valid(raise_exception=True)
        duty = check_shoes.duty_current(rig)
        if duty is None:
            raise DomainError(f"Rig {rig.code} has no check shoe on duty.", code="none", status=409)
        services.check_shoe_retire(actor=actor_of(request), duty=duty, reason=given.validated_data["reason"])
        return Response(_check_body(code))


class RigClear(QueryView):
    """Clearing a stopped rig."""

    permission = {"POST": "labtests.rig:clear"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_rig_clear",
        request=serializers.ReasonInput,
        responses={200: serializers.LabCheck, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, code: str) -> Response:
        """Clear a rig for publishing; it answers stopped again where its chart is still out of control."""
        rig = rig_get(code)
        given = serializers.ReasonInput(data=request.data)
        given.is_valid(raise_exception=True)
        services.rig_clear(actor=actor_of(request), rig=rig, reason=given.validated_data["reason"])
        return Response(_check_body(code))


class StudyList(QueryView):
    """Gauge studies."""

    permission = {"GET": "labtests.study:view", "POST": "labtests.study:write"}
    query = PageQuery
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_study_list",
        responses={200: paged_schema("LabStudyPage", serializers.LabStudy(many=True)), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """List studies, newest first."""
        pagination = PracticePagination()
        page = pagination.paginate_queryset(studies.study_list(), request, view=self) or []
        return pagination.get_paginated_response([bodies.study_body(study) for study in page])

    @extend_schema(
        operation_id="lab_study_plan",
        request=serializers.StudyInput,
        responses={201: serializers.LabStudyDetail, **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Plan a study: every operator is to test every specimen `trials` times."""
        given = serializers.StudyInput(data=request.data)
        given.is_valid(raise_exception=True)
        plan = dict(given.validated_data)
        study = services.gauge_study_plan(actor=actor_of(request), **{**plan, "rig": rig_get(plan["rig"])})
        return Response(_study_body(study.pk, "torque"), status=201)


class StudyDetail(QueryView):
    """One gauge study."""

    permission = {"GET": "labtests.study:view"}
    query = StudyQuery

    @extend_schema(operation_id="lab_study", responses={200: serializers.LabStudyDetail, **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """Tests of a study and, once every cell is full, the crossed analysis of variance."""
        return Response(_study_body(pk, self.asked.get("quantity", "torque")))


def _study_body(pk: int, quantity: str) -> dict[str, Any]:
    progress = studies.study_progress(studies.study_get(pk))
    analysis, problem = None, ""
    if progress.is_complete:
        rows = readings_of(progress, quantity)
        try:
            analysis = gauge_study(
                [row.part for row in rows], [row.operator for row in rows], [row.value for row in rows]
            )
        except ValueError as refused:
            problem = str(refused)
    return bodies.study_detail_body(progress, quantity, analysis, problem)


class PrecisionDetail(QueryView):
    """Rigs compared over the same specimens."""

    permission = {"GET": "labtests.study:view"}
    query = PrecisionQuery

    @extend_schema(
        operation_id="lab_precision",
        responses={200: serializers.LabPrecision, **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """Repeatability and reproducibility after ISO 5725-2, specimen by specimen."""
        shared = list(precision.shared_specimens())
        codes = self._specimens([each.code for each in shared]) or precision.widest(shared)
        quantity, days = self.asked.get("quantity", "torque"), (self.asked.get("begins_on"), self.asked.get("ends_on"))
        levels = precision.levels_of(codes, quantity, since=days[0], until=days[1])
        judged = agreements_of(codes, quantity, since=days[0], until=days[1])
        bodies_of_levels = [
            _level_body(level, judged[level.name].pairs if level.name in judged else ()) for level in levels
        ]
        return Response({"quantity": quantity, "levels": bodies_of_levels})

    def _specimens(self, shared: list[str]) -> list[str]:
        asked: list[str] = self.asked.get("specimen", [])
        unknown = [code for code in asked if code not in shared]
        if unknown:
            message = f"{unknown[0]} was not tested on two rigs; compared can be {', '.join(shared) or 'none yet'}."
            raise DomainError(message, code="bad_query", fields={"specimen": [message]})
        return asked


def _level_body(level: precision.Level, pairs: Sequence[Agreement]) -> dict[str, Any]:
    try:
        return bodies.level_body(level.name, precision_of(level.results), "", pairs)
    except ValueError as problem:
        return bodies.level_body(level.name, None, str(problem), pairs)


class SpecimenWear(QueryView):
    """The wear series of a specimen."""

    permission = {"GET": "labtests.study:view"}
    query = WearQuery

    @extend_schema(operation_id="lab_specimen_wear", responses={200: serializers.LabWear, **PROBLEMS})
    def get(self, request: Request, code: str) -> Response:
        """Readings by distance, the fitted trend, and when it leaves the band of the stability score."""
        quantity = self.asked.get("quantity", "stability")
        specimen = wear.specimen_get(code)
        points = wear.wear_points(specimen)
        bands = methods.bands_of(methods.scoring_model_current().scale)
        sheet = wear_sheet(points, WORN[quantity], bands, "metric")
        band = sheet.band.name if sheet.band else None
        return Response(bodies.wear_body(specimen.code, quantity, points, sheet.trend, band))
