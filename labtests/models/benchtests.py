"""Bench tests: what was measured, what was read from it, what it scored, and what a reviewer said."""

from __future__ import annotations

from typing import ClassVar

import numpy as np
from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.functional import cached_property

from core.domain.units import FloatArray
from labtests.domain.uncertainty.propagation import Budget
from labtests.domain.uncertainty.stored_budgets import read_budgets
from labtests.models.methods import Protocol, ScoringModel
from labtests.models.rigs import Rig
from labtests.models.specimens import Specimen, SpecimenKind
from labtests.models.uploads import NAME_LENGTH, Upload

# Little-endian whatever the machine, so that a dump reads the same everywhere.
POINTS = np.dtype("<f8")


class State(models.TextChoices):
    """The state of a test."""

    HELD = "held", "held"
    ACCEPTED = "accepted", "waiting for review"
    APPROVED = "approved", "approved"
    VOID = "void", "void"


INCIDENT = "incident"
"""The code of the reason that holds a test which an incident put in doubt."""


class Source(models.TextChoices):
    """What was submitted of a test."""

    CURVES = "curves", "curves"
    READINGS = "readings", "readings"


class BenchTestQuerySet(models.QuerySet["BenchTest"]):
    def waiting(self) -> BenchTestQuerySet:
        """Tests that a reviewer has to decide on."""
        return self.filter(state__in=[State.ACCEPTED, State.HELD])

    def of_unworn_shoes(self) -> BenchTestQuerySet:
        """Tests of unworn specimens that are not check shoes, whose tests describe the rig instead."""
        samples = self.filter(Q(worn_km__isnull=True) | Q(worn_km=0)).exclude(specimen__kind=SpecimenKind.CHECK)
        return samples.exclude(specimen__check_duties__since__lte=F("performed_at__date"))

    def publishable(self) -> BenchTestQuerySet:
        """Approved tests of unworn samples, within the protocol in use; those of check shoes show how the rig measures.

        Scores of two protocols are never mixed on one scale.
        """
        return self.of_unworn_shoes().filter(state=State.APPROVED, is_released=False, protocol__is_current=True)


class BenchTest(models.Model):
    """One test of one specimen. Measured values are never edited: an amendment makes a successor.

    A test that was approved counts until a reviewer accepts its successor; any other is void as soon as it has one.

    `is_released`: a reviewer put it on record although it was outside the protocol; it is never published. The name is
    that of the audit trail's first entries, which hold the columns of a test by name.
    """

    specimen = models.ForeignKey(Specimen, on_delete=models.PROTECT, related_name="tests")
    # Without an index of its own: the one by rig and number serves it.
    rig = models.ForeignKey(Rig, on_delete=models.PROTECT, related_name="tests", db_index=False)
    protocol = models.ForeignKey(Protocol, on_delete=models.PROTECT, related_name="+")
    operator = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    upload = models.ForeignKey(Upload, on_delete=models.PROTECT, related_name="tests")
    file_name = models.CharField(max_length=NAME_LENGTH)
    file_sha256 = models.CharField(max_length=64)
    source = models.CharField(max_length=10, choices=Source.choices)
    performed_at = models.DateTimeField(db_index=True)

    conditioned_h = models.FloatField()
    temperature_c = models.FloatField()
    heel_clamp_n = models.FloatField()
    forefoot_clamp_n = models.FloatField()
    worn_km = models.FloatField(null=True)
    mass_g = models.FloatField(null=True)
    stack_heel_mm = models.FloatField(null=True)
    stack_forefoot_mm = models.FloatField(null=True)
    extra = models.JSONField(default=dict)

    # Means of the repeats; null where no repeat gave them.
    torque_15_nm = models.FloatField(null=True)
    deflection_mm = models.FloatField(null=True)
    work_j = models.FloatField(null=True)
    work_is_estimated = models.BooleanField(default=False)
    energy_return = models.FloatField(null=True)

    state = models.CharField(max_length=10, choices=State.choices)
    is_released = models.BooleanField(default=False)
    # [{"code": …, "message": …}]: why it was held.
    reasons = models.JSONField(default=list)
    reviewed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    reviewed_at = models.DateTimeField(null=True)
    review_reason = models.TextField(blank=True)
    amends = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="successor")

    objects = BenchTestQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-performed_at", "-pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["file_sha256", "specimen"], name="bench_test_file_once"),
            models.CheckConstraint(
                condition=~Q(state=State.HELD) | ~Q(reasons=[]),
                name="bench_test_held_because",
                violation_error_message="A held test needs its reasons.",
            ),
            models.CheckConstraint(
                condition=~Q(state=State.APPROVED) | Q(reviewed_by__isnull=False, reviewed_at__isnull=False),
                name="bench_test_approved_by",
                violation_error_message="An approved test needs its reviewer.",
            ),
            models.CheckConstraint(
                condition=Q(is_released=False) | ~Q(state__in=[State.HELD, State.ACCEPTED]),
                name="bench_test_released_is_reviewed",
                violation_error_message="A released test has been reviewed.",
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["state", "-performed_at"], name="bench_test_by_state"),
            # The newest tests of a rig, whose scatter is its history.
            models.Index(fields=["rig", "id"], name="bench_test_by_rig"),
        ]

    def __str__(self) -> str:
        return f"test {self.pk} of {self.specimen.code}"

    @property
    def is_in_doubt(self) -> bool:
        """Whether an incident put it in doubt and nobody has decided about it since."""
        return self.state == State.HELD and any(entry["code"] == INCIDENT for entry in self.reasons)


