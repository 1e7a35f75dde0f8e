"""The API of shoes that stores ask for: asked by a store, answered by the lab or head office."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from catalogue import permissions as permissions  # registers the actions named below
from catalogue import services
from catalogue.api.bodies import CatalogueProblem, paged
from catalogue.api.saving import own_store
from catalogue.models import NOTE_MAX_LENGTH, REASON_MAX_LENGTH, ShoeWish, WishState
from catalogue.selectors.records.shoe_records import shoes_at
from catalogue.selectors.records.wishes import wish_get, wishes
from core.domain.errors import field_error
from core.web.api import PageQuery, PracticePagination, QueryView
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from core.web.strict import StrictSerializer, Text

ASK, DECIDE = "catalogue.wish:ask", "catalogue.wish:decide"
_PROBLEMS = dict.fromkeys((400, 401, 403, 404, 429), CatalogueProblem)


class WishQuery(PageQuery):
    """Which wishes are listed."""

    state = serializers.ChoiceField(choices=WishState.choices, required=False, help_text="All where left out.")


class WishInput(StrictSerializer):
    """A shoe that is not in the catalogue, in the store's words. Nothing about a customer."""

    brand = Text(max_length=60)
    name = Text(max_length=80, help_text="Name and version.")
    note = Text(max_length=NOTE_MAX_LENGTH, required=False, allow_blank=True, default="")


class WishDoneInput(StrictSerializer):
    """The shoe that is in the catalogue now."""

    shoe = Text(max_length=80, help_text="Short name of the shoe.")


class WishDeclineInput(StrictSerializer):
    """Why a wish is declined; the store is shown it."""

    reason = Text(max_length=REASON_MAX_LENGTH)


class WishBody(serializers.Serializer[Any]):
    """A shoe that a store asked for."""

    id = serializers.IntegerField()
    store = serializers.CharField()
    brand = serializers.CharField()
    name = serializers.CharField()
    note = serializers.CharField(allow_blank=True)
    state = serializers.ChoiceField(choices=WishState.choices)
    asked_by = serializers.CharField()
    asked_at = serializers.DateTimeField()
    shoe = serializers.CharField(allow_null=True, help_text="Once it is in the catalogue.")
    reason = serializers.CharField(allow_blank=True, help_text="Why it was declined.")
    decided_by = serializers.CharField(allow_null=True)
    decided_at = serializers.DateTimeField(allow_null=True)


def wish_body(wish: ShoeWish) -> dict[str, Any]:
    return {
        "id": wish.pk,
        "store": wish.store.slug,
        "brand": wish.brand,
        "name": wish.name,
        "note": wish.note,
        "state": wish.state,
        "asked_by": wish.asked_by.username,
        "asked_at": wish.asked_at.isoformat(),
        "shoe": wish.shoe.slug if wish.shoe else None,
        "reason": wish.reason,
        "decided_by": wish.decided_by.username if wish.decided_by else None,
        "decided_at": wish.decided_at.isoformat() if wish.decided_at else None,
    }


def _wish(pk: int) -> ShoeWish:
    wish = wish_get(pk)
    if wish is None:
        raise Http404("This request for a shoe does not exist.")
    return wish


class _WishListView(QueryView):
    """What the lists of wishes share."""

    query = WishQuery
    parser_classes = (PatientJSONParser,)

    def page_of(self, rows: QuerySet[ShoeWish]) -> Response:
        pagination = PracticePagination()
        page = pagination.paginate_queryset(rows, self.request, view=self) or []
        return pagination.get_paginated_response([wish_body(wish) for wish in page])


class WishListView(_WishListView):
    """The wishes of all stores."""

    permission: ClassVar = {"GET": DECIDE}

    @extend_schema(
        operation_id="catalogue_wishes", responses={200: paged("WishPage", WishBody(many=True)), **_PROBLEMS}
    )
    def get(self, request: Request) -> Response:
        """List the shoes that stores asked for, newest first."""
        return self.page_of(wishes(self.asked.get("state", "")))


class StoreWishView(_WishListView):
    """The wishes of one store."""

    permission: ClassVar = {"GET": ASK, "POST": ASK}

    @extend_schema(
        operation_id="catalogue_store_wishes",
        responses={200: paged("StoreWishPage", WishBody(many=True)), **_PROBLEMS},
    )
    def get(self, request: Request, slug: str) -> Response:
        """List the shoes that a store of the caller asked for, newest first."""
        store = own_store(request, slug, ASK)
        return self.page_of(wishes(self.asked.get("state", "")).filter(store=store))

    @extend_schema(
        operation_id="catalogue_wish_ask",
        request=WishInput,
        responses={201: WishBody, 409: CatalogueProblem, **_PROBLEMS},
    )
    def post(self, request: Request, slug: str) -> Response:
        """Ask for a shoe; 409 while the store asks for the same already."""
        store = own_store(request, slug, ASK)
        given = WishInput(data=request.data)
        given.is_valid(raise_exception=True)
        wish = services.wish_ask(actor=actor_of(request), store=store, **given.validated_data)
        return Response(wish_body(_wish(wish.pk)), status=201)


class WishDetailView(QueryView):
    """One wish."""

    permission: ClassVar = {"GET": DECIDE}

    @extend_schema(operation_id="catalogue_wish", responses={200: WishBody, **_PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        return Response(wish_body(_wish(pk)))


class WishDoneView(QueryView):
    """Answering a wish with a shoe."""

    permission: ClassVar = {"POST": DECIDE}
    parser_classes = (PatientJSONParser,)

    @extend_schema(
        operation_id="catalogue_wish_done",
        request=WishDoneInput,
        responses={200: WishBody, 409: CatalogueProblem, **_PROBLEMS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Name the shoe that is in the catalogue now; 409 where the wish was already answered."""
        wish, given = _wish(pk), WishDoneInput(data=request.data)
        given.is_valid(raise_exception=True)
        slug = given.validated_data["shoe"]
        shoe = shoes_at([slug]).get(slug)
        if shoe is None:
            raise field_error("shoe", "The catalogue has no such shoe. Add the shoe first, then answer.")
        services.wish_done(actor=actor_of(request), wish=wish, shoe=shoe)
        return Response(wish_body(_wish(pk)))


class WishDeclineView(QueryView):
    """Declining a wish."""

    permission: ClassVar = {"POST": DECIDE}
    parser_classes = (PatientJSONParser,)

    @extend_schema(
        operation_id="catalogue_wish_decline",
        request=WishDeclineInput,
        responses={200: WishBody, 409: CatalogueProblem, **_PROBLEMS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Decline a wish; the store is shown the reason."""
        wish, given = _wish(pk), WishDeclineInput(data=request.data)
        given.is_valid(raise_exception=True)
        services.wish_decline(actor=actor_of(request), wish=wish, reason=given.validated_data["reason"])
        return Response(wish_body(_wish(pk)))
