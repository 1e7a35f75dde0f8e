"""The API of scoring models: which there are, what adopting one would do, and adopting it."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers as fields
from rest_framework.request import Request
from rest_framework.response import Response

from core.domain.errors import DomainError
from core.web.api import PageQuery, PracticePagination, QueryView
from core.web.cautions import cautions
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from core.web.strict import Text
from labtests import services
from labtests.api.bench_tests import PROBLEM, PROBLEMS, paged_schema
from labtests.domain.scores.model_rules import NUMBERS
from labtests.models import Adoption, DraftState
from labtests.selectors.scores import scoring_models as selectors
from labtests.selectors.scores.rescoring import DryRun, ShoeChange


class LabModelBand(fields.Serializer[Any]):
    """A band of a model's scale; `lower` is included, `upper` is not, null where open."""

    order = fields.IntegerField()
    name = fields.CharField()
    lower = fields.FloatField(allow_null=True)
    upper = fields.FloatField(allow_null=True)
    suits = fields.CharField()
    runner_mass_max_kg = fields.FloatField(allow_null=True)


class LabAdoption(fields.Serializer[Any]):
    """A model taken into use."""

    model = fields.CharField()
    previous = fields.CharField()
    by = fields.CharField()
    at = fields.DateTimeField()
    reason = fields.CharField()
    tests = fields.IntegerField(help_text="How many tests were rescored.")
    tests_changed = fields.IntegerField(help_text="How many of them went to another band.")
    shoes = fields.IntegerField(help_text="How many shoes were published again.")
    shoes_changed = fields.IntegerField(help_text="How many of them went to another band.")
    withdrawn = fields.ListField(child=fields.DictField(), help_text="Shoes that left the catalogue, with reasons.")


class LabModel(fields.Serializer[Any]):
    """A scoring model or a draft of one (torque in N·m, deflection in mm, work in J)."""

    version = fields.CharField()
    state = fields.CharField(help_text="current, draft, earlier or discarded.")
    numbers = fields.DictField(child=fields.FloatField(), help_text="Anchors and weights by name.")
    author = fields.CharField(allow_null=True)
    reason = fields.CharField()
    created_at = fields.DateTimeField()
    revision = fields.IntegerField(allow_null=True, help_text="Of a draft: who adopts says which one they saw.")
    adoption = LabAdoption(allow_null=True)


class LabModelDetail(LabModel):
    """A scoring model with its scale."""

    bands = LabModelBand(many=True)


class LabShoeChange(fields.Serializer[Any]):
    """A published shoe before and after; `then` is null where its card can't be made again, for `refusals`."""

    shoe = fields.CharField()
    now = fields.DictField()
    then = fields.DictField(allow_null=True)
    changes_band = fields.BooleanField()
    refusals = fields.ListField(child=fields.CharField())


class LabDryRun(fields.Serializer[Any]):
    """What adopting a draft would do."""

    version = fields.CharField()
    revision = fields.IntegerField()
    tests = fields.IntegerField()
    tests_changed = fields.IntegerField()
    tests_by_band = fields.ListField(
        child=fields.ListField(child=fields.IntegerField()), help_text="Row: band now; column: band then."
    )
    shoes = LabShoeChange(many=True)
    cautions = fields.ListField(child=fields.CharField())


class AdoptInput(fields.Serializer[Any]):
    """An adoption, as it was previewed."""

    revision = fields.IntegerField(min_value=1, help_text="Of the draft that was previewed.")
    reason = Text(max_length=2000)
    withdraw = fields.BooleanField(
        default=False, help_text="Whether shoes whose card can’t be made again may leave the catalogue."
    )


def model_body(view: selectors.ModelView) -> dict[str, Any]:
    source = view.numbers
    return {
        "version": view.version,
        "state": view.state,
        "numbers": {name: getattr(source, name) for name in NUMBERS},
        "author": source.author.username if source.author else None,
        "reason": source.reason,
        "created_at": source.created_at.isoformat(),
        "revision": view.draft.revision if view.draft else None,
        "adoption": adoption_body(view.adoption, view.version) if view.adoption else None,
    }


