"""What the API takes in: shapes and limits. The services check the rules again."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from catalogue.domain.sizes import HOW_TO_WRITE, SIZE_PATTERN, SIZE_RANGES
from catalogue.models import WIDTH_MAX_LENGTH
from core.web.strict import Email, Flag, Text
from fittings.api.look_inputs import LookInput, look_of
from fittings.api.numbers import Number, Whole
from fittings.api.strict import StrictSerializer
from fittings.domain.fitting.intake import CustomerIntake, FittingIntake, FollowUpAnswer, FootIntake
from fittings.domain.fitting.looks import LOOKS_MAX
from fittings.domain.fitting.need import USES
from fittings.domain.fitting.stop_signs import read_stop_signs
from fittings.domain.people.overuse import ANSWERS, QUESTIONS
from fittings.domain.people.recurrence import Pain
from fittings.domain.regions import Complaint, read_region, read_side
from fittings.domain.shoes.insoles import INSOLES
from fittings.domain.shoes.sizing import SIZE_SYSTEMS
from fittings.models import CorrectionKind
from fittings.models.people.follow_up import COMMENT_MAX
from fittings.selectors.fitting.referral import current_referral_rules
from fittings.services.fitting.checks import HISTORY_MAX, NAME_MAX, PAINS_MAX, WORN_MAX
from fittings.services.fitting.choice import REASON_MAX

STOP_SIGNS_MAX = 30
_ANSWERS = ("wearing", "distance_km_week", "comfort", "days_off", "nothing_hurts", "saw_clinician")


class Key(serializers.UUIDField):
    """A UUID written as text; a number is not taken for one."""

    def to_internal_value(self, data: Any) -> Any:
        if not isinstance(data, str):
            self.fail("invalid", value=data)
        return super().to_internal_value(data)


def _read(reader: Callable[[Any], Any], data: Any) -> Any:
    try:
        return reader(data)
    except (TypeError, ValueError) as problem:
        raise serializers.ValidationError(str(problem)) from problem


class RegionField(Text):
    """A body region: a code or its words."""

    def to_internal_value(self, data: Any) -> str:
        return str(_read(read_region, data))


class SideField(Text):
    """left, right, both or null."""

    def __init__(self) -> None:
        super().__init__(required=False, allow_null=True, allow_blank=True)

    def run_validation(self, data: Any = serializers.empty) -> str | None:
        # An empty text means the same as null, and not a text.
        side: str | None = None if data is serializers.empty else _read(read_side, data)
        return side

    def get_default(self) -> None:
        return None


class CustomerInput(StrictSerializer):
    """The person. Without consent, name and e-mail address are not kept."""

    name = Text(required=False, allow_blank=True, allow_null=True, max_length=NAME_MAX)
    email = Email(required=False, allow_blank=True, allow_null=True)
    consent = Flag(help_text="To store health data; missing is no.")
    under_age = Flag(help_text="Under the age at which somebody agrees alone: guardian is required then.")
    guardian = Text(required=False, allow_blank=True, allow_null=True, max_length=NAME_MAX)


class HistoryInput(StrictSerializer):
    """One complaint: there now, or settled, with the day where it is known."""

    region = RegionField()
    side = SideField()
    now = Flag()
    settled_on = serializers.DateField(required=False, allow_null=True)


class FootObservationInput(StrictSerializer):
    """What we observed of one foot: grades 0 to 3, Foot Posture Index −12 to 12, navicular drop in mm."""

    pronation = Whole("grade")
    tibial_rotation = Whole("grade")
    rearfoot_eversion = Whole("grade")
    fpi6 = Whole("fpi6")
    navicular_drop_mm = Number("navicular_drop_mm")


class ObservationInput(StrictSerializer):
    left = FootObservationInput(required=False, allow_null=True)
    right = FootObservationInput(required=False, allow_null=True)
    hip_weak = Flag()


class FootMeasureInput(StrictSerializer):
    length_mm = Number("length_mm")
    width_mm = Number("width_mm")


class FeetInput(StrictSerializer):
    left = FootMeasureInput(required=False, allow_null=True)
    right = FootMeasureInput(required=False, allow_null=True)


_AS_THEY_ARE = ("body_mass_kg", "distance_km_week", "pain_now", "pain_weeks", "clinician_advised", "submission")


class FittingInput(StrictSerializer):
    """A fitting from consent to feet. What is missing or null stays missing."""

    store = Text(max_length=50, help_text="Slug of one of your stores.")
    customer = CustomerInput(required=False, allow_null=True)
    use = serializers.ChoiceField(choices=list(USES))
    body_mass_kg = Number("body_mass_kg")
    distance_km_week = Number("distance_km_week")
    history = serializers.ListField(child=HistoryInput(), required=False, allow_null=True, max_length=HISTORY_MAX)
    pain_now = Whole("pain_now")
    pain_weeks = Whole("pain_weeks")
    stop_signs = serializers.ListField(
        child=Text(max_length=100), required=False, allow_null=True, max_length=STOP_SIGNS_MAX
    )
    stop_signs_asked = Flag(
        help_text=(
            "Whether the stop signs were asked about. Missing or null: taken as asked only if stop_signs names one. "
            "false together with a sign is refused."
        )
    )
    clinician_advised = Flag(help_text="Whether a customer with a stop sign was advised to see a clinician.")
    observation = ObservationInput(
        required=False, allow_null=True, help_text="The look at the person walking barefoot; the need follows from it."
    )
    looks = serializers.ListField(
        child=LookInput(),
        required=False,
        allow_null=True,
        max_length=LOOKS_MAX,
        help_text="Other looks; they change nothing of the need.",
    )
    feet = FeetInput(required=False, allow_null=True)
    current_shoe = Text(
        required=False, allow_null=True, allow_blank=True, max_length=80, help_text="Slug of a shoe of the catalogue."
    )
    current_shoe_text = Text(
        required=False,
        allow_null=True,
        allow_blank=True,
        max_length=WORN_MAX,
        help_text="The shoe worn now where the catalogue does not have it; ignored with current_shoe.",
    )
    insole = serializers.ChoiceField(
        choices=list(INSOLES.items()), required=False, allow_null=True, allow_blank=True, help_text="Worn in the shoe."
    )
    size_system = serializers.ChoiceField(
        choices=list(SIZE_SYSTEMS.items()),
        required=False,
        allow_null=True,
        allow_blank=True,
        help_text="In which system the customer says sizes; the store’s where it is missing.",
    )
    cushioning = serializers.ChoiceField(
        choices=[("more", "softer"), ("less", "firmer")], required=False, allow_null=True, allow_blank=True
    )
    submission = Key(
        required=False, allow_null=True, help_text="Made by the sender; the same one again makes no second fitting."
    )

    def validate_stop_signs(self, value: list[str] | None) -> tuple[str, ...]:
        if not value:
            return ()
        asked = current_referral_rules().rules.signs
        signs: tuple[str, ...] = _read(lambda given: read_stop_signs(given, asked), value)
        return signs

    def intake(self) -> FittingIntake:
        """The checked body as the service takes it."""
        data = self.validated_data
        asked = data.get("stop_signs_asked")
        observation, feet, person = (data.get(key) or {} for key in ("observation", "feet", "customer"))
        return FittingIntake(
            use=data["use"],
            customer=CustomerIntake(
                name=person.get("name") or "",
                email=person.get("email") or "",
                consent=bool(person.get("consent")),
                under_age=bool(person.get("under_age")),
                guardian=person.get("guardian") or "",
            ),
            history=tuple(_complaint(item) for item in data.get("history") or ()),
            stop_signs=tuple(data.get("stop_signs") or ()),
            stop_signs_asked=bool(data.get("stop_signs")) if asked is None else asked,
            left=FootIntake(**(observation.get("left") or {}), **(feet.get("left") or {})),
            right=FootIntake(**(observation.get("right") or {}), **(feet.get("right") or {})),
            hip_weak=observation.get("hip_weak"),
            current_shoe=data.get("current_shoe") or None,
            current_shoe_text=data.get("current_shoe_text") or "",
            insole=data.get("insole") or "",
            size_system=data.get("size_system") or "",
            cushioning=data.get("cushioning") or "",
            looks=tuple(map(look_of, data.get("looks") or ())),
            **{name: data.get(name) for name in _AS_THEY_ARE},
        )


def _complaint(item: dict[str, Any]) -> Complaint:
    return Complaint(item["region"], item.get("side"), bool(item.get("now")), item.get("settled_on"))


@extend_schema_field(
    {
        "oneOf": [
            {"type": "string", "pattern": SIZE_PATTERN},
            {"type": "number", "minimum": 15, "maximum": 55, "description": "EU size with at most one decimal"},
        ],
        "description": f"{HOW_TO_WRITE}; a number alone is an EU size. {SIZE_RANGES}. Sizes other than EU are "
        "converted to the nearest half EU size, which is approximate.",
        "example": "EU 42.5",
    }
)
class Size(serializers.JSONField):
    """A size as people write it, or the number of an EU size; the services read it."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, str) and re.search(SIZE_PATTERN, data) is None:
            raise serializers.ValidationError(f"{HOW_TO_WRITE}. Possible sizes: {SIZE_RANGES}.")
        return data


