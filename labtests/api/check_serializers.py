"""Shapes of the API of checks and studies: what is read from a request, and what the schema says about the answers."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from core.web.strict import Text
from labtests.forms.bench_tests import REASON_LENGTH
from labtests.models.studies import MAX_TRIALS, MIN_TRIALS


class DesignateInput(serializers.Serializer[Any]):
    """A specimen that becomes the check shoe of a rig."""

    specimen = serializers.CharField(max_length=64)
    since = serializers.DateField(help_text="Its tests on the rig from this day on are charted.")
    reason = Text(max_length=REASON_LENGTH)


class ReasonInput(serializers.Serializer[Any]):
    """Why something is done."""

    reason = Text(max_length=REASON_LENGTH)


class StudyInput(serializers.Serializer[Any]):
    """The plan of a gauge study."""

    title = serializers.CharField(max_length=80)
    rig = serializers.CharField(max_length=64)
    specimens = serializers.ListField(child=serializers.CharField(max_length=64), max_length=50)
    operators = serializers.ListField(child=serializers.CharField(max_length=150), max_length=20)
    trials = serializers.IntegerField(min_value=MIN_TRIALS, max_value=MAX_TRIALS)
    begins_on = serializers.DateField()
    reason = Text(max_length=REASON_LENGTH)


class LabCheckShoe(serializers.Serializer[Any]):
    """Who is, or was, the check shoe of a rig."""

    rig = serializers.CharField()
    specimen = serializers.CharField()
    since = serializers.DateField()
    designated_by = serializers.CharField()
    reason = serializers.CharField()
    retired_at = serializers.DateTimeField(allow_null=True)
    retired_because = serializers.CharField(allow_blank=True)


class LabCheck(serializers.Serializer[Any]):
    """The state of a rig and its check shoe; torque in N·m, deflection in mm."""

    rig = serializers.CharField()
    stopped = serializers.BooleanField()
    stopped_because = serializers.CharField(allow_blank=True)
    in_doubt_since = serializers.DateTimeField(
        allow_null=True, help_text="Of a stopped rig: tests after it are in doubt; null puts all of them in doubt."
    )
    check_shoe = LabCheckShoe(allow_null=True)
    checked_today = serializers.BooleanField()
    days_without_check = serializers.ListField(child=serializers.DateField())
    charts = serializers.ListField(child=serializers.DictField())
    alarms = serializers.ListField(child=serializers.DictField())


class LabStudy(serializers.Serializer[Any]):
    """A gauge study in a list."""

    id = serializers.IntegerField()
    title = serializers.CharField()
    rig = serializers.CharField()
    trials = serializers.IntegerField()
    begins_on = serializers.DateField()
    ends_on = serializers.DateField(allow_null=True)
    state = serializers.ChoiceField(choices=["open", "closed"])
    planned_by = serializers.CharField()
    reason = serializers.CharField()


class LabStudyDetail(LabStudy):
    """A gauge study with its tests and, once complete, its analysis."""

    specimens = serializers.ListField(child=serializers.CharField())
    operators = serializers.ListField(child=serializers.CharField())
    wanted = serializers.IntegerField()
    found = serializers.IntegerField()
    complete = serializers.BooleanField()
    cells = serializers.ListField(child=serializers.DictField())
    quantity = serializers.CharField()
    problem = serializers.CharField(allow_blank=True)
    result = serializers.DictField(allow_null=True)


class LabLevel(serializers.Serializer[Any]):
    """Precision of one specimen between rigs (ISO 5725-2), or why there is none."""

    specimen = serializers.CharField()
    problem = serializers.CharField(allow_blank=True)
    precision = serializers.DictField(allow_null=True)
    agreement = serializers.ListField(
        child=serializers.DictField(),
        help_text="Pairs of rigs: the difference, its expanded uncertainty (k = 2) without what both share, E_n.",
    )


class LabPrecision(serializers.Serializer[Any]):
    """Rigs compared over the same specimens."""

    quantity = serializers.CharField()
    levels = LabLevel(many=True)


class LabWear(serializers.Serializer[Any]):
    """The wear series of a specimen; the trend is null where there is too little to say."""

    specimen = serializers.CharField()
    quantity = serializers.CharField()
    points = serializers.ListField(child=serializers.DictField())
    band = serializers.CharField(allow_null=True)
    trend = serializers.DictField(allow_null=True)
