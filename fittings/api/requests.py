"""The API of fittings that visitors ask for: sent by anybody, answered by the store."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers as fields
from rest_framework.request import Request
from rest_framework.response import Response

from catalogue.api.throttling import VisitorView
from core.accounts.lockout import lockout_address
from core.domain.errors import DomainError
from core.gate.access import PUBLIC
from core.models import Store
from core.web.api import PageQuery
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from core.web.strict import Flag, Text
from fittings import permissions as permissions  # registers the actions named below
from fittings.api.fittings import CONFLICTS, PROBLEMS, APIView, paged, paged_schema
from fittings.api.strict import StrictSerializer
from fittings.domain.people.consent import REQUEST_CONSENT_TEXT
from fittings.domain.refusals import not_here
from fittings.models import FittingRequest, RequestState
from fittings.models.people.requests import NAME_MAX_LENGTH, REACH_MAX_LENGTH
from fittings.selectors.people.requests import requests_open
from fittings.services.people.requests import RequestedFitting, fitting_request_close, fitting_request_make

ENDED = (RequestState.DONE, RequestState.CLOSED)


class AskInput(StrictSerializer):
    """Who asks for a fitting, how to reach them, on which day. Nothing about health belongs here."""

    store = Text(max_length=80, help_text="The store’s short name.")
    name = Text(max_length=NAME_MAX_LENGTH)
    reach = Text(max_length=REACH_MAX_LENGTH, help_text="An e-mail address, or a telephone number in digits.")
    wish_day = fields.DateField(help_text="From today to 60 days ahead. A day is not booked until the store answers.")
    consent = Flag(help_text=f"true: the person agrees to this: {REQUEST_CONSENT_TEXT}")
    website = Text(
        max_length=200,
        required=False,
        allow_blank=True,
        help_text="Leave this out. It turns away programs that fill in everything.",
    )


class AskedOutput(fields.Serializer[Any]):
    """What was taken, without what was said of the person."""

    store = fields.CharField()
    wish_day = fields.DateField()


class RequestOutput(fields.Serializer[Any]):
    """A request as its store sees it; name and reach are empty once it has ended."""

    id = fields.IntegerField()
    store = fields.CharField()
    name = fields.CharField(allow_blank=True)
    reach = fields.CharField(allow_blank=True)
    wish_day = fields.DateField()
    asked_at = fields.DateTimeField()
    state = fields.ChoiceField(choices=RequestState.choices)


class CloseInput(StrictSerializer):
    state = fields.ChoiceField(choices=[state.value for state in ENDED])


class RequestList(VisitorView):
    """Fittings that visitors asked for."""

    permission = {"GET": "fittings.request:close", "POST": PUBLIC}
    parser_classes = (PatientJSONParser,)
    query = PageQuery

    @extend_schema(
        operation_id="fitting_requests_list",
        responses={200: paged_schema("FittingRequestPage", RequestOutput), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """List what waits for an answer at the own stores, the nearest day first."""
        return paged(request, self, requests_open(request.user), _row)

    @extend_schema(
        auth=[],
        operation_id="fitting_request_ask",
        request=AskInput,
        responses={201: AskedOutput, **dict.fromkeys((400, 403, 404, 429), PROBLEMS[400])},
    )
    def post(self, request: Request) -> Response:
        """Ask a store for a fitting; an address may do so three times a day."""
        body = AskInput(data=request.data)
        body.is_valid(raise_exception=True)
        said = body.validated_data
        # Programs that fill in everything get the same answer, so that nobody learns what gave them away.
        if not said.get("website"):
            asked = RequestedFitting(said["name"], said["reach"], said["wish_day"], said.get("consent") is True)
            address = lockout_address(request._request) or ""
            fitting_request_make(store=_store(said["store"]), asked=asked, address=address)
        return Response({"store": said["store"], "wish_day": said["wish_day"]}, status=201)


class RequestDetail(APIView):
    """One request."""

    permission = "fittings.request:close"

    @extend_schema(
        operation_id="fitting_request_close", request=CloseInput, responses={200: RequestOutput, **CONFLICTS}
    )
    def patch(self, request: Request, pk: int) -> Response:
        """End a request, arranged (`done`) or `closed`; the name and the way to reach the person are deleted."""
        body = CloseInput(data=request.data)
        body.is_valid(raise_exception=True)
        held = requests_open(request.user, ended_too=True).filter(pk=pk).first()
        if held is None:
            raise not_here("request")
        outcome = RequestState(body.validated_data["state"])
        return Response(_row(fitting_request_close(actor=actor_of(request), request=held, outcome=outcome)))


def _store(slug: str) -> Store:
    store = Store.objects.filter(slug=slug).first()
    if store is None:
        message = "This store does not exist. GET /api/catalogue/stores/ lists all stores."
        raise DomainError(message, code="not_found", status=404, fields={"store": [message]})
    return store


def _row(held: FittingRequest) -> dict[str, Any]:
    names = ("name", "reach", "wish_day", "asked_at", "state")
    return {"id": held.pk, "store": held.store.slug, **{name: getattr(held, name) for name in names}}
