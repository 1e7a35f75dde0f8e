"""The API of the looks in motion of a fitting."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers as fields
from rest_framework.request import Request
from rest_framework.response import Response

from core.web.cautions import cautions
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.api.fittings import CONFLICTS, APIView
from fittings.api.look_inputs import LookCorrectionInput, LooksInput
from fittings.domain.fitting.grading import SIGN_COLUMNS
from fittings.domain.fitting.intake import Condition, FootIntake
from fittings.domain.fitting.looks import GAITS, MOVEMENTS, WORN, changes_of
from fittings.models import Fitting
from fittings.selectors.fitting.looks import looks_at, superseded_looks
from fittings.selectors.people.lists import fitting_get
from fittings.services.fitting.look_corrections import look_correct
from fittings.services.fitting.looks import looks_record


class LookFootOutput(fields.Serializer[Any]):
    pronation = fields.IntegerField(allow_null=True)
    tibial_rotation = fields.IntegerField(allow_null=True)
    rearfoot_eversion = fields.IntegerField(allow_null=True)
    pronation_deg = fields.FloatField(allow_null=True)
    tibial_rotation_deg = fields.FloatField(allow_null=True)
    rearfoot_eversion_deg = fields.FloatField(allow_null=True)


class ConditionOutput(fields.Serializer[Any]):
    gait = fields.ChoiceField(choices=list(GAITS))
    worn = fields.ChoiceField(choices=list(WORN))
    shoe = fields.CharField(allow_null=True)


class LookOutput(ConditionOutput):
    """A look; `id` is what a correction names it by."""

    id = fields.IntegerField()
    at = fields.DateTimeField()
    by = fields.CharField()
    left = LookFootOutput()
    right = LookFootOutput()


class ShoeChangeOutput(ConditionOutput):
    """What a shoe changed from barefoot in the same gait; `movement` is null where nothing can be compared."""

    movement = fields.ChoiceField(choices=list(MOVEMENTS), allow_null=True)
    signs_compared = fields.IntegerField()


class SupersededLookOutput(fields.Serializer[Any]):
    """A look, an observation or a measure on a picture that was corrected or taken back: `was` has what it said."""

    was = fields.DictField()
    reason = fields.CharField()
    at = fields.DateTimeField(help_text="When it was corrected.")
    by = fields.CharField()


class LooksOutput(fields.Serializer[Any]):
    fitting = fields.IntegerField()
    looks = LookOutput(many=True)
    changes = ShoeChangeOutput(many=True)
    corrected = SupersededLookOutput(many=True)
    cautions = fields.ListField(child=fields.CharField())


class LooksOfFitting(APIView):
    """The looks at a person in motion, beside the observation."""

    permission = {"GET": "fittings.fitting:read", "POST": "fittings.fitting:write"}

    @extend_schema(operation_id="fittings_looks", responses={200: LooksOutput, **CONFLICTS})
    def get(self, request: Request, pk: int) -> Response:
        return Response(_answer(fitting_get(request.user, pk)))

    @extend_schema(operation_id="fittings_look", request=LooksInput, responses={201: LooksOutput, **CONFLICTS})
    def post(self, request: Request, pk: int) -> Response:
        """Add looks. The need stays as it was; a look that is there already is refused."""
        fitting = fitting_get(request.user, pk)
        body = LooksInput(data=request.data)
        body.is_valid(raise_exception=True)
        looks_record(actor=actor_of(request), fitting=fitting, looks=body.made())
        return Response(_answer(fitting_get(request.user, pk)), status=201)


class LookCorrection(APIView):
    """A look that was wrong."""

    permission = {"POST": "fittings.fitting:write"}

    @extend_schema(
        operation_id="fittings_look_correct", request=LookCorrectionInput, responses={200: LooksOutput, **CONFLICTS}
    )
    def post(self, request: Request, pk: int, number: int) -> Response:
        """Replace a look, or take it back (`look` null). Number 0 is the observation, of which only signs are given.

        What was recorded stays readable and counts nowhere. The need stays as it was said to the customer.
        """
        fitting = fitting_get(request.user, pk)
        body = LookCorrectionInput(data=request.data)
        body.is_valid(raise_exception=True)
        look_correct(
            actor=actor_of(request),
            fitting=fitting,
            number=number,
            look=body.made(),
            reason=body.validated_data["reason"],
        )
        return Response(_answer(fitting_get(request.user, pk)))


def _answer(fitting: Fitting) -> dict[str, Any]:
    seen = looks_at(fitting)
    return {
        "fitting": fitting.pk,
        "looks": [
            {
                "id": seen.taken[look.condition].number,
                **_condition(look.condition),
                "at": seen.taken[look.condition].at,
                "by": seen.taken[look.condition].by,
                "left": _foot(look.left),
                "right": _foot(look.right),
            }
            for look in seen.looks
        ],
        "changes": [
            {**_condition(item.condition), "movement": item.movement, "signs_compared": len(item.signs)}
            for item in changes_of(seen.observed, seen.looks)
        ],
        "corrected": [
            {
                "was": row.content,
                "reason": row.reason,
                "at": row.superseded_at,
                "by": row.superseded_by.display_name,
            }
            for row in superseded_looks(fitting)
        ],
        "cautions": list(cautions("need")),
    }


def _condition(condition: Condition) -> dict[str, Any]:
    return {"gait": condition.gait, "worn": condition.worn, "shoe": condition.shoe or None}


def _foot(foot: FootIntake) -> dict[str, Any]:
    return {name: getattr(foot, name) for name in SIGN_COLUMNS}