class WidthText(Text):
    """A width fitting of the shoe, as the maker writes it."""

    def __init__(self, **options: Any) -> None:
        words = "Width fitting, where the shoe is made in several; empty where it was not said."
        super().__init__(max_length=WIDTH_MAX_LENGTH, help_text=words, **options)


class ChoiceInput(StrictSerializer):
    """The shoe chosen. Outside the target a reason is required."""

    slug = Text(max_length=80)
    size = Size()
    width = WidthText(required=False, allow_null=True, allow_blank=True)
    comfort = Whole("comfort")
    reason = Text(required=False, allow_null=True, allow_blank=True, max_length=REASON_MAX)
    another_pair = Flag(help_text="true: beside the pair chosen already, with follow-ups of its own.")


class CorrectionInput(StrictSerializer):
    """Why a choice is taken back, and the shoe that takes its place; both slug and size, or neither."""

    kind = serializers.ChoiceField(
        choices=CorrectionKind.choices,
        help_text=(
            "mistake: as if the successor had been chosen from the beginning; moves no stock. exchange, return, fault: "
            "the pair comes back. mistake and exchange need slug and size."
        ),
    )
    slug = Text(required=False, allow_null=True, allow_blank=True, max_length=80)
    size = Size(required=False, allow_null=True)
    width = WidthText(required=False, allow_null=True, allow_blank=True)
    comfort = Whole("comfort")
    reason = Text(max_length=REASON_MAX, help_text="That of a fault goes to the lab: it must not name the customer.")
    restock = Flag(help_text="false: the pair that comes back can’t be sold again. A faulty one never is.")


