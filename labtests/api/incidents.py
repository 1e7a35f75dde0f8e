"""The API of incidents: what taking tests back together touches, and doing it; voiding them takes two people.

The same services as the pages.
"""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from core.domain.errors import DomainError
from core.domain.quoting import quoted
from core.web.api import QueryView
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from labtests import services
from labtests.api import incident_serializers as serializers
from labtests.api.bench_tests import PROBLEM, PROBLEMS
from labtests.models import Incident, IncidentState, Rig
from labtests.selectors.bench.incidents import (
    Period,
    incident_get,
    period_of,
    touched_body,
    touched_by,
    who_may_carry_out,
)

DECISIONS = {"carry_out": services.incident_carry_out, "dismiss": services.incident_dismiss}


class IncidentList(QueryView):
    """Incidents of rigs."""

    permission = {"POST": "labtests.incident:propose"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_incident",
        request=serializers.IncidentInput,
        responses={
            200: serializers.LabTouched,
            201: serializers.LabIncident,
            202: serializers.LabIncidentProposal,
            409: PROBLEM,
            **PROBLEMS,
        },
    )
    def post(self, request: Request) -> Response:
        """Say what an incident touches (200), or with `dry_run` false carry it out (201) or propose it (202).

        A reviewer carries it out; with `propose` anybody of the lab proposes it. To void tests takes two: a reviewer's
        request only proposes it, unless somebody else has proposed the same (rig, quantity and times). 409 where no
        test is touched, because there is none in that time, or all are void or in doubt already; and where the same
        one waits for a reviewer.
        """
        given = serializers.IncidentInput(data=request.data)
        given.is_valid(raise_exception=True)
        asked, actor = given.validated_data, actor_of(request)
        period = Period(_rig(asked["rig"]), asked["quantity"], asked["from"], asked["to"], asked["effect"])
        if asked["dry_run"]:
            return Response(touched_body(services.incident_preview(actor=actor, period=period)))
        act = services.incident_propose if asked["propose"] else services.incident_ask
        incident = act(actor=actor, period=period, reason=asked["reason"])
        if incident.state == IncidentState.PROPOSED:
            return Response(_proposal_body(incident), status=202)
        return Response(incident.touched | {"id": incident.pk}, status=201)


class IncidentDecide(QueryView):
    """A reviewer's decision on a proposed incident."""

    permission = {"POST": "labtests.incident:carry_out"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_incident_decide",
        request=serializers.IncidentDecision,
        responses={200: serializers.LabIncidentDecided, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Carry out a proposed incident, or dismiss it; 409 where somebody was faster.

        Who proposed to void tests does not carry it out (403).
        """
        incident = incident_get(pk)
        given = serializers.IncidentDecision(data=request.data)
        given.is_valid(raise_exception=True)
        decide = DECISIONS[given.validated_data["decision"]]
        decide(actor=actor_of(request), incident=incident, reason=given.validated_data["reason"])
        return Response(_decided_body(pk))


class IncidentWithdraw(QueryView):
    """Taking back a proposal of one's own."""

    permission = {"POST": "labtests.incident:propose"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_incident_withdraw",
        request=serializers.IncidentWithdrawal,
        responses={200: serializers.LabIncidentDecided, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Withdraw an incident that you proposed; it stays on record. 409 where somebody has decided."""
        incident = incident_get(pk)
        given = serializers.IncidentWithdrawal(data=request.data)
        given.is_valid(raise_exception=True)
        services.incident_withdraw(actor=actor_of(request), incident=incident, reason=given.validated_data["reason"])
        return Response(_decided_body(pk))


def _proposal_body(incident: Incident) -> dict[str, Any]:
    touched = touched_by(period_of(incident))
    names = ", ".join(user.username for user in who_may_carry_out(incident, touched.tests))
    who = f"Who can decide: {names}." if names else "No other reviewer can; head office gives that role."
    decider = incident.decider.capitalize()
    detail = f"Incident {incident.pk} is proposed; nothing has changed yet. {decider} carries it out. {who}"
    return touched_body(touched) | {"id": incident.pk, "detail": detail}


def _decided_body(pk: int) -> dict[str, Any]:
    incident = incident_get(pk)
    decided_by = incident.decided_by.username if incident.decided_by else ""
    return {"id": pk, "state": incident.state, "decided_by": decided_by, "reason": incident.decided_because}


def _rig(code: str) -> Rig:
    # A NUL never names a rig, and PostgreSQL refuses to be asked.
    rig = None if "\x00" in code else Rig.objects.filter(code=code).first()
    if rig is None:
        message = f"There is no rig {quoted(code)}; use the code of one that is set up."
        raise DomainError(message, code="unknown", fields={"rig": [message]})
    return rig
