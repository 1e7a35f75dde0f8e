"""The API of incidents: what taking tests back together touches, and doing it. The same services as the pages."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from core.domain.errors import DomainError
from core.web.api import QueryView
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from labtests import services
from labtests.api import incident_serializers as serializers
from labtests.api.bench_tests import PROBLEM, PROBLEMS
from labtests.models import Rig
from labtests.selectors.bench.incidents import Period, touched_body


class IncidentList(QueryView):
    """Incidents of rigs."""

    permission = {"POST": "labtests.incident:propose"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_incident",
        request=serializers.IncidentInput,
        responses={200: serializers.LabTouched, 201: serializers.LabIncident, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Say what an incident touches (200), or with `dry_run` false carry it out as a reviewer (201).

        409 where no test is touched: there is none in that time, or all are void or in doubt already.
        """
        given = serializers.IncidentInput(data=request.data)
        given.is_valid(raise_exception=True)
        asked, actor = given.validated_data, actor_of(request)
        period = Period(_rig(asked["rig"]), asked["quantity"], asked["from"], asked["to"], asked["effect"])
        if asked["dry_run"]:
            return Response(touched_body(services.incident_preview(actor=actor, period=period)))
        incident = services.incident_record(actor=actor, period=period, reason=asked["reason"])
        return Response(incident.touched | {"id": incident.pk}, status=201)


def _rig(code: str) -> Rig:
    # A NUL never names a rig, and PostgreSQL refuses to be asked.
    rig = None if "\x00" in code else Rig.objects.filter(code=code).first()
    if rig is None:
        message = f"There is no rig {code!r}; use the code of one that is set up."
        raise DomainError(message, code="unknown", fields={"rig": [message]})
    return rig
