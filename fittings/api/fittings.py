"""The API of the fittings: own stores only."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils import timezone
from drf_spectacular.utils import extend_schema, inline_serializer
from rest_framework import serializers as fields
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView as RestView

from core.models import Store
from core.web.api import PageQuery, PracticePagination, Query, QueryFlag, QueryView, WholeNumber
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from core.web.strict import Text
from fittings import permissions as permissions  # registers the actions named below
from fittings import services
from fittings.api import bodies, serializers
from fittings.api.strict import StrictSerializer
from fittings.domain.fitting.intake import FittingIntake
from fittings.domain.refusals import not_your_store
from fittings.presentation.fitting.cautions import spoken
from fittings.presentation.fitting.clinician import reply_headline
from fittings.selectors.fitting.recommendations import LIMIT_MAX, recommend, request_of_fitting, request_of_intake
from fittings.selectors.fitting.referral import referral_of_fitting, reply_of
from fittings.selectors.people.lists import (
    asked_about,
    choice_get,
    fitting_get,
    fittings_of,
    follow_up_get,
    follow_ups_of,
)
from fittings.services import RecordedFitting
from fittings.services.fitting.fitting import advice_note, size_wanted
from fittings.services.people.links import link_for

_PROBLEM = inline_serializer(
    name="FittingsProblem",
    fields={"detail": fields.CharField(), "code": fields.CharField(), "fields": fields.DictField()},
)
PROBLEMS = dict.fromkeys((400, 401, 403, 404), _PROBLEM)
CONFLICTS = PROBLEMS | {409: _PROBLEM}
LIMIT_DEFAULT = 10


class RecommendationQuery(Query):
    """How many shoes are shown, and which are asked about."""

    limit = WholeNumber(required=False, min_value=1, max_value=LIMIT_MAX, help_text="Shoes shown; 10 if left out.")
    shoe = fields.ListField(
        child=Text(max_length=80),
        required=False,
        max_length=LIMIT_MAX,
        help_text="Slugs of shoes to report on, whether they are recommended or not.",
    )


class FollowUpQuery(PageQuery):
    """Which follow-ups are listed."""

    due = QueryFlag(required=False, help_text="true: only open ones due today or before.")


def _store(slug: str) -> Store:
    store = Store.objects.filter(slug=slug).first()
    if store is None:
        raise not_your_store()
    return store


def paged(request: Request, view: RestView, rows: Any, answer: Any) -> Response:
    pagination = PracticePagination()
    page: list[Any] = pagination.paginate_queryset(rows, request, view=view) or []
    return pagination.get_paginated_response([answer(row) for row in page])


def paged_schema(name: str, row: Any) -> Any:
    return inline_serializer(
        name=name,
        fields={
            "count": fields.IntegerField(),
            "next": fields.URLField(allow_null=True),
            "previous": fields.URLField(allow_null=True),
            "results": row(many=True),
        },
    )


def fitting_answer(recorded: RecordedFitting, intake: FittingIntake, store: Store) -> dict[str, Any]:
    """The body of a recorded fitting; without consent with the recommendations, which can't be asked for later."""
    fitting, need = recorded.fitting, recorded.need
    referral = recorded.referral
    size_eu = size_wanted(intake)
    recommendations = None
    if not fitting.kept:
        shoes = recommend(request_of_intake(intake, need, store, size_eu), limit=LIMIT_DEFAULT)
        said = spoken(need, referral, topic="recommendation", notes=[shoes.width_note])
        recommendations = bodies.recommendations_answer(shoes, said)
    return {
        "id": fitting.pk,
        "kept": fitting.kept,
        "need": bodies.need_answer(need),
        "refer": referral.refer,
        "size": bodies.size_text(size_eu),
        "cautions": list(spoken(need, referral)),
        "recommendations": recommendations,
    }


class APIView(QueryView):
    """What the addresses here have in common: they take JSON, and refuse query keys that they do not know."""

    parser_classes = (PatientJSONParser,)


