"""The audit trail in the API: the entries of the audit page, by the same filters, and one of them. Read only."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers as fields
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from core.domain.errors import DomainError
from core.models import AuditEntry
from core.web.api import PracticePagination
from labtests.api import bodies, serializers
from labtests.api.tests import PAGE_PARAMETERS, PROBLEMS, _paged_schema, _text
from labtests.forms.tests import TrailForm
from labtests.selectors import overview


class LabTrailEntry(serializers.LabAuditEntry):
    """An entry with the record that it is on; `number` is the record's."""

    record = fields.CharField()
    number = fields.CharField()


def _entry_body(entry: AuditEntry) -> dict[str, Any]:
    return bodies.audit_body(entry) | {"record": entry.object_type, "number": entry.object_id}


def _day(name: str, what: str) -> OpenApiParameter:
    return OpenApiParameter(name, OpenApiTypes.DATE, OpenApiParameter.QUERY, description=what)


class AuditList(APIView):
    """The trail of the lab's and the catalogue's records."""

    permission = {"GET": "labtests.audit:view"}

    @extend_schema(
        operation_id="lab_audit",
        parameters=[
            _text("who", "Sign-in name of who did it."),
            _text("action", "Such as labtests.test.approved."),
            _text("record", "Kind of record, such as labtests.benchtest."),
            _text("number", "Number of the record; with `record` the history of one."),
            _day("since", "First day."),
            _day("until", "Last day."),
            *PAGE_PARAMETERS,
        ],
        responses={200: _paged_schema("LabTrailPage", LabTrailEntry(many=True)), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """List entries, newest first, with what each record was before and after. Looking leaves no entry."""
        form = TrailForm(request.query_params)
        if not form.is_valid():
            problems = {name: [str(words) for words in told] for name, told in form.errors.items()}
            words = " ".join(f"{name}: {' '.join(told)}" for name, told in problems.items())
            raise DomainError(words, code="bad_filter", fields=problems)
        pagination = PracticePagination()
        entries: QuerySet[AuditEntry] = overview.trail(form.asked()).order_by("-id")
        page = pagination.paginate_queryset(entries, request, view=self) or []
        return pagination.get_paginated_response([_entry_body(entry) for entry in page])


class AuditDetail(APIView):
    """One entry of the trail."""

    permission = {"GET": "labtests.audit:view"}

    @extend_schema(operation_id="lab_audit_entry", responses={200: LabTrailEntry, **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """Give one entry, by its number in the trail."""
        return Response(_entry_body(overview.trail_entry(pk)))
