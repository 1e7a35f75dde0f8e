"""How a fitter graded a set of drawn cases."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models

from core.models import User
from fittings.models.fitting.cutoffs import GradeCutoffs


class CaseResultQuerySet(models.QuerySet["CaseResult"]):
    def readable_by(self, user: Any, *, managed: list[int]) -> CaseResultQuerySet:
        """The user's own results, and those of everybody who works in a store that the user manages."""
        staff = models.Q(person__memberships__store__in=managed)
        return self.filter(models.Q(person=user) | staff).distinct()


class CaseResult(models.Model):
    """One set of drawn cases as one person graded it, scored by the cut-offs that were in use.

    The set is drawn again from its seed; `answers` holds a grade for each case, in the order of the set.
    """

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="case_results")
    at = models.DateTimeField()
    seed = models.BigIntegerField(help_text="From which the set was drawn.")
    cutoffs = models.ForeignKey(GradeCutoffs, on_delete=models.PROTECT, related_name="+")
    answers = models.JSONField(help_text="A grade 0 to 3 for each case.")
    cases = models.PositiveSmallIntegerField()
    right = models.PositiveSmallIntegerField()
    near = models.PositiveSmallIntegerField(help_text="Off by one grade.")

    objects = CaseResultQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["person", "seed"],
                name="case_result_once",
                violation_error_message="This set was answered already.",
            ),
            models.CheckConstraint(
                condition=models.Q(right__lte=models.F("cases") - models.F("near")),
                name="case_result_adds_up",
                violation_error_message="There are more answers than cases.",
            ),
        ]

    def __str__(self) -> str:
        return f"result {self.pk} of drawn cases"