class FittingList(APIView):
    """Fittings of the own stores."""

    permission = {"GET": "fittings.fitting:read", "POST": "fittings.fitting:write"}
    query = PageQuery

    @extend_schema(
        operation_id="fittings_list",
        responses={200: paged_schema("FittingPage", bodies.FittingRowOutput), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        return paged(request, self, fittings_of(request.user), bodies.fitting_row)

    @extend_schema(
        operation_id="fittings_record",
        request=serializers.FittingInput,
        responses={201: bodies.FittingOutput, 200: bodies.FittingOutput, **CONFLICTS},
    )
    def post(self, request: Request) -> Response:
        """Record a fitting and get the need. The same submission again answers 200 and makes nothing."""
        body = serializers.FittingInput(data=request.data)
        body.is_valid(raise_exception=True)
        store, intake = _store(body.validated_data["store"]), body.intake()
        with transaction.atomic():
            recorded = services.fitting_record(actor=actor_of(request), store=store, intake=intake)
            if recorded.created and recorded.fitting.kept:
                advice_note(recorded.fitting)
        return Response(fitting_answer(recorded, intake, store), status=201 if recorded.created else 200)


class FittingRecommendations(APIView):
    """Shoes that answer the need of a fitting."""

    permission = "fittings.fitting:read"
    query = RecommendationQuery

    @extend_schema(
        operation_id="fittings_recommendations",
        responses={200: bodies.RecommendationsOutput, **CONFLICTS},
    )
    def get(self, request: Request, pk: int) -> Response:
        fitting = fitting_get(request.user, pk)
        limit, asked = self.asked.get("limit", LIMIT_DEFAULT), self.asked.get("shoe", ())
        reply = reply_of(fitting)
        shoes = recommend(request_of_fitting(fitting, reply.wishes if reply else ()), limit=limit, asked=asked)
        referral = referral_of_fitting(fitting)
        notes = [reply_headline(reply), shoes.width_note]
        said = spoken(shoes.need, referral, topic="recommendation", notes=notes)
        return Response(bodies.recommendations_answer(shoes, said))


class FittingChoice(APIView):
    """The shoe chosen at a fitting."""

    permission = "fittings.fitting:write"

    @extend_schema(
        operation_id="fittings_choose",
        request=serializers.ChoiceInput,
        responses={201: bodies.ChoiceOutput, **CONFLICTS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Record the choice; makes the follow-ups. A second choice answers 409."""
        fitting = fitting_get(request.user, pk)
        body = serializers.ChoiceInput(data=request.data)
        body.is_valid(raise_exception=True)
        data = body.validated_data
        choice = services.choice_record(
            actor=actor_of(request),
            fitting=fitting,
            slug=data["slug"],
            size=data["size"],
            comfort=data.get("comfort"),
            reason=data.get("reason") or "",
            another_pair=bool(data.get("another_pair")),
            width=data.get("width") or "",
        )
        return Response(bodies.choice_answer(choice, asked_about(choice)), status=201)


class FittingChoiceCorrection(APIView):
    """A choice taken back."""

    permission = "fittings.fitting:write"

    @extend_schema(
        operation_id="fittings_choice_correct",
        request=serializers.CorrectionInput,
        responses={201: bodies.CorrectedOutput, **CONFLICTS},
    )
    def post(self, request: Request, pk: int, choice: int) -> Response:
        """Correct, exchange or take back a choice. Answers 409 where it was taken back before: correct the newest."""
        chosen = choice_get(request.user, pk, choice)
        body = serializers.CorrectionInput(data=request.data)
        body.is_valid(raise_exception=True)
        data = body.validated_data
        corrected = services.choice_correct(
            actor=actor_of(request),
            choice=chosen,
            kind=data["kind"],
            reason=data["reason"],
            slug=data.get("slug") or "",
            size=data.get("size"),
            comfort=data.get("comfort"),
            restock=data.get("restock") is not False,
            width=data.get("width") or "",
        )
        follow_ups = asked_about(corrected.successor) if corrected.successor else []
        return Response(bodies.corrected_answer(corrected, follow_ups), status=201)


class NothingInput(StrictSerializer):
    """A body without keys."""


class FittingLinks(APIView):
    """The links of a customer to a fitting."""

    permission = "fittings.follow_up:answer"

    @extend_schema(
        operation_id="fittings_links_end", request=None, responses={200: bodies.LinksEndedOutput, **PROBLEMS}
    )
    def post(self, request: Request, pk: int) -> Response:
        """End every link to a fitting that was sent or printed so far, and get the new one of its card.

        The links that stop e-mails to its customer end too; the next e-mail has a new one.
        """
        fitting = fitting_get(request.user, pk)
        NothingInput(data=request.data).is_valid(raise_exception=True)
        ended = services.links_revoke(actor=actor_of(request), fitting=fitting)
        return Response({"fitting": ended.pk, "card": link_for(ended)})


class FollowUpList(APIView):
    """Follow-ups of the own stores."""

    permission = "fittings.follow_up:read"
    query = FollowUpQuery

    @extend_schema(
        operation_id="follow_ups_list",
        responses={200: paged_schema("FollowUpPage", bodies.FollowUpOutput), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        due_on = timezone.localdate() if self.asked.get("due") else None
        rows = follow_ups_of(request.user, due_on=due_on)
        return paged(request, self, rows, lambda row: bodies.follow_up_row(row, row.choice or row.fitting.choice))


class FollowUpAnswerView(APIView):
    """The answers of a follow-up."""

    permission = "fittings.follow_up:answer"

    @extend_schema(
        operation_id="follow_ups_answer",
        request=serializers.AnswerInput,
        responses={200: bodies.AnsweredOutput, **CONFLICTS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Enter the answers, once. Answers 409 where they were entered before."""
        follow_up = follow_up_get(request.user, pk)
        body = serializers.AnswerInput(data=request.data)
        body.is_valid(raise_exception=True)
        answered = services.follow_up_answer(actor=actor_of(request), follow_up=follow_up, answer=body.answer())
        return Response(bodies.answered_answer(answered))
