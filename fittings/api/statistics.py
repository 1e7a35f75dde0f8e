"""The API of the statistician's export."""

from __future__ import annotations

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.request import Request

from core.web.forms import REASON_MAX_LENGTH
from core.web.requests import actor_of
from core.web.strict import Text
from fittings import permissions as permissions  # registers the actions named below
from fittings.api.fittings import PROBLEMS, APIView
from fittings.api.strict import StrictSerializer
from fittings.presentation.outcomes.statistics import rows_csv, zip_response
from fittings.services.outcomes.statistics import statistics_export


class StatisticsInput(StrictSerializer):
    """Why the rows are needed; recorded in the audit trail."""

    reason = Text(max_length=REASON_MAX_LENGTH)


class StatisticsExportView(APIView):
    """Rows for a statistician: a person and visit, made so coarse that at least five people are alike."""

    permission = "fittings.statistics:export"

    @extend_schema(
        operation_id="statistics_export",
        request=StatisticsInput,
        responses={(200, "application/zip"): OpenApiResponse(OpenApiTypes.BINARY), **PROBLEMS},
    )
    def post(self, request: Request) -> HttpResponse:
        """Make an export: a ZIP file with the rows as CSV and Parquet, a dictionary of the columns, and a summary."""
        body = StatisticsInput(data=request.data)
        body.is_valid(raise_exception=True)
        made = statistics_export(actor=actor_of(request), reason=body.validated_data["reason"], written=rows_csv)
        return zip_response(made.table, made.record.pk)