def adoption_body(adoption: Adoption, version: str) -> dict[str, Any]:
    return {
        "model": version,
        "previous": adoption.previous.version,
        "by": adoption.by.username,
        "at": adoption.at.isoformat(),
        "reason": adoption.reason,
        "tests": adoption.tests,
        "tests_changed": adoption.tests_changed,
        "shoes": adoption.cards,
        "shoes_changed": adoption.cards_changed,
        "withdrawn": adoption.withdrawn,
    }


def dry_run_body(version: str, revision: int, run: DryRun) -> dict[str, Any]:
    return {
        "version": version,
        "revision": revision,
        "tests": len(run.tests),
        "tests_changed": run.rescored.changes.changed,
        "tests_by_band": run.rescored.changes.counts.tolist(),
        "shoes": [_shoe_body(shoe) for shoe in run.shoes],
        "cautions": list(cautions("score")),
    }


def _shoe_body(shoe: ShoeChange) -> dict[str, Any]:
    now, then = shoe.now, shoe.then
    return {
        "shoe": now.slug,
        "now": {"stability": now.stability, "band": {"order": now.band, "name": now.band_name}},
        "then": then
        and {
            "stability": then.values["stability"],
            "band": {"order": then.band, "name": then.band_name, "probability": then.probability},
        },
        "changes_band": shoe.changes_band,
        "refusals": list(shoe.refusals),
    }


class ModelList(QueryView):
    """Scoring models."""

    permission = {"GET": "labtests.model:view"}
    query = PageQuery

    @extend_schema(
        operation_id="lab_model_list",
        responses={200: paged_schema("LabModelPage", LabModel(many=True)), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """List the model in use, drafts, earlier models and discarded drafts."""
        pagination = PracticePagination()
        views: Any = selectors.model_list()
        page: list[Any] = pagination.paginate_queryset(views, request, view=self) or []
        return pagination.get_paginated_response([model_body(view) for view in page])


class ModelDetail(QueryView):
    """One scoring model or draft."""

    permission = {"GET": "labtests.model:view"}

    @extend_schema(operation_id="lab_model", responses={200: LabModelDetail, **PROBLEMS})
    def get(self, request: Request, version: str) -> Response:
        view = selectors.model_get(version)
        return Response({**model_body(view), "bands": selectors.band_texts(view)})


class ModelDryRun(QueryView):
    """What adopting a draft would do."""

    permission = {"GET": "labtests.model:view"}

    @extend_schema(operation_id="lab_model_dry_run", responses={200: LabDryRun, 409: PROBLEM, **PROBLEMS})
    def get(self, request: Request, version: str) -> Response:
        """Rescore every test and every published shoe by a draft, without writing anything."""
        draft = selectors.draft_get(version)
        if draft.state != DraftState.OPEN:
            message = f"{version} is not an open draft; only a draft has a dry run."
            raise DomainError(message, code="not_a_draft", status=409)
        return Response(dry_run_body(version, draft.revision, services.draft_dry_run(draft)))


class ModelAdopt(QueryView):
    """Adoption of a draft."""

    permission = {"POST": "labtests.model:adopt"}
    parser_classes = [PatientJSONParser]

    @extend_schema(
        operation_id="lab_model_adopt",
        request=AdoptInput,
        responses={200: LabAdoption, 201: LabAdoption, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, version: str) -> Response:
        """Take a draft into use: 201; 200 and the same answer when sent again.

        403 with the code own_draft for its author. 409 with already_adopted where somebody was faster, draft_changed,
        stale_draft, discarded, or cards_would_go with the shoes that would leave the catalogue.
        """
        draft = selectors.draft_get(version)
        given = AdoptInput(data=request.data)
        given.is_valid(raise_exception=True)
        adoption = services.model_adopt(actor=actor_of(request), draft=draft, **given.validated_data)
        return Response(adoption_body(adoption, version), status=200 if adoption.is_repeat else 201)