class CurveKind(models.TextChoices):
    """Which test a curve belongs to."""

    TORSION = "torsion", "torsion"
    COMPRESSION = "compression", "heel compression"


class Branch(models.TextChoices):
    """Which way the rig was moving."""

    LOADING = "loading", "loading"
    UNLOADING = "unloading", "unloading"


class Curve(models.Model):
    """One branch of one repeat as recorded: position (° or mm) and load (N·m or N), 8-byte floats."""

    # The unique constraint's index begins with the test.
    test = models.ForeignKey(BenchTest, on_delete=models.PROTECT, related_name="curves", db_index=False)
    kind = models.CharField(max_length=12, choices=CurveKind.choices)
    repeat = models.PositiveSmallIntegerField()
    branch = models.CharField(max_length=10, choices=Branch.choices)
    position = models.BinaryField()
    load = models.BinaryField()

    class Meta:
        ordering: ClassVar = ["test", "-kind", "repeat", "branch"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["test", "kind", "repeat", "branch"], name="curve_once"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.repeat} {self.branch} of test {self.test_id}"

    def points(self) -> tuple[FloatArray, FloatArray]:
        """Position and load as arrays."""
        return np.frombuffer(self.position, POINTS), np.frombuffer(self.load, POINTS)


class Reading(models.Model):
    """What one repeat gave. `conditions` holds those of the repeat where a readings file says them for each."""

    # The unique constraint's index begins with the test.
    test = models.ForeignKey(BenchTest, on_delete=models.PROTECT, related_name="readings", db_index=False)
    repeat = models.PositiveSmallIntegerField()
    torque_15_nm = models.FloatField(null=True)
    zero_offset_nm = models.FloatField(null=True)
    deflection_mm = models.FloatField(null=True)
    contact_mm = models.FloatField(null=True)
    work_j = models.FloatField(null=True)
    energy_return = models.FloatField(null=True)
    conditions = models.JSONField(null=True)

    class Meta:
        ordering: ClassVar = ["test", "repeat"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["test", "repeat"], name="reading_once")]

    def __str__(self) -> str:
        return f"repeat {self.repeat} of test {self.test_id}"


class Result(models.Model):
    """The four scores of a test by one scoring model, unrounded, with the parts of their standard uncertainty.

    u² = u_a² + u_b² and what the day and the set-up add. The parts are null where the uncertainty is not known.
    `budgets` is to be read by `budget_tables`; it is empty where an adoption wrote the result, whose budget follows
    from that of the result it was made of. Such rows are written by the million: triggers take the place of foreign
    keys, for the others; these are sealed in the trail.
    """

    test = models.ForeignKey(
        BenchTest, on_delete=models.PROTECT, related_name="results", db_constraint=False, db_index=False
    )
    scoring_model = models.ForeignKey(
        ScoringModel, on_delete=models.PROTECT, related_name="results", db_constraint=False, db_index=False
    )
    adoption = models.ForeignKey(
        "Adoption", on_delete=models.PROTECT, related_name="results", null=True, db_constraint=False, db_index=False
    )
    stability = models.FloatField()
    midfoot = models.FloatField()
    rearfoot = models.FloatField()
    cushioning = models.FloatField()
    cushioning_estimated = models.BooleanField(default=False)
    stability_u = models.FloatField(null=True)
    midfoot_u = models.FloatField(null=True)
    rearfoot_u = models.FloatField(null=True)
    cushioning_u = models.FloatField(null=True)
    stability_u_a = models.FloatField(null=True)
    midfoot_u_a = models.FloatField(null=True)
    rearfoot_u_a = models.FloatField(null=True)
    cushioning_u_a = models.FloatField(null=True)
    stability_u_b = models.FloatField(null=True)
    midfoot_u_b = models.FloatField(null=True)
    rearfoot_u_b = models.FloatField(null=True)
    cushioning_u_b = models.FloatField(null=True)
    # Degrees of freedom, null where unlimited or not known: effective ones of each score, of repeats and of set-ups.
    stability_df = models.FloatField(null=True)
    midfoot_df = models.FloatField(null=True)
    rearfoot_df = models.FloatField(null=True)
    cushioning_df = models.FloatField(null=True)
    repeats_df = models.FloatField(null=True)
    setup_df = models.FloatField(null=True)
    correlation_rearfoot_cushioning = models.FloatField(null=True)
    budgets = models.JSONField(default=dict)

    class Meta:
        ordering: ClassVar = ["test", "scoring_model"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["test", "scoring_model"], name="result_once_a_model"),
        ]

    def __str__(self) -> str:
        return f"test {self.test_id} by {self.scoring_model}"

    @cached_property
    def budget_tables(self) -> dict[str, Budget]:
        """The budget of each score."""
        return read_budgets(self.budgets)
