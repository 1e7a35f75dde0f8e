"""The read-only API of the catalogue: the pages' selectors, as JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import remove_query_param, replace_query_param

from catalogue import forms, selectors
from catalogue.api.bodies import BandBody, CatalogueProblem, ShoeBody, SimilarBody, StoreBody, WithdrawnBody, paged
from catalogue.api.caching import api_by_revision
from catalogue.api.throttling import VisitorView
from catalogue.forms.api_query import ShoeQuery, asked_filter
from catalogue.selectors import Revision, ShoeRow, Similar
from catalogue.selectors.scales import bands_at
from catalogue.selectors.stores import store_names_at, stores_at
from core.gate.permissions import PUBLIC
from core.web import display
from core.web.api import PracticePagination
from core.web.cautions import cautions
from core.web.query_forms import PageQuery

PAGE_SIZE = PracticePagination.page_size
PAGE_SIZE_MOST = PracticePagination.max_page_size


def shoe_body(shoe: ShoeRow) -> dict[str, Any]:
    """Return a shoe as the API says it."""
    return {
        "slug": shoe.slug,
        "brand": shoe.brand,
        "name": shoe.name,
        "version": shoe.version,
        "use": shoe.use,
        "mass_g": shoe.mass_g,
        "drop_mm": shoe.drop_mm,
        "stack_heel_mm": shoe.stack_heel_mm,
        "scores": {
            name: {
                "value": score.value,
                "expanded_uncertainty": score.expanded_uncertainty,
                "estimated": score.estimated,
            }
            for name, score in shoe.scores().items()
        },
        "band": {
            "order": shoe.band.order,
            "name": shoe.band.name,
            "probability": shoe.band.probability,
            "borderline": shoe.band.borderline,
            "provisional": shoe.band.provisional,
        },
        "specimens": shoe.specimens,
        "tested_on": shoe.tested_on,
        "scoring_model": shoe.scoring_model,
        "stores": [
            {"slug": store.slug, "sizes": [f"EU {display.bare_size(size)}" for size in store.sizes]}
            for store in shoe.stores
        ],
    }


def similar_body(near: Similar) -> dict[str, Any]:
    return {
        **shoe_body(near.shoe),
        "distance": near.distance,
        "differences": [
            {
                "feature": part.feature,
                "here": part.here,
                "there": part.there,
                "difference": part.difference,
                "expanded_uncertainty": part.expanded_u,
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


def page_length(asked: Mapping[str, Any]) -> int:
    return min(asked["page_size"] or PAGE_SIZE, PAGE_SIZE_MOST)


class _Part:
    """Which rows of a list are asked for, and the body around them."""

    def __init__(self, request: Request, count: int, asked: Mapping[str, Any]) -> None:
        self.request, self.count, self.number = request, count, asked["page"] or 1
        self.size = page_length(asked)
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


class ShoeListView(VisitorView):
    """Published shoes, with the filters of the catalogue's page."""

    permission = PUBLIC
    query = ShoeQuery

    @extend_schema(
        auth=[],
        operation_id="catalogue_shoes_list",
        parameters=ShoeQuery.parameters(),
        responses={200: paged("ShoePage", ShoeBody(many=True)), 400: CatalogueProblem, 429: CatalogueProblem},
    )
    @api_by_revision
    def get(self, request: Request, *, revision: Revision) -> Response:
        bands = {band.order: band.name for band in bands_at(revision)}
        wanted = asked_filter(self.asked, forms.Choices(bands, store_names_at(revision)))
        selection = selectors.select_shoes(wanted, revision=revision)
        part = _Part(request, selection.matching, self.asked)
        shoes = selection.read(selection.page(limit=part.size, offset=part.offset))
        return part.answer([shoe_body(shoe) for shoe in shoes])


class ShoeDetailView(VisitorView):
    """One published shoe."""

    permission = PUBLIC

    @extend_schema(
        auth=[],
        operation_id="catalogue_shoe",
        responses={
            200: ShoeBody,
            400: CatalogueProblem,
            404: CatalogueProblem,
            410: WithdrawnBody,
            429: CatalogueProblem,
        },
    )
    @api_by_revision
    def get(self, request: Request, slug: str, *, revision: Revision) -> Response:
        """Return a published shoe; 410 with the date and the reason where it was withdrawn."""
        if withdrawn := _withdrawn(slug, revision):
            return withdrawn
        return Response(shoe_body(selectors.shoe_get(slug)))


class ShoeSimilarView(VisitorView):
    """The published shoes nearest to one in its four scores, mass and drop."""

    permission = PUBLIC
    query = PageQuery

    @extend_schema(
        auth=[],
        operation_id="catalogue_shoe_similar",
        parameters=PageQuery.parameters(),
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
        number, size = self.asked["page"] or 1, page_length(self.asked)
        near = selectors.similar_page(slug, revision=revision, limit=size, offset=(number - 1) * size)
        return _Part(request, near.count, self.asked).answer([similar_body(other) for other in near.shoes])


class BandListView(VisitorView):
    """The scale of bands. Which runner a band suits is common practice, without a published source."""

    permission = PUBLIC
    query = PageQuery

    @extend_schema(
        auth=[],
        operation_id="catalogue_bands_list",
        parameters=PageQuery.parameters(),
        responses={
            200: paged("BandPage", BandBody(many=True), cautions=serializers.ListField(child=serializers.CharField())),
            400: CatalogueProblem,
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
        parameters=PageQuery.parameters(),
        responses={200: paged("StorePage", StoreBody(many=True)), 400: CatalogueProblem, 429: CatalogueProblem},
    )
    @api_by_revision
    def get(self, request: Request, *, revision: Revision) -> Response:
        stores = stores_at(revision)
        part = _Part(request, len(stores), self.asked)
        names = tuple(StoreBody().fields)
        return part.answer([_fields(store, names) for store in stores[part.offset : part.offset + part.size]])
