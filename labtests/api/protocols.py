"""The API of protocols: which there are, drafting one, what adopting it would hold, adopting, discarding."""

from __future__ import annotations

from typing import Any

from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers as fields
from rest_framework.request import Request
from rest_framework.response import Response

from core.web.api import PageQuery, PracticePagination, QueryView
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from core.web.strict import StrictSerializer
from labtests import services
from labtests.api.bench_tests import PROBLEM, PROBLEMS, paged_schema
from labtests.domain.scores.protocol import WORDS, Limit
from labtests.models import CalibratedQuantity, ProtocolDraft
from labtests.models.adoptions import version_shape
from labtests.models.methods import VERSION_LENGTH
from labtests.selectors.scores import protocols as selectors
from labtests.services import ProtocolGiven

REASON_LENGTH = 2000


class LimitInput(StrictSerializer):
    """A condition: its nominal value and the accepted range, null where that is open."""

    nominal = fields.FloatField()
    low = fields.FloatField(allow_null=True)
    high = fields.FloatField(allow_null=True)


class ProtocolNumbersInput(StrictSerializer):
    """What a protocol is to say; 400 names each number that can't be."""

    conditioned_h = LimitInput()
    temperature_c = LimitInput()
    heel_clamp_n = LimitInput()
    forefoot_clamp_n = LimitInput()
    torsion_deg = fields.FloatField()
    compression_n = fields.FloatField()
    repeats_wanted = fields.IntegerField(help_text="A test with fewer is held.")
    calibrations = fields.ListField(
        child=fields.ChoiceField(choices=CalibratedQuantity.choices),
        help_text="What must be in calibration.",
    )
    reason = fields.CharField(max_length=REASON_LENGTH)


class ProtocolInput(ProtocolNumbersInput):
    """A draft to begin."""

    version = fields.CharField(
        max_length=VERSION_LENGTH, validators=[version_shape], help_text="409 for one that is taken."
    )


class ProtocolChangeInput(ProtocolNumbersInput):
    """A draft as its author changes it."""

    revision = fields.IntegerField(min_value=1, help_text="Of the draft that was read; 409 where it has another.")


class ProtocolAdoptInput(StrictSerializer):
    """An adoption, as it was previewed."""

    revision = fields.IntegerField(min_value=1)
    reason = fields.CharField(max_length=REASON_LENGTH)
    withdraw = fields.BooleanField(default=False, help_text="Whether the shoes of the dry run may leave the catalogue.")


class ProtocolReason(StrictSerializer):
    """Why something is done."""

    reason = fields.CharField(max_length=REASON_LENGTH)


class LabProtocol(fields.Serializer[Any]):
    """A protocol or a draft of one."""

    version = fields.CharField()
    state = fields.CharField(help_text="current, draft, earlier or discarded.")
    limits = fields.DictField(child=LimitInput(), help_text="By condition: h, °C, N.")
    torsion_deg = fields.FloatField()
    compression_n = fields.FloatField()
    repeats_wanted = fields.IntegerField()
    calibrations = fields.ListField(child=fields.CharField())
    author = fields.CharField(allow_null=True)
    reason = fields.CharField()
    revision = fields.IntegerField(allow_null=True, help_text="Of a draft.")
    adopted_by = fields.CharField(allow_null=True)
    adopted_because = fields.CharField(allow_blank=True)
    withdrawn = fields.ListField(child=fields.CharField(), help_text="Shoes that left the catalogue with it.")


class LabDraftReason(fields.Serializer[Any]):
    """Why a test would be held."""

    code = fields.CharField()
    message = fields.CharField()


class LabWouldHold(fields.Serializer[Any]):
    """A test that a draft would hold."""

    test = fields.IntegerField()
    reasons = LabDraftReason(many=True)


class LabProtocolDryRun(fields.Serializer[Any]):
    """What a draft would do."""

    version = fields.CharField()
    revision = fields.IntegerField()
    judged = fields.IntegerField(help_text="The newest tests that wait or are approved, at most 500.")
    held = LabWouldHold(many=True)
    shoes = fields.ListField(
        child=fields.CharField(), help_text="Shoes that would leave the catalogue until they are tested by the draft."
    )


def protocol_body(view: selectors.ProtocolView) -> dict[str, Any]:
    numbers, draft = view.numbers, view.draft
    return {
        "version": numbers.version,
        "state": view.state,
        "limits": numbers.limits,
        "torsion_deg": numbers.torsion_deg,
        "compression_n": numbers.compression_n,
        "repeats_wanted": numbers.repeats_wanted,
        "calibrations": numbers.calibrations,
        "author": numbers.author.username if numbers.author else None,
        "reason": numbers.reason,
        "revision": draft.revision if draft else None,
        "adopted_by": draft.adopted_by.username if draft and draft.adopted_by else None,
        "adopted_because": draft.adopted_because if draft else "",
        "withdrawn": list(draft.withdrawn) if draft else [],
    }


