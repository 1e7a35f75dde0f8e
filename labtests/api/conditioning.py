"""The bench day and the conditioning log in the API. The same services as the pages."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers as fields
from rest_framework.parsers import FormParser, MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from core.domain.errors import DomainError
from core.domain.quoting import quoted
from core.web.api import PageQuery, PracticePagination, QueryView
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from core.web.strict import Text
from labtests import services
from labtests.api import bodies
from labtests.api.bench_tests import PROBLEM, PROBLEMS, paged_schema
from labtests.api.queries import ConditioningQuery
from labtests.api.serializers import LabHeldReason
from labtests.domain.conditions.conditioning import hours_between
from labtests.models import Chamber, ConditioningEntry
from labtests.models.specimens import Side
from labtests.presentation.bench.bench_day import calibration_words
from labtests.selectors.bench import conditioning
from labtests.selectors.bench.conditioning import InChamber, LogAsked
from labtests.selectors.bench.conditioning_doubts import doubted_approvals
from labtests.selectors.bench.rigs import rig_states

PARSERS = [PatientJSONParser, FormParser, MultiPartParser]


class LabChamber(fields.Serializer[Any]):
    """A chamber and how many specimens are in it."""

    code = fields.CharField(max_length=64)
    name = fields.CharField(max_length=80, required=False, default="", allow_blank=True)
    in_chamber = fields.IntegerField(read_only=True)


class LabConditioningEntry(fields.Serializer[Any]):
    """One stay of a specimen in a chamber."""

    id = fields.IntegerField()
    specimen = fields.CharField()
    shoe = fields.CharField()
    size = fields.CharField()
    side = fields.CharField()
    chamber = fields.CharField()
    in_at = fields.DateTimeField()
    out_at = fields.DateTimeField(allow_null=True)
    hours = fields.FloatField(allow_null=True, help_text="Null while it is there.")
    noted_at = fields.DateTimeField()
    put_in_by = fields.CharField()
    taken_out_by = fields.CharField(allow_null=True)
    note = fields.CharField(allow_blank=True)
    struck = fields.BooleanField()
    struck_because = fields.CharField(allow_blank=True)


class SpecimenInInput(fields.Serializer[Any]):
    """A specimen put into a chamber; shoe, size and side only where it is not on record yet."""

    specimen = fields.CharField(max_length=64)
    chamber = fields.CharField(max_length=64, help_text="Code of a chamber.")
    shoe = fields.CharField(required=False, default="", allow_blank=True, max_length=100)
    size = fields.DecimalField(required=False, allow_null=True, default=None, max_digits=4, decimal_places=1)
    side = fields.ChoiceField(required=False, default="", allow_blank=True, choices=Side.choices)
    in_at = fields.DateTimeField(required=False, allow_null=True, default=None, help_text="Now where left out.")
    out_at = fields.DateTimeField(required=False, allow_null=True, default=None, help_text="For a stay that is over.")
    note = fields.CharField(required=False, default="", allow_blank=True, max_length=300)


class SpecimenOutInput(fields.Serializer[Any]):
    """When a specimen was taken out."""

    out_at = fields.DateTimeField(required=False, allow_null=True, default=None, help_text="Now where left out.")


class StrikeInput(fields.Serializer[Any]):
    """Why an entry is struck."""

    reason = Text(max_length=2000)


class LabInChamber(LabConditioningEntry):
    """A specimen in a chamber on the bench day."""

    hours_so_far = fields.FloatField()
    ready_at = fields.DateTimeField()
    ready = fields.BooleanField()
    tested = fields.IntegerField(allow_null=True, help_text="A test of it since it was put in.")


class LabTakenOut(LabConditioningEntry):
    """A specimen on the bench."""

    test_by = fields.DateTimeField()
    late = fields.BooleanField(help_text="True: it has to be conditioned again.")


class LabHeldTest(fields.Serializer[Any]):
    """A held test and why."""

    test = fields.IntegerField()
    specimen = fields.CharField()
    shoe = fields.CharField()
    reasons = LabHeldReason(many=True)


class LabDoubtedTest(fields.Serializer[Any]):
    """An approved test whose hours of conditioning the log does not bear out; nothing is published of it."""

    test = fields.IntegerField()
    specimen = fields.CharField()
    because = fields.CharField()


class LabCalibrationWarning(fields.Serializer[Any]):
    """A calibration that is due within 30 days, out of date or missing."""

    rig = fields.CharField()
    quantity = fields.CharField()
    due_on = fields.DateField(allow_null=True)
    words = fields.CharField()


class LabBenchDay(fields.Serializer[Any]):
    """The lab's queue."""

    at = fields.DateTimeField()
    required_h = fields.FloatField()
    conditioning = LabInChamber(many=True)
    ready = LabInChamber(many=True)
    taken_out = LabTakenOut(many=True)
    held = LabHeldTest(many=True, help_text="The longest held first; all are in the list of tests.")
    held_count = fields.IntegerField()
    in_doubt = LabDoubtedTest(many=True)
    calibrations = LabCalibrationWarning(many=True)


