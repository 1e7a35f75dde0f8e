"""The audit trail in the API: the entries of the audit page, by the same filters, and one of them. Read only."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers as fields
from rest_framework.request import Request
from rest_framework.response import Response

from core.domain.errors import DomainError
from core.models import AuditEntry
from core.web.api import PracticePagination, QueryView
from labtests.api import bodies, serializers
from labtests.api.bench_tests import PROBLEMS, paged_schema
from labtests.api.queries import TrailQuery
from labtests.selectors.trail import TrailFilter, trail, trail_entry


class LabTrailEntry(serializers.LabAuditEntry):
    """An entry with the record that it is on; `number` is the record's."""

    record = fields.CharField()
    number = fields.CharField()


def _entry_body(entry: AuditEntry) -> dict[str, Any]:
    return bodies.audit_body(entry) | {"record": entry.object_type, "number": entry.object_id}


class AuditList(QueryView):
    """The trail of the lab's and the catalogue's records."""

    permission = {"GET": "labtests.audit:view"}
    query = TrailQuery

    @extend_schema(
        operation_id="lab_audit",
        responses={200: paged_schema("LabTrailPage", LabTrailEntry(many=True)), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """List entries, newest first, with what each record was before and after. Looking leaves no entry."""
        pagination = PracticePagination()
        entries: QuerySet[AuditEntry] = trail(self._asked()).order_by("-id")
        page = pagination.paginate_queryset(entries, request, view=self) or []
        return pagination.get_paginated_response([_entry_body(entry) for entry in page])

    def _asked(self) -> TrailFilter:
        given = {name: value for name, value in self.asked.items() if name in TrailFilter.__slots__}
        since, until = given.get("since"), given.get("until")
        if since and until and since > until:
            message = f"This is before the first day, {since.isoformat()}; give a later day or leave it out."
            raise DomainError(f"until: {message}", code="bad_query", fields={"until": [message]})
        return TrailFilter(**given)


class AuditDetail(QueryView):
    """One entry of the trail."""

    permission = {"GET": "labtests.audit:view"}

    @extend_schema(operation_id="lab_audit_entry", responses={200: LabTrailEntry, **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """Give one entry, by its number in the trail."""
        return Response(_entry_body(trail_entry(pk)))
