"""What the API takes in of looks in motion."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from core.web.strict import Text
from fittings.api.numbers import Number, Whole
from fittings.api.strict import StrictSerializer
from fittings.domain.fitting.intake import Condition, FootIntake, Look
from fittings.domain.fitting.looks import GAITS, LOOKS_MAX, WORN
from fittings.services.fitting.choice import REASON_MAX


class LookFootInput(StrictSerializer):
    """The signs of one foot in one look: grades 0 to 3, or degrees, which make the grade by the cut-offs in use."""

    pronation = Whole("grade")
    tibial_rotation = Whole("grade")
    rearfoot_eversion = Whole("grade")
    pronation_deg = Number("degrees")
    tibial_rotation_deg = Number("degrees")
    rearfoot_eversion_deg = Number("degrees")


class LookInput(StrictSerializer):
    """A look at the person in motion, beside the observation, which is the look walking barefoot."""

    gait = serializers.ChoiceField(choices=list(GAITS))
    worn = serializers.ChoiceField(choices=list(WORN))
    shoe = Text(
        required=False,
        allow_null=True,
        allow_blank=True,
        max_length=80,
        help_text="Slug of the shoe tried on; with worn candidate alone.",
    )
    left = LookFootInput(required=False, allow_null=True)
    right = LookFootInput(required=False, allow_null=True)


class LooksInput(StrictSerializer):
    """Looks that are added to a fitting."""

    looks = serializers.ListField(child=LookInput(), min_length=1, max_length=LOOKS_MAX)

    def made(self) -> tuple[Look, ...]:
        return tuple(map(look_of, self.validated_data["looks"]))


class LookCorrectionInput(StrictSerializer):
    """What takes the place of a look; null where it is taken back."""

    look = LookInput(allow_null=True)
    reason = Text(max_length=REASON_MAX)

    def made(self) -> Look | None:
        look = self.validated_data["look"]
        return None if look is None else look_of(look)


def look_of(item: dict[str, Any]) -> Look:
    condition = Condition(item["gait"], item["worn"], item.get("shoe") or "")
    return Look(condition, FootIntake(**(item.get("left") or {})), FootIntake(**(item.get("right") or {})))