def entry_body(entry: ConditioningEntry) -> dict[str, Any]:
    specimen = entry.specimen
    return {
        "id": entry.pk,
        "specimen": specimen.code,
        "shoe": specimen.shoe.slug,
        "size": bodies.size_words(specimen.size_eu),
        "side": specimen.side,
        "chamber": entry.chamber.code,
        "in_at": entry.in_at.isoformat(),
        "out_at": entry.out_at.isoformat() if entry.out_at else None,
        "hours": hours_between(entry.in_at, entry.out_at) if entry.out_at else None,
        "noted_at": entry.noted_at.isoformat(),
        "put_in_by": entry.put_in_by.username,
        "taken_out_by": entry.taken_out_by.username if entry.taken_out_by else None,
        "note": entry.note,
        "struck": entry.struck_at is not None,
        "struck_because": entry.struck_because,
    }


def _in_chamber_body(one: InChamber) -> dict[str, Any]:
    return entry_body(one.entry) | {
        "hours_so_far": one.hours,
        "ready_at": one.ready_at.isoformat(),
        "ready": one.is_ready,
        "tested": one.tested,
    }


class BenchDayView(QueryView):
    """What the lab has to do."""

    permission = {"GET": "labtests.bench:view"}

    @extend_schema(operation_id="lab_bench_day", responses={200: LabBenchDay, **PROBLEMS})
    def get(self, request: Request) -> Response:
        """Tell what is conditioning, ready, on the bench or held, and which calibrations need attention."""
        now = timezone.now()
        day = conditioning.bench_day(now)
        taken_out = [
            entry_body(one.entry) | {"test_by": one.test_by.isoformat(), "late": one.is_late} for one in day.taken_out
        ]
        held = [
            {
                "test": test.pk,
                "specimen": test.specimen.code,
                "shoe": test.specimen.shoe.slug,
                "reasons": [{"code": reason["code"], "message": reason["message"]} for reason in test.reasons],
            }
            for test in day.held
        ]
        return Response(
            {
                "at": now.isoformat(),
                "required_h": day.required_h,
                "conditioning": [_in_chamber_body(one) for chamber in day.chambers for one in chamber.conditioning],
                "ready": [_in_chamber_body(one) for chamber in day.chambers for one in chamber.ready],
                "taken_out": taken_out,
                "held": held,
                "held_count": day.n_held,
                "in_doubt": [
                    {"test": doubt.test.pk, "specimen": doubt.test.specimen.code, "because": doubt.because}
                    for doubt in doubted_approvals()
                ],
                "calibrations": _calibrations(),
            }
        )


def _calibrations() -> list[dict[str, Any]]:
    day = timezone.localdate()
    return [
        {
            "rig": state.rig.code,
            "quantity": part.quantity,
            "due_on": part.calibration.due_on.isoformat() if part.calibration else None,
            "words": calibration_words(part, day),
        }
        for state in rig_states(day)
        for part in state.quantities
        if part.state != "in date"
    ]


