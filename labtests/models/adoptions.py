"""How one scoring model follows another: a draft that is worked on, and its adoption."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.core.validators import MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q

from labtests.domain.scores.bands import Band
from labtests.domain.scores.scoring import Model
from labtests.models.methods import VERSION_LENGTH, Protocol, ProtocolNumbers, ScoringModel

version_shape = RegexValidator(
    r"\A[A-Za-z0-9][A-Za-z0-9._-]{0,19}\Z", "Use letters, digits, “.”, “_” or “-”, a letter or digit first."
)


class DraftState(models.TextChoices):
    """The state of a draft."""

    OPEN = "open", "draft"
    ADOPTED = "adopted", "adopted"
    DISCARDED = "discarded", "discarded"


class ModelDraft(models.Model):
    """A scoring model in the making. Its author alone changes it; somebody else adopts it as a `ScoringModel`.

    `bands`: [{"name", "lower", "upper", "suits", "runner_mass_max_kg"}], lowest first; they become a scale of the
    catalogue with the adoption, so that nobody outside the lab sees a draft. `fit`: the reference shoes that numbers
    were fitted to, and how well. `revision` counts its changes: who adopts says which one they looked at.
    """

    version = models.CharField(max_length=VERSION_LENGTH, unique=True, validators=[version_shape])
    base = models.ForeignKey(ScoringModel, on_delete=models.PROTECT, related_name="drafts")
    torque_0_nm = models.FloatField()
    torque_100_nm = models.FloatField()
    deflection_0_mm = models.FloatField()
    deflection_100_mm = models.FloatField()
    work_0_j = models.FloatField()
    work_100_j = models.FloatField()
    weight_midfoot = models.FloatField()
    weight_rearfoot = models.FloatField()
    guard_band = models.FloatField(default=0.0, db_default=0.0, validators=[MinValueValidator(0)])
    bands = models.JSONField()
    fit = models.JSONField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=DraftState.choices, default=DraftState.OPEN)
    revision = models.PositiveIntegerField(default=1)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()
    created_at = models.DateTimeField()
    changed_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-created_at", "-pk"]

    def __str__(self) -> str:
        return self.version

    def to_domain(self) -> Model:
        return Model(**{name: getattr(self, name) for name in Model.__slots__})

    def scale(self) -> tuple[Band, ...]:
        return tuple(
            Band(order, band["name"], band["lower"], band["upper"]) for order, band in enumerate(self.bands, start=1)
        )


class Adoption(models.Model):
    """A scoring model taken into use: who, why, and what came of it. Its results are written beside the old ones.

    `withdrawn`: [{"shoe", "reasons"}] of the shoes whose card could not be calculated again.
    """

    model = models.OneToOneField(ScoringModel, on_delete=models.PROTECT, related_name="adoption")
    previous = models.ForeignKey(ScoringModel, on_delete=models.PROTECT, related_name="+")
    draft = models.OneToOneField(ModelDraft, on_delete=models.PROTECT, related_name="adoption")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()
    at = models.DateTimeField()
    tests = models.PositiveIntegerField()
    tests_changed = models.PositiveIntegerField()
    cards = models.PositiveIntegerField()
    cards_changed = models.PositiveIntegerField()
    withdrawn = models.JSONField(default=list, blank=True)

    # Set by the service where the same adoption was sent before; not a column.
    is_repeat: bool = False

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=~Q(model=models.F("previous")), name="adoption_of_another_model"),
        ]

    def __str__(self) -> str:
        return f"{self.model} after {self.previous}"


class ProtocolDraft(ProtocolNumbers):
    """A protocol in the making. Its author alone changes it; somebody else adopts it as a `Protocol`.

    `withdrawn`: the slugs of the shoes whose card, made by the earlier protocol, left the catalogue with the adoption.
    """

    version = models.CharField(max_length=VERSION_LENGTH, unique=True, validators=[version_shape])
    base = models.ForeignKey(Protocol, on_delete=models.PROTECT, related_name="drafts")
    state = models.CharField(max_length=10, choices=DraftState.choices, default=DraftState.OPEN)
    revision = models.PositiveIntegerField(default=1)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()
    created_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    adopted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    adopted_at = models.DateTimeField(null=True, blank=True)
    adopted_because = models.TextField(blank=True)
    withdrawn = models.JSONField(default=list, blank=True)

    class Meta:
        ordering: ClassVar = ["-created_at", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(state=DraftState.ADOPTED)
                | (Q(adopted_by__isnull=False, adopted_at__isnull=False) & ~Q(adopted_because="")),
                name="protocol_draft_adopted_by",
                violation_error_message="An adopted protocol needs who adopted it and why.",
            ),
        ]

    def __str__(self) -> str:
        return self.version
