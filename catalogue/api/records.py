"""The API of brands and of merging, for the lab and head office."""

from __future__ import annotations

from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from catalogue import permissions as permissions  # registers the action named below
from catalogue import services
from catalogue.api.bodies import BrandBody, CatalogueProblem, ShoeRecordBody, paged
from catalogue.api.saving import one_at_a_time, read_body, record_answer
from catalogue.api.shoe_inputs import BrandChangeInput, BrandInput, ShoeMergeInput
from catalogue.models import Brand
from catalogue.selectors.records.shoe_records import brand_get, brand_list, record_at, shoes_at
from core.domain.errors import field_error
from core.domain.quoting import quoted
from core.web.api import PageQuery, PracticePagination, QueryView
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of

WRITE = "catalogue.shoe:write"
_PROBLEMS = dict.fromkeys((400, 401, 403, 404, 429), CatalogueProblem)


def brand_body(brand: Brand) -> dict[str, Any]:
    return {"slug": brand.slug, "name": brand.name}


class BrandListView(QueryView):
    """Brands, which the lab and head office add."""

    permission: ClassVar = {"GET": WRITE, "POST": WRITE}
    parser_classes = (PatientJSONParser,)
    query = PageQuery

    @extend_schema(
        operation_id="catalogue_brands", responses={200: paged("BrandPage", BrandBody(many=True)), **_PROBLEMS}
    )
    def get(self, request: Request) -> Response:
        """List all brands by name, those without shoes too."""
        pagination = PracticePagination()
        page = pagination.paginate_queryset(brand_list(), request, view=self) or []
        return pagination.get_paginated_response([brand_body(brand) for brand in page])

    @extend_schema(
        operation_id="catalogue_brand_add",
        request=BrandInput,
        responses={201: BrandBody, 409: CatalogueProblem, **_PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        given = read_body(BrandInput, request)
        with one_at_a_time():
            brand = services.brand_create(actor=actor_of(request), name=given["name"])
        return Response(brand_body(brand), status=201)


class BrandDetailView(QueryView):
    """One brand."""

    permission: ClassVar = {"GET": WRITE, "PATCH": WRITE}
    parser_classes = (PatientJSONParser,)

    @extend_schema(operation_id="catalogue_brand", responses={200: BrandBody, **_PROBLEMS})
    def get(self, request: Request, slug: str) -> Response:
        return Response(brand_body(brand_get(slug)))

    @extend_schema(
        operation_id="catalogue_brand_correct",
        request=BrandChangeInput,
        responses={200: BrandBody, 409: CatalogueProblem, **_PROBLEMS},
    )
    def patch(self, request: Request, slug: str) -> Response:
        """Correct the name of a brand, with a reason. Its address and those of its shoes stay."""
        brand, given = brand_get(slug), read_body(BrandChangeInput, request)
        with one_at_a_time():
            services.brand_correct(actor=actor_of(request), brand=brand, name=given["name"], reason=given["reason"])
        return Response(brand_body(brand_get(slug)))


class ShoeMergeView(QueryView):
    """Merging a shoe that is in the catalogue twice."""

    permission: ClassVar = {"POST": WRITE}
    parser_classes = (PatientJSONParser,)

    @extend_schema(
        operation_id="catalogue_shoe_merge",
        request=ShoeMergeInput,
        responses={200: ShoeRecordBody, 409: CatalogueProblem, **_PROBLEMS},
    )
    def post(self, request: Request, slug: str) -> Response:
        """Merge this duplicate into another shoe and answer with that one.

        Stock, reservations, barcodes, specimens and links to other versions go to the shoe that stays; the duplicate's
        address leads to it. 409 where the duplicate has published scores or was already merged.
        """
        duplicate, given = record_at(slug), read_body(ShoeMergeInput, request)
        into = shoes_at([given["into"]]).get(given["into"])
        if into is None:
            raise field_error("into", f"There is no shoe {quoted(given['into'])} to merge it into.")
        with one_at_a_time():
            stays = services.shoe_merge(actor=actor_of(request), duplicate=duplicate, into=into, reason=given["reason"])
        return record_answer(stays.slug)