class ChamberList(QueryView):
    """Conditioning chambers."""

    permission = {"GET": "labtests.conditioning:view", "POST": "labtests.conditioning:write"}
    query = PageQuery
    parser_classes = PARSERS

    @extend_schema(
        operation_id="lab_chamber_list",
        responses={200: paged_schema("LabChamberPage", LabChamber(many=True)), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """List chambers."""
        pagination = PracticePagination()
        page = pagination.paginate_queryset(conditioning.chamber_list(), request, view=self) or []
        return pagination.get_paginated_response([_chamber_body(one, vars(one)["n_in_chamber"]) for one in page])

    @extend_schema(operation_id="lab_chamber_create", request=LabChamber, responses={201: LabChamber, **PROBLEMS})
    def post(self, request: Request) -> Response:
        """Set up a chamber."""
        given = LabChamber(data=request.data)
        given.is_valid(raise_exception=True)
        chamber = services.chamber_create(actor=actor_of(request), **given.validated_data)
        return Response(_chamber_body(chamber, 0), status=201)


def _chamber_body(chamber: Chamber, in_chamber: int) -> dict[str, Any]:
    return {"code": chamber.code, "name": chamber.name, "in_chamber": in_chamber}


class ConditioningList(QueryView):
    """The conditioning log."""

    permission = {"GET": "labtests.conditioning:view", "POST": "labtests.conditioning:write"}
    query = ConditioningQuery
    parser_classes = PARSERS

    @extend_schema(
        operation_id="lab_conditioning_list",
        responses={200: paged_schema("LabConditioningPage", LabConditioningEntry(many=True)), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """List entries, the newest first, struck ones among them."""
        pagination = PracticePagination()
        entries = conditioning.entry_list(self._asked())
        page = pagination.paginate_queryset(entries, request, view=self) or []
        return pagination.get_paginated_response([entry_body(entry) for entry in page])

    @extend_schema(
        operation_id="lab_specimen_in",
        request=SpecimenInInput,
        responses={201: LabConditioningEntry, 200: LabConditioningEntry, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Put a specimen in: 201; 200 where the same was noted a moment before; 409 where it is in one."""
        given = SpecimenInInput(data=request.data)
        given.is_valid(raise_exception=True)
        read = given.validated_data
        chamber = Chamber.objects.filter(code=read["chamber"]).first()
        if chamber is None:
            message = f"There is no chamber {quoted(read['chamber'])}."
            raise DomainError(message, code="unknown_chamber", fields={"chamber": [message]})
        size: Decimal | None = read["size"]
        specimen = services.SpecimenGiven(read["specimen"], shoe=read["shoe"], size_eu=size, side=read["side"])
        times = {name: read[name] for name in ("in_at", "out_at", "note")}
        entry = services.specimen_in(actor=actor_of(request), chamber=chamber, specimen=specimen, **times)
        return _entry_answer(entry, created=not entry.is_repeat)

    def _asked(self) -> LogAsked:
        return LogAsked(**{name: value for name, value in self.asked.items() if name in LogAsked.__slots__})


def _entry_answer(entry: ConditioningEntry, *, created: bool = False) -> Response:
    return Response(entry_body(conditioning.entry_get(entry.pk)), status=201 if created else 200)


class ConditioningOut(QueryView):
    """Taking a specimen out."""

    permission = {"POST": "labtests.conditioning:write"}
    parser_classes = PARSERS

    @extend_schema(
        operation_id="lab_specimen_out",
        request=SpecimenOutInput,
        responses={200: LabConditioningEntry, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Note that a specimen was taken out; 409 where it was already."""
        entry = conditioning.entry_get(pk)
        given = SpecimenOutInput(data=request.data)
        given.is_valid(raise_exception=True)
        services.specimen_out(actor=actor_of(request), entry=entry, out_at=given.validated_data["out_at"])
        return _entry_answer(entry)


class ConditioningStrike(QueryView):
    """Striking a wrong entry."""

    permission = {"POST": "labtests.conditioning:write"}
    parser_classes = PARSERS

    @extend_schema(
        operation_id="lab_conditioning_strike",
        request=StrikeInput,
        responses={200: LabConditioningEntry, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Strike an entry with a reason; tests that wait for review with hours from it are held."""
        entry = conditioning.entry_get(pk)
        given = StrikeInput(data=request.data)
        given.is_valid(raise_exception=True)
        services.conditioning_strike(actor=actor_of(request), entry=entry, reason=given.validated_data["reason"])
        return _entry_answer(entry)
