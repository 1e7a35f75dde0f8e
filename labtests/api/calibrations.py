"""Calibrations and the chambers' climate in the API. The same services as the pages."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers as fields
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from core.domain.errors import DomainError
from core.web.api import PageQuery, PracticePagination, QueryView
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from core.web.strict import Text
from labtests import services
from labtests.api.bench_tests import PROBLEM, PROBLEMS, paged_schema
from labtests.domain.conditions.calibration_fit import CalibrationFit, fit_points
from labtests.domain.conditions.calibrations import Point
from labtests.models import CalibratedQuantity, Calibration, ClimateLog
from labtests.selectors.bench import calibrations as selectors
from labtests.selectors.bench.climate import chamber_get
from labtests.selectors.bench.rigs import rig_get
from labtests.services.bench.climate import MAX_BYTES, UNITS

MOST_POINTS = 100
# What a body repeats of the record as it is.
COPIED = (
    *("quantity", "certificate", "standard_uncertainty", "resolution", "degrees_of_freedom", "laboratory"),
    *("reference_standard", "range_low", "range_high", "zero", "gain", "points"),
)


class LabCalibrationPoint(fields.Serializer[Any]):
    """What the rig showed at a value of the standard, before and after adjustment."""

    reference = fields.FloatField()
    found = fields.FloatField()
    left = fields.FloatField(required=False, default=None, allow_null=True)


class LabCalibrationFit(fields.Serializer[Any]):
    """The line through the errors at the points, as left: zero, gain, their u and correlation, and what is off it."""

    n = fields.IntegerField()
    zero = fields.FloatField()
    gain = fields.FloatField()
    zero_u = fields.FloatField()
    gain_u = fields.FloatField()
    correlation = fields.FloatField()
    non_linearity = fields.FloatField()


class CalibrationInput(fields.Serializer[Any]):
    """What a certificate says, in N, N·m, mm, ° or °C."""

    quantity = fields.ChoiceField(choices=CalibratedQuantity.choices)
    certificate = fields.CharField(max_length=80)
    calibrated_on = fields.DateField(help_text="Not in the future.")
    due_on = fields.DateField(help_text="After the day of the calibration, at most five years.")
    standard_uncertainty = fields.FloatField(help_text="k = 1, greater than 0.")
    resolution = fields.FloatField(min_value=0)
    degrees_of_freedom = fields.FloatField(required=False, default=None, allow_null=True, min_value=1)
    laboratory = fields.CharField(required=False, default="", allow_blank=True, max_length=120)
    reference_standard = fields.CharField(required=False, default="", allow_blank=True, max_length=200)
    range_low = fields.FloatField(required=False, default=None, allow_null=True)
    range_high = fields.FloatField(required=False, default=None, allow_null=True)
    zero = fields.FloatField(required=False, default=None, allow_null=True)
    gain = fields.FloatField(required=False, default=None, allow_null=True, help_text="Close to 1.")
    points = fields.ListField(child=LabCalibrationPoint(), required=False, default=list, max_length=MOST_POINTS)


class LabCalibration(CalibrationInput):
    """A calibration on record. It counts while it is signed, in date and not struck."""

    id = fields.IntegerField()
    rig = fields.CharField()
    recorded_by = fields.CharField(allow_null=True)
    signed = fields.BooleanField()
    signed_by = fields.CharField(allow_null=True)
    has_certificate = fields.BooleanField()
    struck = fields.BooleanField()
    struck_because = fields.CharField(allow_blank=True)
    fit = LabCalibrationFit(allow_null=True, help_text="Null where fewer than three points are on record.")


class CalibrationStrikeInput(fields.Serializer[Any]):
    """Why a calibration is struck."""

    reason = Text(max_length=2000)


class ClimateInput(fields.Serializer[Any]):
    """A logger's file, and how it is read."""

    file = fields.FileField(allow_empty_file=True, help_text="CSV in UTF-8, up to 10 MB.")
    time_zone = fields.CharField(
        required=False, default="", allow_blank=True, max_length=64, help_text="Of times without offset: Europe/Oslo."
    )
    unit = fields.ChoiceField(choices=UNITS, required=False, default="", help_text="Where the column does not say it.")
    dry_run = fields.BooleanField(required=False, default=False)


class LabClimate(fields.Serializer[Any]):
    """What importing a logger's file did, or would do; `id` is null for a dry run."""

    id = fields.IntegerField(allow_null=True)
    chamber = fields.CharField()
    readings = fields.IntegerField()
    first_at = fields.DateTimeField()
    last_at = fields.DateTimeField()
    held = fields.ListField(child=fields.IntegerField(), help_text="Tests that waited for review.")
    doubted = fields.ListField(child=fields.IntegerField(), help_text="Approved tests; their cards are left.")


