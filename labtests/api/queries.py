"""The query keys that the lab's addresses accept."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from core.models import printable
from core.web.api import PageQuery, Query, WholeNumber, query_text
from labtests.domain.scores.scoring import SCORES
from labtests.forms.bench_tests import record_choices, trail_actions
from labtests.forms.planner import DAYS_MOST, WANTED_LEAST, WANTED_MOST
from labtests.forms.quantities import STUDIED, WORN
from labtests.forms.workbench import HIGHEST_C, LOWEST_C
from labtests.models import State
from labtests.models.rigs import code_shape
from labtests.selectors.bench_tests import ORDER_KEYS
from labtests.selectors.studies.precision import MAX_LEVELS

CONDITIONING_STATES = ("in_chamber", "over", "struck")


def _code(hint: str) -> serializers.RegexField:
    return query_text(code_shape, hint)


def words(hint: str, most: int) -> serializers.RegexField:
    return query_text(printable, hint, min_length=1, max_length=most)


def choice(choices: Any, hint: str) -> serializers.ChoiceField:
    return serializers.ChoiceField(choices=choices, required=False, help_text=hint)


def _slug(hint: str) -> serializers.SlugField:
    return serializers.SlugField(required=False, trim_whitespace=False, max_length=100, help_text=hint)


def _celsius(hint: str) -> serializers.FloatField:
    return serializers.FloatField(required=False, min_value=LOWEST_C, max_value=HIGHEST_C, help_text=hint)


class BenchTestQuery(PageQuery):
    """Which tests are listed."""

    state = choice(State.choices, "State of the test.")
    shoe = _slug("Short name of a shoe.")
    rig = _code("Code of a rig.")
    specimen = _code("Code of a specimen.")
    q = words("Words of the shoe’s brand, name or version.", 80)
    operator = words("Sign-in name of the operator.", 150)
    protocol = words("Version of the protocol.", 20)
    since = serializers.DateField(required=False, help_text="Performed on this day or later.")
    until = serializers.DateField(required=False, help_text="Performed on this day or earlier.")
    temperature_min = _celsius("Midsole temperature in °C, at least.")
    temperature_max = _celsius("Midsole temperature in °C, at most.")
    order = choice(ORDER_KEYS, "What the list is sorted by, “-” in front for the largest first; newest first.")


class TrailQuery(PageQuery):
    """Which entries of the audit trail are listed."""

    who = words("Sign-in name of who did it.", 150)
    action = choice((), "What was done.")
    record = choice((), "Kind of record.")
    number = words("Number of the record; with `record` the history of one.", 64)
    since = serializers.DateField(required=False, help_text="First day.")
    until = serializers.DateField(required=False, help_text="Last day; 400 where it is before the first.")

    def get_fields(self) -> dict[str, Any]:
        found = super().get_fields()
        # Every app registers its actions when it starts, after this module may have been read.
        found["action"] = choice(trail_actions(), "What was done.")
        found["record"] = choice([kind for kind, _ in record_choices()], "Kind of record.")
        return found


class ConditioningQuery(PageQuery):
    """Which entries of the conditioning log are listed."""

    chamber = _code("Code of a chamber.")
    specimen = _code("Code of a specimen.")
    shoe = _slug("Short name of a shoe.")
    state = choice(CONDITIONING_STATES, "Still in a chamber, taken out, or struck.")


class StudyQuery(Query):
    """Which reading a study is analysed by."""

    quantity = choice(list(STUDIED), "Which reading; torque where left out.")


class WearQuery(Query):
    """Which reading a wear series shows."""

    quantity = choice(list(WORN), "Which reading; stability where left out.")


class PrecisionQuery(StudyQuery):
    """Which specimens are compared between rigs, over which days."""

    specimen = serializers.ListField(
        child=serializers.RegexField(code_shape.regex, trim_whitespace=False),
        required=False,
        max_length=MAX_LEVELS,
        help_text="Code of a specimen tested on two rigs or more; may be repeated.",
    )
    begins_on = serializers.DateField(required=False, help_text="First day.")
    ends_on = serializers.DateField(required=False, help_text="Last day.")


class PlannerQuery(Query):
    """What a plan is asked for."""

    wanted = serializers.FloatField(
        min_value=WANTED_LEAST, max_value=WANTED_MOST, help_text="Wanted expanded uncertainty, points."
    )
    rig = serializers.RegexField(code_shape.regex, trim_whitespace=False, help_text="Code of a rig.")
    score = choice(list(SCORES), "Which score; stability where left out.")
    days = WholeNumber(
        required=False, min_value=1, max_value=DAYS_MOST, help_text="Over how many days the tests are spread; 1."
    )


class CompareQuery(Query):
    """Which two tests of a shoe are compared."""

    first = WholeNumber(required=False, min_value=1, help_text="Id of a test; left against right without both.")
    second = WholeNumber(required=False, min_value=1, help_text="Id of another test of the shoe.")
