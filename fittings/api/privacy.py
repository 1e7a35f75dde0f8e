"""The API of what a person may ask for: everything held, the consent withdrawn, everything removed. Own stores only."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema, inline_serializer
from rest_framework import serializers as fields
from rest_framework.request import Request
from rest_framework.response import Response

from core.models import User
from core.web.requests import actor_of
from core.web.strict import Text
from fittings import permissions as permissions  # registers the actions named below
from fittings.api.fittings import CONFLICTS, PROBLEMS, APIView
from fittings.api.strict import StrictSerializer
from fittings.models import Customer
from fittings.selectors.people.people import QUERY_MAX, people_matching
from fittings.selectors.people.personal_data import customers_of
from fittings.services.people import privacy

FOUND_MAX = 50


class AskedInput(StrictSerializer):
    """How it was asked for. A choice, because the trail keeps it for good and may hold nothing personal."""

    reason = fields.ChoiceField(choices=list(privacy.ASKED.items()))


class LookUpInput(StrictSerializer):
    words = Text(max_length=QUERY_MAX)


class CustomerOutput(fields.Serializer[Any]):
    id = fields.IntegerField()
    store = fields.CharField()
    name = fields.CharField()
    email = fields.CharField()
    phone = fields.CharField()


class HeldOutput(fields.Serializer[Any]):
    """Each table with its rows, and what the audit trail says of them."""

    format = fields.CharField()
    store = fields.CharField()
    exported_at = fields.DateTimeField()
    records = fields.DictField(child=fields.ListField(child=fields.DictField()))
    trail = fields.ListField(child=fields.DictField())


_DONE = inline_serializer(name="CustomerRemoved", fields={"id": fields.IntegerField(), "done": fields.CharField()})
_FOUND = inline_serializer(name="CustomersFound", fields={"results": CustomerOutput(many=True)})


class CustomerLookUp(APIView):
    """Customers of the own stores. Asked for in the body: a name in an address would end in logs."""

    permission = "fittings.customer:read"

    @extend_schema(operation_id="customers_look_up", request=LookUpInput, responses={200: _FOUND, **PROBLEMS})
    def post(self, request: Request) -> Response:
        """Find customers by name, e-mail address or telephone number; at most fifty."""
        body = LookUpInput(data=request.data)
        body.is_valid(raise_exception=True)
        rows = people_matching(customers_of(request.user), body.validated_data["words"]).order_by("name", "pk")
        return Response({"results": [_customer_row(row) for row in rows[:FOUND_MAX]]})


def _customer_row(row: Customer) -> dict[str, Any]:
    return {"id": row.pk, "store": row.store.slug, "name": row.name, "email": row.email, "phone": row.phone}


def _asked(request: Request, pk: int) -> tuple[User, Customer, str]:
    """Who asks, for whom, and how it was asked for; a 404 for a customer of another store."""
    customer = get_object_or_404(customers_of(request.user), pk=pk)
    body = AskedInput(data=request.data)
    body.is_valid(raise_exception=True)
    return actor_of(request), customer, body.validated_data["reason"]


def _removed(request: Request, pk: int, act: Callable[..., None], done: str) -> Response:
    actor, customer, reason = _asked(request, pk)
    act(actor=actor, customer=customer, reason=reason)
    return Response({"id": pk, "done": done})


class CustomerExport(APIView):
    """Everything held on a customer."""

    permission = "fittings.customer:export"

    @extend_schema(operation_id="customers_export", request=AskedInput, responses={200: HeldOutput, **CONFLICTS})
    def post(self, request: Request, pk: int) -> Response:
        """Export this person's data; the trail notes that it was. Give it to the person alone."""
        actor, customer, reason = _asked(request, pk)
        answer = Response(privacy.customer_export(actor=actor, customer=customer, reason=reason))
        answer.headers["Cache-Control"] = "no-store"
        return answer


class CustomerWithdrawal(APIView):
    """The end of a customer's consent."""

    permission = "fittings.customer:withdraw"

    @extend_schema(operation_id="customers_withdraw", request=AskedInput, responses={200: _DONE, **CONFLICTS})
    def post(self, request: Request, pk: int) -> Response:
        """Remove what is held for good; that fittings took place stays, without the person."""
        return _removed(request, pk, privacy.customer_withdraw, "withdrawn")


class CustomerErasure(APIView):
    """The removal of a customer."""

    permission = "fittings.customer:erase"

    @extend_schema(operation_id="customers_erase", request=AskedInput, responses={200: _DONE, **CONFLICTS})
    def post(self, request: Request, pk: int) -> Response:
        """Remove the customer with everything held, for good, and from every count."""
        return _removed(request, pk, privacy.customer_erase, "erased")
