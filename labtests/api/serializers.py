"""Shapes of the lab's API: what is read from a request, and what the schema says about the answers."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from core.web.strict import Text
from labtests.models import State
from labtests.services.deciding import MOST_TESTS

# Of the database's column.
HIGHEST_ID = 2**63 - 1


class UploadInput(serializers.Serializer[Any]):
    """A multipart body with the file."""

    file = serializers.FileField(help_text="A bench file, a readings file (CSV, UTF-8) or a ZIP of them; up to 50 MB.")


class ReviewInput(serializers.Serializer[Any]):
    """A reviewer's decision."""

    decision = serializers.ChoiceField(choices=["approve", "release", "void", "hold", "clear_doubt"])
    reason = Text(
        required=False, allow_blank=True, default="", max_length=2000, help_text="Needed for all but approve."
    )


class DecideInput(ReviewInput):
    """One decision on several tests."""

    tests = serializers.ListField(
        child=serializers.IntegerField(min_value=1, max_value=HIGHEST_ID),
        min_length=1,
        max_length=MOST_TESTS,
        help_text="Ids of the tests; each is decided and audited by itself.",
    )


class LabDecided(serializers.Serializer[Any]):
    """What became of one test of several."""

    test = serializers.IntegerField()
    done = serializers.BooleanField(help_text="Whether the decision is on record.")
    state = serializers.CharField(allow_null=True, help_text="State of the test now; null where there is none.")
    code = serializers.CharField(allow_blank=True, help_text="Why nothing was done; empty where it was.")
    detail = serializers.CharField(allow_blank=True)


class LabDecisions(serializers.Serializer[Any]):
    """What became of each test."""

    done = serializers.IntegerField(help_text="How many decisions are on record.")
    results = LabDecided(many=True)


class PublishInput(serializers.Serializer[Any]):
    """Why a shoe is published."""

    reason = Text(max_length=2000)


class LabAcceptedEntry(serializers.Serializer[Any]):
    """A test that is within the protocol."""

    file = serializers.CharField()
    specimen = serializers.CharField()
    test = serializers.IntegerField()
    stored_before = serializers.BooleanField(
        required=False, help_text="True where the very same file came in an earlier upload."
    )


class LabHeldReason(serializers.Serializer[Any]):
    """Why a test is held."""

    code = serializers.CharField(help_text="A stable word for programs.")
    message = serializers.CharField()


class LabHeldEntry(LabAcceptedEntry):
    """A test that is outside the protocol or cannot be scored."""

    reasons = LabHeldReason(many=True)


class LabProblem(serializers.Serializer[Any]):
    """Why a file was refused; lines count from 1."""

    file = serializers.CharField()
    line = serializers.IntegerField()
    column = serializers.CharField()
    problem = serializers.CharField()


class LabWarning(serializers.Serializer[Any]):
    """Something that was stored but not understood."""

    file = serializers.CharField()
    warning = serializers.CharField()


class LabUpload(serializers.Serializer[Any]):
    """What became of an upload."""

    upload = serializers.IntegerField()
    sha256 = serializers.CharField()
    accepted = LabAcceptedEntry(many=True)
    held = LabHeldEntry(many=True)
    rejected = LabProblem(many=True)
    warnings = LabWarning(many=True)


class LabConditions(serializers.Serializer[Any]):
    """How the specimen lay and was clamped, in SI units."""

    conditioned_h = serializers.FloatField()
    temperature_c = serializers.FloatField()
    heel_clamp_n = serializers.FloatField()
    forefoot_clamp_n = serializers.FloatField()
    worn_km = serializers.FloatField(allow_null=True)
    mass_g = serializers.FloatField(allow_null=True)
    stack_heel_mm = serializers.FloatField(allow_null=True)
    stack_forefoot_mm = serializers.FloatField(allow_null=True)
    conditioned_source = serializers.ChoiceField(
        choices=["log", "file"], help_text="Whether the conditioning log or the file gave the hours."
    )
    conditioned_words = serializers.CharField()
    conditioned_claimed_h = serializers.FloatField(help_text="What the file claims.")


