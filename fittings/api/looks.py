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
from fittings.api.serializers import LooksInput
from fittings.domain.fitting.grading import MEASURED
from fittings.domain.fitting.intake import Condition, FootIntake
from fittings.domain.fitting.looks import GAITS, MOVEMENTS, WORN, changes_of
from fittings.selectors.lists import fitting_get
from fittings.selectors.looks import FittingLooks, looks_at
from fittings.services.looks import looks_record

_SIGNS = (*MEASURED, *(f"{name}_deg" for name in MEASURED))


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
    at = fields.DateTimeField()
    by = fields.CharField()
    left = LookFootOutput()
    right = LookFootOutput()


class ShoeChangeOutput(ConditionOutput):
    """What a shoe changed from barefoot in the same gait; `movement` is null where nothing can be compared."""

    movement = fields.ChoiceField(choices=list(MOVEMENTS), allow_null=True)
    signs_compared = fields.IntegerField()


class LooksOutput(fields.Serializer[Any]):
    fitting = fields.IntegerField()
    looks = LookOutput(many=True)
    changes = ShoeChangeOutput(many=True)
    cautions = fields.ListField(child=fields.CharField())


class LooksOfFitting(APIView):
    """The looks at a person in motion, beside the observation."""

    permission = {"GET": "fittings.fitting:read", "POST": "fittings.fitting:write"}

    @extend_schema(operation_id="fittings_looks", responses={200: LooksOutput, **CONFLICTS})
    def get(self, request: Request, pk: int) -> Response:
        return Response(_answer(pk, looks_at(fitting_get(request.user, pk))))

    @extend_schema(operation_id="fittings_look", request=LooksInput, responses={201: LooksOutput, **CONFLICTS})
    def post(self, request: Request, pk: int) -> Response:
        """Add looks. The need stays as it was; a look that is there already is refused."""
        fitting = fitting_get(request.user, pk)
        body = LooksInput(data=request.data)
        body.is_valid(raise_exception=True)
        looks_record(actor=actor_of(request), fitting=fitting, looks=body.made())
        return Response(_answer(pk, looks_at(fitting_get(request.user, pk))), status=201)


def _answer(pk: int, seen: FittingLooks) -> dict[str, Any]:
    return {
        "fitting": pk,
        "looks": [
            {
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
        "cautions": list(cautions("need")),
    }


def _condition(condition: Condition) -> dict[str, Any]:
    return {"gait": condition.gait, "worn": condition.worn, "shoe": condition.shoe or None}


def _foot(foot: FootIntake) -> dict[str, Any]:
    return {name: getattr(foot, name) for name in _SIGNS}
