"""The API of the fittings: own stores only."""

from __future__ import annotations

from typing import Any, cast

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema, inline_serializer
from rest_framework import serializers as fields
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView as RestView

from core.api import PracticePagination
from core.errors import DomainError
from core.models import Store, User
from core.parsers import PatientJSONParser
from core.query_forms import FlagField, PageQuery
from fittings import answers, serializers, services
from fittings import permissions as permissions  # registers the actions named below
from fittings.cautions import spoken
from fittings.intake import FittingIntake
from fittings.selectors.lists import fitting_get, fittings_of, follow_up_get, follow_ups_of
from fittings.selectors.recommendations import LIMIT_MAX, recommend, request_of_fitting, request_of_intake
from fittings.services import RecordedFitting
from fittings.services.fitting import size_wanted

_PROBLEM = inline_serializer(
    name="FittingsProblem",
    fields={"detail": fields.CharField(), "code": fields.CharField(), "fields": fields.DictField()},
)
PROBLEMS = dict.fromkeys((400, 401, 403, 404), _PROBLEM)
CONFLICTS = PROBLEMS | {409: _PROBLEM}
LIMIT_DEFAULT = 10


def _whole_query(request: Request, name: str, *, default: int, high: int) -> int:
    text = request.query_params.get(name, str(default))
    if not text.isascii() or not text.isdecimal() or len(text) > 6 or not 1 <= int(text) <= high:
        message = f"{name} must be a whole number from 1 to {high}, got {text[:20]!r}"
        raise DomainError(message, fields={name: [message]})
    return int(text)


def _actor(request: Request) -> User:
    """The user, whom the gate has let in and who is therefore no anonymous one."""
    return cast(User, request.user)


def _store(slug: str) -> Store:
    store = Store.objects.filter(slug=slug).first()
    if store is None:
        message = "There is no such store, or it is not yours."
        raise DomainError(message, code="not_found", status=404, fields={"store": [message]})
    return store


def _paged(request: Request, view: RestView, rows: Any, answer: Any) -> Response:
    pagination = PracticePagination()
    page: list[Any] = pagination.paginate_queryset(rows, request, view=view) or []
    return pagination.get_paginated_response([answer(row) for row in page])


def _paged_schema(name: str, row: Any) -> Any:
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
    size_eu = size_wanted(intake)
    recommendations = None
    if not fitting.kept:
        found = recommend(request_of_intake(intake, need, store, size_eu), limit=LIMIT_DEFAULT)
        said = spoken(need, intake.stop_signs, topic="recommendation", widths=found.width_note)
        recommendations = answers.recommendations_answer(found, said)
    return {
        "id": fitting.pk,
        "kept": fitting.kept,
        "need": answers.need_answer(need),
        "refer": bool(intake.stop_signs),
        "size": answers.size_text(size_eu),
        "cautions": list(spoken(need, intake.stop_signs)),
        "recommendations": recommendations,
    }


class APIView(RestView):
    """What the addresses here have in common: they take JSON."""

    parser_classes = (PatientJSONParser,)


class FittingList(APIView):
    """Fittings of the own stores."""

    permission = {"GET": "fittings.fitting:read", "POST": "fittings.fitting:write"}

    @extend_schema(
        operation_id="fittings_list",
        parameters=PageQuery.parameters(),
        responses={200: _paged_schema("FittingPage", answers.FittingRowOutput), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        PageQuery.read(request.query_params)
        return _paged(request, self, fittings_of(request.user), answers.fitting_row)

    @extend_schema(
        operation_id="fittings_record",
        request=serializers.FittingInput,
        responses={201: answers.FittingOutput, 200: answers.FittingOutput, **CONFLICTS},
    )
    def post(self, request: Request) -> Response:
        """Record a fitting and get the need. The same submission again answers 200 and makes nothing."""
        body = serializers.FittingInput(data=request.data)
        body.is_valid(raise_exception=True)
        store, intake = _store(body.validated_data["store"]), body.intake()
        recorded = services.fitting_record(actor=_actor(request), store=store, intake=intake)
        return Response(fitting_answer(recorded, intake, store), status=201 if recorded.created else 200)


class FittingRecommendations(APIView):
    """Shoes that answer the need of a fitting."""

    permission = "fittings.fitting:read"

    @extend_schema(
        operation_id="fittings_recommendations",
        parameters=[
            OpenApiParameter("limit", OpenApiTypes.INT, description=f"How many at most, 1 to {LIMIT_MAX}; else 10."),
            OpenApiParameter("shoe", OpenApiTypes.STR, many=True, description="Slugs to be told about in any case."),
        ],
        responses={200: answers.RecommendationsOutput, **CONFLICTS},
    )
    def get(self, request: Request, pk: int) -> Response:
        fitting = fitting_get(request.user, pk)
        limit = _whole_query(request, "limit", default=LIMIT_DEFAULT, high=LIMIT_MAX)
        asked = request.query_params.getlist("shoe")[:LIMIT_MAX]
        found = recommend(request_of_fitting(fitting), limit=limit, asked=asked)
        said = spoken(found.need, fitting.stop_signs, topic="recommendation", widths=found.width_note)
        return Response(answers.recommendations_answer(found, said))


class FittingChoice(APIView):
    """The shoe chosen at a fitting."""

    permission = "fittings.fitting:write"

    @extend_schema(
        operation_id="fittings_choose",
        request=serializers.ChoiceInput,
        responses={201: answers.ChoiceOutput, **CONFLICTS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Record the choice; makes the follow-ups. A second choice answers 409."""
        fitting = fitting_get(request.user, pk)
        body = serializers.ChoiceInput(data=request.data)
        body.is_valid(raise_exception=True)
        data = body.validated_data
        choice = services.choice_record(
            actor=_actor(request),
            fitting=fitting,
            slug=data["slug"],
            size=data["size"],
            comfort=data.get("comfort"),
            reason=data.get("reason") or "",
        )
        follow_ups = list(choice.fitting.follow_ups.select_related("fitting__store"))
        return Response(answers.choice_answer(choice, follow_ups), status=201)


class FollowUpQuery(PageQuery):
    """What the list of follow-ups takes."""

    due = FlagField(help_text="true: only those due today or before, and open.")


class FollowUpList(APIView):
    """Follow-ups of the own stores."""

    permission = "fittings.follow_up:read"

    @extend_schema(
        operation_id="follow_ups_list",
        parameters=FollowUpQuery.parameters(),
        responses={200: _paged_schema("FollowUpPage", answers.FollowUpOutput), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        due_on = timezone.localdate() if FollowUpQuery.read(request.query_params)["due"] else None
        rows = follow_ups_of(request.user, due_on=due_on)
        return _paged(request, self, rows, lambda row: answers.follow_up_row(row, row.fitting.choice))


class FollowUpAnswerView(APIView):
    """The answers of a follow-up."""

    permission = "fittings.follow_up:answer"

    @extend_schema(
        operation_id="follow_ups_answer",
        request=serializers.AnswerInput,
        responses={200: answers.AnsweredOutput, **CONFLICTS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Enter the answers, once. Answers 409 where they were entered before."""
        follow_up = follow_up_get(request.user, pk)
        body = serializers.AnswerInput(data=request.data)
        body.is_valid(raise_exception=True)
        answered = services.follow_up_answer(actor=_actor(request), follow_up=follow_up, answer=body.answer())
        return Response(answers.answered_answer(answered))