class LabScore(serializers.Serializer[Any]):
    """One score; null where the test could not be scored or the uncertainty is not known."""

    value = serializers.FloatField(allow_null=True)
    expanded_uncertainty = serializers.FloatField(allow_null=True, help_text="U = k u.")
    coverage_factor = serializers.FloatField(allow_null=True, help_text="k for 95.45 %, by the degrees of freedom.")
    degrees_of_freedom = serializers.IntegerField(
        allow_null=True, help_text="Effective ones of u, cut off to a whole number; null where unlimited."
    )
    estimated = serializers.BooleanField()


class LabScores(serializers.Serializer[Any]):
    """The four scores."""

    stability = LabScore()
    midfoot = LabScore()
    rearfoot = LabScore()
    cushioning = LabScore()


class LabBandProbability(serializers.Serializer[Any]):
    """How probable it is that the true stability is in a band."""

    order = serializers.IntegerField()
    name = serializers.CharField()
    probability = serializers.FloatField()


class LabHistoryEntry(serializers.Serializer[Any]):
    """One step in the life of a test."""

    at = serializers.DateTimeField()
    actor = serializers.CharField()
    action = serializers.CharField()
    words = serializers.CharField()
    reason = serializers.CharField(allow_blank=True)


class LabTest(serializers.Serializer[Any]):
    """A bench test (torque in N·m, deflection in mm, work in J)."""

    id = serializers.IntegerField()
    state = serializers.ChoiceField(choices=[str(value) for value in State.values])
    outside_protocol = serializers.BooleanField(help_text="Released by a reviewer; never published.")
    shoe = serializers.CharField()
    specimen = serializers.CharField()
    size = serializers.CharField(help_text="Such as “EU 42.5”.")
    side = serializers.CharField()
    rig = serializers.CharField()
    operator = serializers.CharField()
    performed = serializers.DateTimeField()
    protocol = serializers.CharField()
    submitted_as = serializers.CharField()
    entered_by_hand = serializers.BooleanField()
    conditions = LabConditions()
    torque_15 = serializers.FloatField(allow_null=True)
    deflection = serializers.FloatField(allow_null=True)
    work = serializers.FloatField(allow_null=True)
    energy_return = serializers.FloatField(allow_null=True)
    scores = LabScores()
    band_probabilities = LabBandProbability(many=True)
    scoring_model = serializers.CharField(allow_null=True)
    reasons = LabHeldReason(many=True)
    upload = serializers.IntegerField()
    amends = serializers.IntegerField(allow_null=True)
    amended_by = serializers.IntegerField(allow_null=True)
    history = LabHistoryEntry(many=True)


class LabAuditEntry(serializers.Serializer[Any]):
    """One entry of the audit trail; `before` holds what changed, `after` the whole record."""

    id = serializers.IntegerField()
    at = serializers.DateTimeField()
    actor = serializers.CharField()
    action = serializers.CharField()
    words = serializers.CharField()
    origin = serializers.DictField()
    reason = serializers.CharField(allow_blank=True)
    before = serializers.DictField(allow_null=True)
    after = serializers.DictField(allow_null=True)
    previous_hash = serializers.CharField()
    hash = serializers.CharField()


class LabCardBand(serializers.Serializer[Any]):
    """The band of a published score."""

    order = serializers.IntegerField()
    name = serializers.CharField()
    probability = serializers.FloatField(allow_null=True)
    borderline = serializers.BooleanField()
    neighbour = serializers.CharField(allow_null=True)
    provisional = serializers.BooleanField()


class LabCard(serializers.Serializer[Any]):
    """The score card just published."""

    shoe = serializers.CharField()
    scores = LabScores()
    band = LabCardBand()
    specimens = serializers.IntegerField()
    tested_on = serializers.DateField()
    scoring_model = serializers.CharField()
    protocol = serializers.CharField()
    published_at = serializers.DateTimeField()
    cautions = serializers.ListField(child=serializers.CharField())


class LabRefusal(serializers.Serializer[Any]):
    """Why something was not done."""

    detail = serializers.CharField()
    code = serializers.CharField()
    reasons = serializers.ListField(child=serializers.CharField())
