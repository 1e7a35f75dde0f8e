"""The lab's API: uploads, tests, reviews, publication. The same services as the pages."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db.models import QuerySet
from django.http import Http404
from drf_spectacular.utils import extend_schema, inline_serializer
from rest_framework import serializers as fields
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from catalogue.models import Shoe
from core.audit import entries_of
from core.domain.errors import DomainError
from core.web.api import PageQuery, PracticePagination, QueryView
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from labtests import permissions as permissions  # registers the actions named below
from labtests import services
from labtests.api import bodies, serializers
from labtests.api.queries import BenchTestQuery
from labtests.selectors.bench_tests import BenchTestFilter, Scales, bench_test_get, bench_test_list, histories_of

PROBLEM = inline_serializer(
    name="LabRequestProblem",
    fields={"detail": fields.CharField(), "code": fields.CharField(), "fields": fields.DictField()},
)
PROBLEMS = dict.fromkeys((400, 401, 403, 404), PROBLEM)
DECISIONS = {
    "approve": services.bench_test_approve,
    "release": services.bench_test_keep_on_record,
    "hold": services.bench_test_hold,
    "clear_doubt": services.bench_test_clear_doubt,
    "void": services.bench_test_void,
}


def paged_schema(name: str, row: fields.BaseSerializer[Any]) -> Any:
    return inline_serializer(
        name=name,
        fields={
            "count": fields.IntegerField(),
            "next": fields.URLField(allow_null=True),
            "previous": fields.URLField(allow_null=True),
            "results": row,
        },
    )


class UploadList(QueryView):
    """Bench files, readings files and ZIPs come in here."""

    permission = {"POST": "labtests.upload:create"}
    parser_classes = [MultiPartParser]

    @extend_schema(
        operation_id="lab_upload",
        request={"multipart/form-data": serializers.UploadInput},
        responses={201: serializers.LabUpload, 200: serializers.LabUpload, 413: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Store an upload: 201 with what became of each file; 200 and the same answer for the same bytes again."""
        file = request.FILES.get("file")
        if file is None:
            message = "Send the file in the multipart field “file”."
            raise DomainError(message, code="no_file", fields={"file": [message]})
        if (file.size or 0) > settings.UPLOAD_MAX_BYTES:
            raise DomainError("The upload is larger than 50 MB.", code="too_large", status=413)
        upload = services.upload_store(actor=actor_of(request), name=file.name or "", data=file.read())
        return Response(bodies.upload_body(upload), status=200 if upload.is_repeat else 201)


class BenchTestList(QueryView):
    """Bench tests."""

    permission = {"GET": "labtests.test:view"}
    query = BenchTestQuery

    @extend_schema(
        operation_id="lab_test_list",
        responses={200: paged_schema("LabTestPage", serializers.LabTest(many=True)), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """List tests, newest first."""
        pagination = PracticePagination()
        tests = pagination.paginate_queryset(bench_test_list(self._asked()), request, view=self) or []
        histories, scales = histories_of(tests), Scales()
        found = [bodies.test_body(test, scales, histories[test.pk]) for test in tests]
        return pagination.get_paginated_response(found)

    def _asked(self) -> BenchTestFilter:
        return BenchTestFilter(
            **{name: value for name, value in self.asked.items() if name in BenchTestFilter.__slots__}
        )


class BenchTestDetail(QueryView):
    """One bench test."""

    permission = {"GET": "labtests.test:view"}

    @extend_schema(operation_id="lab_test", responses={200: serializers.LabTest, **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        return Response(_test_body(pk))


def _test_body(pk: int) -> dict[str, Any]:
    test = bench_test_get(pk)
    return bodies.test_body(test, Scales(), histories_of([test])[test.pk])


class BenchTestAudit(QueryView):
    """The audit trail of one test."""

    permission = {"GET": "labtests.audit:view"}
    query = PageQuery

    @extend_schema(
        operation_id="lab_test_audit",
        responses={200: paged_schema("LabAuditPage", serializers.LabAuditEntry(many=True)), **PROBLEMS},
    )
    def get(self, request: Request, pk: int) -> Response:
        """List the entries on a test, newest first, with what it was before and after each."""
        pagination = PracticePagination()
        entries: QuerySet[Any] = entries_of(bench_test_get(pk)).order_by("-id")
        page = pagination.paginate_queryset(entries, request, view=self) or []
        return pagination.get_paginated_response([bodies.audit_body(entry) for entry in page])


class BenchTestReview(QueryView):
    """A reviewer's decision on a test."""

    permission = {"POST": "labtests.test:review"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_test_review",
        request=serializers.ReviewInput,
        responses={200: serializers.LabTest, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Approve, release, hold or void a test: never one's own, and 409 where somebody was faster."""
        test = bench_test_get(pk)
        given = serializers.ReviewInput(data=request.data)
        given.is_valid(raise_exception=True)
        decide = DECISIONS[given.validated_data["decision"]]
        decide(actor=actor_of(request), test=test, reason=given.validated_data["reason"])
        return Response(_test_body(pk))


class ShoePublish(QueryView):
    """Publication of a shoe's scores."""

    permission = {"POST": "labtests.shoe:publish"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_shoe_publish",
        request=serializers.PublishInput,
        responses={200: serializers.LabCard, 409: serializers.LabRefusal, **PROBLEMS},
    )
    def post(self, request: Request, slug: str) -> Response:
        """Publish the mean over a shoe's approved specimens; 409 with the reasons where it may not be published."""
        shoe = Shoe.objects.filter(slug=slug).first()
        if shoe is None:
            raise Http404
        given = serializers.PublishInput(data=request.data)
        given.is_valid(raise_exception=True)
        try:
            card = services.shoe_publish(actor=actor_of(request), shoe=shoe, reason=given.validated_data["reason"])
        except DomainError as refusal:
            if refusal.code != "not_publishable":
                raise
            reasons = refusal.fields["reasons"]
            return Response({"detail": refusal.message, "code": refusal.code, "reasons": reasons}, status=409)
        return Response(bodies.card_body(card))