class Points(serializers.ChoiceField):
    """The points of one answer; a text is not taken for a number."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, bool) or not isinstance(data, (int, float)) or data not in self.choices:
            self.fail("invalid_choice", input=data)
        return int(data)


class PainInput(StrictSerializer):
    region = RegionField()
    side = SideField()
    score = Whole("pain_now", required=True)


def _pain(item: dict[str, Any]) -> Pain:
    return Pain(item["region"], item.get("side"), item["score"])


class AnswerInput(StrictSerializer):
    """The answers of a follow-up. What is missing or null stays missing.

    Pain has three answers: places with scores in `pain`, `nothing_hurts` true, or neither, which is no answer. An empty
    list in `pain` names no place and is no answer either.
    """

    wearing = Flag()
    distance_km_week = Number("distance_km_week")
    comfort = Whole("comfort")
    nothing_hurts = Flag(help_text="true: nothing hurts; false: something does; null or missing: see pain.")
    pain = serializers.ListField(child=PainInput(), required=False, allow_null=True, max_length=PAINS_MAX)
    overuse = serializers.ListField(
        child=Points(ANSWERS),
        required=False,
        allow_null=True,
        min_length=len(QUESTIONS),
        max_length=len(QUESTIONS),
        help_text=f"Four answers, each one of {', '.join(str(answer) for answer in ANSWERS)}.",
    )
    days_off = Whole("days_off")
    saw_clinician = Flag(help_text="Whether a clinician was seen about it; null or missing: not said.")
    comment = Text(required=False, allow_null=True, allow_blank=True, max_length=COMMENT_MAX)

    def answer(self) -> FollowUpAnswer:
        """The checked body as the service takes it."""
        data = self.validated_data
        overuse, pains = data.get("overuse"), data.get("pain") or ()
        return FollowUpAnswer(
            pain=tuple(_pain(item) for item in pains),
            overuse=tuple(overuse) if overuse else None,
            comment=data.get("comment") or "",
            **{name: data.get(name) for name in _ANSWERS},
        )
