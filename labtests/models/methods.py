"""How tests are made and scored, stored as data with a version. A version is never edited: a new one is made."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from labtests.domain.scores import protocol as protocols
from labtests.domain.scores.scoring import Model

VERSION_LENGTH = 20


def all_calibrations() -> list[str]:
    return list(protocols.CALIBRATED)


class ProtocolNumbers(models.Model):
    """What a protocol says: `limits` has for each condition `nominal`, `low`, `high` (null where open).

    The shoe is twisted to `torsion_deg` and pressed to `compression_n`; fewer repeats than `repeats_wanted`, or a
    quantity of `calibrations` that is not in calibration, holds a test.
    """

    limits = models.JSONField()
    torsion_deg = models.FloatField(default=protocols.P1.torsion_deg, db_default=protocols.P1.torsion_deg)
    compression_n = models.FloatField(default=protocols.P1.compression_n, db_default=protocols.P1.compression_n)
    repeats_wanted = models.PositiveSmallIntegerField(
        default=protocols.P1.repeats_wanted, db_default=protocols.P1.repeats_wanted
    )
    calibrations = models.JSONField(default=all_calibrations, db_default=all_calibrations())

    class Meta:
        abstract = True

    def to_domain(self) -> protocols.Protocol:
        limits = {name: protocols.Limit(**self.limits[name]) for name in protocols.WORDS}
        return protocols.Protocol(
            version=str(self),
            torsion_deg=self.torsion_deg,
            compression_n=self.compression_n,
            repeats_wanted=self.repeats_wanted,
            calibrations=tuple(self.calibrations),
            **limits,
        )


class Protocol(ProtocolNumbers):
    """A version of the protocol. Tests keep the one that they were judged by."""

    version = models.CharField(max_length=VERSION_LENGTH, unique=True)
    is_current = models.BooleanField(default=False)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    reason = models.TextField()
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering: ClassVar = ["created_at", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["is_current"], condition=Q(is_current=True), name="protocol_one_current")
        ]

    def __str__(self) -> str:
        return self.version


class ScoringModel(models.Model):
    """Anchors and weights of the four scores, and the scale of bands that they are read on."""

    version = models.CharField(max_length=VERSION_LENGTH, unique=True)
    scale = models.ForeignKey("catalogue.Scale", on_delete=models.PROTECT, related_name="+")
    torque_0_nm = models.FloatField()
    torque_100_nm = models.FloatField()
    deflection_0_mm = models.FloatField()
    deflection_100_mm = models.FloatField()
    work_0_j = models.FloatField()
    work_100_j = models.FloatField()
    weight_midfoot = models.FloatField()
    weight_rearfoot = models.FloatField()
    # Points inside the limits of its band that a stability needs to count as within it.
    guard_band = models.FloatField(default=0.0, db_default=0.0, validators=[MinValueValidator(0)])
    is_current = models.BooleanField(default=False)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    reason = models.TextField()
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering: ClassVar = ["created_at", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["is_current"], condition=Q(is_current=True), name="scoring_model_one_current"
            ),
            models.CheckConstraint(
                condition=~Q(torque_0_nm=F("torque_100_nm"))
                & ~Q(deflection_0_mm=F("deflection_100_mm"))
                & ~Q(work_0_j=F("work_100_j")),
                name="scoring_model_anchors_differ",
                violation_error_message="The anchors at 0 and 100 must differ.",
            ),
        ]

    def __str__(self) -> str:
        return self.version

    def to_domain(self) -> Model:
        return Model(**{name: getattr(self, name) for name in Model.__slots__})
