"""The cut-offs by which degrees become grades."""

from __future__ import annotations

from dataclasses import dataclass

from core.domain.errors import DomainError
from fittings.domain.fitting.grading import GradeCutoffs, cutoffs_from_data
from fittings.models import GradeCutoffs as StoredCutoffs


@dataclass(frozen=True, slots=True)
class CurrentCutoffs:
    """The cut-offs in use, their key, and where they come from."""

    pk: int
    cutoffs: GradeCutoffs
    source: str


def current_cutoffs() -> CurrentCutoffs:
    """The cut-offs that feet are graded by now."""
    stored = StoredCutoffs.objects.filter(is_current=True).first()
    if stored is None:
        raise DomainError("No grade cut-offs are in use. Run the migrations.", code="no_cutoffs", status=409)
    return CurrentCutoffs(stored.pk, cutoffs_from_data(stored.data), stored.source)