def _given(read: dict[str, Any]) -> ProtocolGiven:
    limits: dict[str, Any] = {name: Limit(**read[name]) for name in WORDS}
    plain: dict[str, Any] = {name: read[name] for name in ("torsion_deg", "compression_n", "repeats_wanted")}
    return ProtocolGiven(**limits, **plain, calibrations=tuple(read["calibrations"]))


def _draft(version: str) -> ProtocolDraft:
    draft = selectors.protocol_get(version).draft
    if draft is None:
        raise Http404
    return draft


def _read(kind: type[StrictSerializer], request: Request) -> dict[str, Any]:
    given = kind(data=request.data)
    given.is_valid(raise_exception=True)
    return dict(given.validated_data)


def _answer(version: str, status: int = 200) -> Response:
    return Response(protocol_body(selectors.protocol_get(version)), status=status)


class ProtocolList(QueryView):
    """Protocols and their drafts."""

    permission = {"GET": "labtests.protocol:view", "POST": "labtests.protocol:draft"}
    query = PageQuery
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_protocol_list",
        responses={200: paged_schema("LabProtocolPage", LabProtocol(many=True)), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """List the protocol in use, drafts, earlier protocols and discarded drafts."""
        pagination = PracticePagination()
        views: Any = selectors.protocol_list()
        page: list[Any] = pagination.paginate_queryset(views, request, view=self) or []
        return pagination.get_paginated_response([protocol_body(view) for view in page])

    @extend_schema(
        operation_id="lab_protocol_draft", request=ProtocolInput, responses={201: LabProtocol, 409: PROBLEM, **PROBLEMS}
    )
    def post(self, request: Request) -> Response:
        """Begin a draft that is to follow the protocol in use; it has no effect until somebody else adopts it."""
        read = _read(ProtocolInput, request)
        services.protocol_draft_create(
            actor=actor_of(request), version=read["version"], given=_given(read), reason=read["reason"]
        )
        return _answer(read["version"], status=201)


class ProtocolDetail(QueryView):
    """One protocol or draft."""

    permission = {"GET": "labtests.protocol:view", "PUT": "labtests.protocol:draft"}
    parser_classes = [PatientJSONParser]

    @extend_schema(operation_id="lab_protocol", responses={200: LabProtocol, **PROBLEMS})
    def get(self, request: Request, version: str) -> Response:
        return _answer(version)

    @extend_schema(
        operation_id="lab_protocol_change",
        request=ProtocolChangeInput,
        responses={200: LabProtocol, 409: PROBLEM, **PROBLEMS},
    )
    def put(self, request: Request, version: str) -> Response:
        """Change what a draft says; 403 for anybody but its author, 409 where it was changed since or is not open."""
        draft, read = _draft(version), _read(ProtocolChangeInput, request)
        services.protocol_draft_edit(
            actor=actor_of(request), draft=draft, revision=read["revision"], given=_given(read), reason=read["reason"]
        )
        return _answer(version)


class ProtocolDryRun(QueryView):
    """What adopting a draft would do."""

    permission = {"GET": "labtests.protocol:view"}

    @extend_schema(operation_id="lab_protocol_dry_run", responses={200: LabProtocolDryRun, **PROBLEMS})
    def get(self, request: Request, version: str) -> Response:
        """Judge the newest tests by a draft, without writing anything."""
        draft = _draft(version)
        run = selectors.protocol_dry_run(draft)
        held = [
            {
                "test": one.test.pk,
                "reasons": [{"code": reason.code, "message": reason.message} for reason in one.reasons],
            }
            for one in run.held
        ]
        shoes = [card.shoe.slug for card in run.cards]
        body = {"version": version, "revision": draft.revision, "judged": run.judged, "held": held, "shoes": shoes}
        return Response(body)


class ProtocolAdopt(QueryView):
    """Adoption of a draft."""

    permission = {"POST": "labtests.protocol:adopt"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_protocol_adopt",
        request=ProtocolAdoptInput,
        responses={200: LabProtocol, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, version: str) -> Response:
        """Take a draft into use; tests on record keep their protocol.

        403 for its author. 409 with draft_changed, stale_draft, not_open, or cards_would_go with the shoes that would
        leave the catalogue.
        """
        draft, read = _draft(version), _read(ProtocolAdoptInput, request)
        services.protocol_adopt(actor=actor_of(request), draft=draft, **read)
        return _answer(version)


class ProtocolDiscard(QueryView):
    """Discarding a draft."""

    permission = {"POST": "labtests.protocol:draft"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_protocol_discard",
        request=ProtocolReason,
        responses={200: LabProtocol, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, version: str) -> Response:
        """Give a draft up; it stays readable. 409 where it is not open."""
        draft, read = _draft(version), _read(ProtocolReason, request)
        services.protocol_draft_discard(actor=actor_of(request), draft=draft, reason=read["reason"])
        return _answer(version)
