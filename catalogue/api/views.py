"""The API of the catalogue: the pages' selectors and services, as JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from django.http import HttpResponseBase
from django.urls import reverse
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import remove_query_param, replace_query_param

from catalogue import forms, selectors, services
from catalogue.api.bodies import (
    SHOE_OR_RECORD,
    BandBody,
    CatalogueProblem,
    CurvesBody,
    ShoeBody,
    ShoeRecordBody,
    SimilarBody,
    StoreBody,
    WithdrawnBody,
    paged,
)
from catalogue.api.caching import api_by_revision
from catalogue.api.saving import one_at_a_time, read_body, record_answer
from catalogue.api.shoe_bodies import curves_body, shoe_body
from catalogue.api.shoe_inputs import ShoeChangeInput, ShoeInput, barcodes_in, details_in
from catalogue.api.throttling import VisitorView
from catalogue.forms.api_query import ShoeQuery, SimilarQuery, SizesQuery, asked_filter
from catalogue.forms.query import WEIGHED
from catalogue.selectors import Revision, Similar
from catalogue.selectors.public.curves import curves_of
from catalogue.selectors.public.scales import bands_at
from catalogue.selectors.public.selection import widths_offered
from catalogue.selectors.public.stores import store_names_at, stores_at
from catalogue.selectors.records.shoe_records import current_address, record_at
from core.domain.errors import DomainError
from core.gate.access import PUBLIC, allowed
from core.web.api import PageQuery, PracticePagination
from core.web.cautions import cautions
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of

PAGE_SIZE = PracticePagination.page_size


def similar_body(near: Similar, sizes: str | None = None) -> dict[str, Any]:
    return {
        **shoe_body(near.shoe, sizes=sizes),
        "distance": near.distance,
        "differences": [
            {
                "feature": part.feature,
                "here": part.here,
                "there": part.there,
                "difference": part.difference,
                "expanded_uncertainty": part.expanded_u,
                "coverage_factor": part.coverage_factor,
                "degrees_of_freedom": part.degrees_of_freedom,
                "verdict": part.verdict,
            }
            for part in near.differences
        ],
    }


def _fields(row: Any, names: Sequence[str]) -> dict[str, Any]:
    return {name: getattr(row, name) for name in names}


def _withdrawn(slug: str, revision: Revision) -> Response | None:
    """Return the answer for a shoe that was withdrawn; None for any other, without a query for a published one."""
    found = None if slug in selectors.columns_at(revision).rows else selectors.withdrawn_get(slug)
    if found is None:
        return None
    return Response({"state": "withdrawn", "since": found.since.isoformat(), "reason": found.reason}, status=410)


class _Part:
    """Which rows of a list are asked for, and the body around them."""

    def __init__(self, request: Request, count: int, asked: Mapping[str, Any]) -> None:
        self.request, self.count = request, count
        self.number: int = asked.get("page", 1)
        self.size: int = asked.get("page_size", PAGE_SIZE)
        self.pages = max(1, -(-count // self.size))
        if self.number > self.pages:
            raise forms.page_beyond(self.number, self.pages)

    @property
    def offset(self) -> int:
        return (self.number - 1) * self.size

    def answer(self, results: Sequence[Mapping[str, Any]], **more: Any) -> Response:
        body = {"count": self.count, "next": None, "previous": None, "results": results, **more}
        here = self.request.build_absolute_uri()
        if self.number < self.pages:
            body["next"] = replace_query_param(here, "page", self.number + 1)
        if self.number == 2:
            body["previous"] = remove_query_param(here, "page")
        elif self.number > 2:
            body["previous"] = replace_query_param(here, "page", self.number - 1)
        return Response(body)


WRITE = "catalogue.shoe:write"
_WRITE_PROBLEMS = dict.fromkeys((400, 401, 403, 404, 409), CatalogueProblem)


_MEANT = serializers.CharField(
    required=False, help_text="Where no shoe has the words of q: words that were probably meant, which some shoe has."
)


class ShoeListView(VisitorView):
    """Published shoes, with the filters of the catalogue's page; the lab and head office add shoes."""

    permission: ClassVar = {"GET": PUBLIC, "POST": WRITE}
    parser_classes = (PatientJSONParser,)
    query = ShoeQuery

    @extend_schema(
        auth=[],
        operation_id="catalogue_shoes_list",
        responses={
            200: paged("ShoePage", ShoeBody(many=True), did_you_mean=_MEANT),
            400: CatalogueProblem,
            404: CatalogueProblem,
            429: CatalogueProblem,
        },
    )
    @api_by_revision
    def get(self, request: Request, *, revision: Revision) -> Response:
        bands = {band.order: band.name for band in bands_at(revision)}
        widths = widths_offered(selectors.columns_at(revision))
        wanted = asked_filter(self.asked, forms.Choices(bands, store_names_at(revision), widths))
        selection = selectors.select_shoes(wanted, revision=revision)
        part = _Part(request, selection.matching, self.asked)
        shoes = selection.read(selection.page(limit=part.size, offset=part.offset))
        meant = selectors.did_you_mean(wanted.q, revision=revision) if wanted.q and not shoes else None
        more = {"did_you_mean": meant} if meant else {}
        return part.answer(
            [shoe_body(shoe, sizes=self.asked.get("sizes"), store=wanted.store) for shoe in shoes], **more
        )

    @extend_schema(
        operation_id="catalogue_shoe_add",
        request=ShoeInput,
        responses={201: ShoeRecordBody, **_WRITE_PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Add a shoe as a draft."""
        given = read_body(ShoeInput, request)
        with one_at_a_time():
            shoe = services.shoe_create(actor=actor_of(request), barcodes=barcodes_in(given) or (), **details_in(given))
        return record_answer(shoe.slug, status=201)


class ShoeDetailView(VisitorView):
    """One published shoe. The lab and head office may read any shoe, and correct it."""

    permission: ClassVar = {"GET": PUBLIC, "PATCH": WRITE}
    parser_classes = (PatientJSONParser,)
    query = SizesQuery

    @extend_schema(
        auth=[],
        operation_id="catalogue_shoe",
        responses={
            200: SHOE_OR_RECORD,
            301: OpenApiResponse(description="The shoe has another address now: Location."),
            400: CatalogueProblem,
            404: CatalogueProblem,
            410: WithdrawnBody,
            429: CatalogueProblem,
        },
    )
    def get(self, request: Request, slug: str) -> HttpResponseBase:
        try:
            return self._published(request, slug)
        except DomainError as problem:
            if problem.status != 404:
                raise
            return self._unpublished(request, slug, problem)

    @api_by_revision
    def _published(self, request: Request, slug: str, *, revision: Revision) -> Response:
        try:
            return Response(shoe_body(selectors.shoe_get(slug), sizes=self.asked.get("sizes")))
        except DomainError:
            if withdrawn := _withdrawn(slug, revision):
                return withdrawn
            raise

    def _unpublished(self, request: Request, slug: str, problem: DomainError) -> Response:
        """Lead from an earlier address to the present one; show staff what visitors may not see."""
        address = current_address(slug)
        if address is not None and address != slug:
            location = reverse("catalogue-api:shoe-detail", args=[address])
            return Response(status=301, headers={"Location": location})
        if address is None or not allowed(request.user, WRITE):
            raise problem
        return record_answer(slug)

    @extend_schema(
        operation_id="catalogue_shoe_correct",
        request=ShoeChangeInput,
        responses={200: ShoeRecordBody, **_WRITE_PROBLEMS},
    )
    def patch(self, request: Request, slug: str) -> Response:
        """Correct what is stated of a shoe, with a reason.

        An earlier address of the shoe works like its present one, which the answer has in `slug` and in the header
        Content-Location. A duplicate that was merged is refused (409, code `merged`); the error names the shoe to
        correct.
        """
        given = read_body(ShoeChangeInput, request)
        record = record_at(slug)
        with one_at_a_time():
            shoe = services.shoe_correct(
                actor=actor_of(request),
                shoe=record,
                changes=details_in(given),
                reason=given["reason"],
                edition=given.get("edition"),
                barcodes=barcodes_in(given),
            )
        answer = record_answer(shoe.slug)
        answer.headers["Content-Location"] = reverse("catalogue-api:shoe-detail", args=[shoe.slug])
        return answer


class ShoeSimilarView(VisitorView):
    """The published shoes nearest to one in its four scores; stated mass and drop count where `weigh` asks for it."""

    permission = PUBLIC
    query = SimilarQuery

    @extend_schema(
        auth=[],
        operation_id="catalogue_shoe_similar",
        responses={
            200: paged("SimilarShoePage", SimilarBody(many=True)),
            400: CatalogueProblem,
            404: CatalogueProblem,
            410: WithdrawnBody,
            429: CatalogueProblem,
        },
    )
    @api_by_revision
    def get(self, request: Request, slug: str, *, revision: Revision) -> Response:
        if withdrawn := _withdrawn(slug, revision):
            return withdrawn
        number, size = self.asked.get("page", 1), self.asked.get("page_size", PAGE_SIZE)
        weighed = [WEIGHED[word] for word in sorted(self.asked.get("weigh", ()))]
        near = selectors.similar_page(slug, revision=revision, limit=size, offset=(number - 1) * size, weighed=weighed)
        sizes = self.asked.get("sizes")
        return _Part(request, near.count, self.asked).answer([similar_body(other, sizes) for other in near.shoes])


class ShoeCurvesView(VisitorView):
    """How a published shoe behaved on the bench: torque over angle and deflection over force, averaged.

    Least and most are of single recordings. They show how much recordings scatter and are not an uncertainty.
    """

    permission = PUBLIC

    @extend_schema(
        auth=[],
        operation_id="catalogue_shoe_curves",
        responses={200: CurvesBody, 410: WithdrawnBody, **dict.fromkeys((400, 404, 429), CatalogueProblem)},
    )
    @api_by_revision
    def get(self, request: Request, slug: str, *, revision: Revision) -> Response:
        if withdrawn := _withdrawn(slug, revision):
            return withdrawn
        shoe = selectors.shoe_get(slug)
        return Response(curves_body(curves_of([shoe.id]).get(shoe.id, {})))


class BandListView(VisitorView):
    """The scale of bands. Which runner a band suits is common practice, without a published source."""

    permission = PUBLIC
    query = PageQuery

    @extend_schema(
        auth=[],
        operation_id="catalogue_bands_list",
        responses={
            200: paged("BandPage", BandBody(many=True), cautions=serializers.ListField(child=serializers.CharField())),
            400: CatalogueProblem,
            404: CatalogueProblem,
            429: CatalogueProblem,
        },
    )
    @api_by_revision
    def get(self, request: Request, *, revision: Revision) -> Response:
        bands = bands_at(revision)
        part = _Part(request, len(bands), self.asked)
        names = tuple(BandBody().fields)
        shown = [_fields(band, names) for band in bands[part.offset : part.offset + part.size]]
        return part.answer(shown, cautions=list(cautions("method")))


class StoreListView(VisitorView):
    """The stores, and how many published shoes each has in stock."""

    permission = PUBLIC
    query = PageQuery

    @extend_schema(
        auth=[],
        operation_id="catalogue_stores_list",
        responses={
            200: paged("StorePage", StoreBody(many=True)),
            **dict.fromkeys((400, 404, 429), CatalogueProblem),
        },
    )
    @api_by_revision
    def get(self, request: Request, *, revision: Revision) -> Response:
        stores = stores_at(revision)
        part = _Part(request, len(stores), self.asked)
        names = tuple(StoreBody().fields)
        return part.answer([_fields(store, names) for store in stores[part.offset : part.offset + part.size]])