def calibration_body(calibration: Calibration) -> dict[str, Any]:
    return {
        "id": calibration.pk,
        "rig": calibration.rig.code,
        **{name: getattr(calibration, name) for name in COPIED},
        "calibrated_on": calibration.calibrated_on.isoformat(),
        "due_on": calibration.due_on.isoformat(),
        "recorded_by": calibration.recorded_by.username if calibration.recorded_by else None,
        "signed": calibration.is_signed,
        "signed_by": calibration.signed_by.username if calibration.signed_by else None,
        "has_certificate": bool(calibration.file_key),
        "struck": calibration.is_struck,
        "struck_because": calibration.struck_because,
        "fit": _fit_body(fit_points(calibration.to_domain().points)),
    }


def _fit_body(fit: CalibrationFit | None) -> dict[str, Any] | None:
    if fit is None:
        return None
    names = ("n", "zero", "gain", "zero_u", "gain_u", "correlation", "non_linearity")
    return {name: getattr(fit, name) for name in names}


class RigCalibrations(QueryView):
    """The calibrations of a rig."""

    permission = {"GET": "labtests.rig:view", "POST": "labtests.rig:write"}
    query = PageQuery
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_calibration_list",
        responses={200: paged_schema("LabCalibrationPage", LabCalibration(many=True)), **PROBLEMS},
    )
    def get(self, request: Request, code: str) -> Response:
        """List the calibrations of a rig, the newest of each quantity first, struck ones among them."""
        pagination = PracticePagination()
        rows = selectors.calibration_list(rig_get(code))
        page = pagination.paginate_queryset(rows, request, view=self) or []
        return pagination.get_paginated_response([calibration_body(found) for found in page])

    @extend_schema(
        operation_id="lab_calibration_record",
        request=CalibrationInput,
        responses={201: LabCalibration, **PROBLEMS},
    )
    def post(self, request: Request, code: str) -> Response:
        """Record a calibration. It counts once somebody else has signed it."""
        rig = rig_get(code)
        given = CalibrationInput(data=request.data)
        given.is_valid(raise_exception=True)
        read = {**given.validated_data}
        points = tuple(Point(**point) for point in read.pop("points"))
        calibration = services.calibration_record(actor=actor_of(request), rig=rig, points=points, **read)
        return Response(calibration_body(selectors.calibration_get(calibration.pk)), status=201)


class CalibrationSign(QueryView):
    """The second signature."""

    permission = {"POST": "labtests.calibration:sign"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_calibration_sign",
        request=None,
        responses={200: LabCalibration, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Sign a calibration that somebody else recorded; 409 where it is signed or struck."""
        services.calibration_sign(actor=actor_of(request), calibration=selectors.calibration_get(pk))
        return Response(calibration_body(selectors.calibration_get(pk)))


class CalibrationStrike(QueryView):
    """Taking a wrong calibration out of use."""

    permission = {"POST": "labtests.calibration:strike"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_calibration_strike",
        request=CalibrationStrikeInput,
        responses={200: LabCalibration, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Strike a calibration with a reason; tests that wait for review and depend on it are held."""
        calibration = selectors.calibration_get(pk)
        given = CalibrationStrikeInput(data=request.data)
        given.is_valid(raise_exception=True)
        reason = given.validated_data["reason"]
        services.calibration_strike(actor=actor_of(request), calibration=calibration, reason=reason)
        return Response(calibration_body(selectors.calibration_get(pk)))


class ChamberClimate(QueryView):
    """Loggers' files of a chamber."""

    permission = {"POST": "labtests.conditioning:write"}
    parser_classes = [MultiPartParser]

    @extend_schema(
        operation_id="lab_climate_import",
        request={"multipart/form-data": ClimateInput},
        responses={201: LabClimate, 200: LabClimate, 413: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, code: str) -> Response:
        """Import a logger's file, all of it or nothing: 201; 200 for a dry run, or where it is on record."""
        chamber = chamber_get(code)
        sent = ClimateInput(data=request.data)
        sent.is_valid(raise_exception=True)
        read = sent.validated_data
        if read["file"].size > MAX_BYTES:
            raise DomainError("The file is larger than 10 MB. Send it in several parts.", code="too_large", status=413)
        given = services.ClimateGiven(
            chamber, read["file"].name, bytes(read["file"].read()), read["time_zone"], read["unit"]
        )
        if read["dry_run"]:
            return Response(_dry_run_body(given, services.climate_preview(actor=actor_of(request), given=given)))
        log = services.climate_import(actor=actor_of(request), given=given)
        return Response(_climate_body(log), status=200 if log.is_repeat else 201)


def _dry_run_body(given: services.ClimateGiven, preview: services.ClimatePreview) -> dict[str, Any]:
    table = preview.checked_table()
    return {
        "id": None,
        "chamber": given.chamber.code,
        "readings": table.times.size,
        "first_at": table.first_at.isoformat(),
        "last_at": table.last_at.isoformat(),
        "held": [one.test.pk for one in preview.to_hold],
        "doubted": [one.test.pk for one in preview.in_doubt],
    }


def _climate_body(log: ClimateLog) -> dict[str, Any]:
    return {
        "id": log.pk,
        "chamber": log.chamber.code,
        "readings": log.to_domain().times.size,
        "first_at": log.first_at.isoformat(),
        "last_at": log.last_at.isoformat(),
        "held": log.touched.get("held", []),
        "doubted": log.touched.get("doubted", []),
    }
