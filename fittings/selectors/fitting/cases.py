"""Sets of drawn cases, and how people answered them."""

from __future__ import annotations

import secrets
from dataclasses import dataclass

import numpy as np
from django.db.models import QuerySet

from core.domain.errors import DomainError
from core.gate.access import store_ids_where
from core.models import User
from fittings.domain.fitting.grading import GradeCutoffs, cutoffs_from_data
from fittings.domain.fitting.grading_cases import Case, cases_drawn
from fittings.models import CaseResult
from fittings.models import GradeCutoffs as StoredCutoffs
from fittings.selectors.fitting.cutoffs import current_cutoffs

SEED_BITS = 62


@dataclass(frozen=True, slots=True)
class CaseSet:
    """A set that is drawn again from its seed and its cut-offs."""

    seed: int
    cutoffs_pk: int
    cutoffs: GradeCutoffs
    source: str
    cases: tuple[Case, ...]


def new_set() -> CaseSet:
    """A set that nobody has seen, by the cut-offs in use: one query."""
    return set_of(secrets.randbits(SEED_BITS), current_cutoffs().pk)


def set_of(seed: int, cutoffs_pk: int) -> CaseSet:
    """The set of a seed: one query. Raises a 404 for cut-offs that are not there."""
    stored = StoredCutoffs.objects.filter(pk=cutoffs_pk).first()
    if stored is None:
        raise DomainError("This set of cases does not exist.", code="not_found", status=404)
    cutoffs = cutoffs_from_data(stored.data)
    cases = cases_drawn(np.random.default_rng(seed), cutoffs)
    return CaseSet(seed, cutoffs_pk, cutoffs, stored.source, cases)


def results_for(user: User) -> QuerySet[CaseResult]:
    """The user's own results, and those of the staff of every store that the user manages, the last first."""
    managed = store_ids_where(user, "core.staff:manage")
    return CaseResult.objects.readable_by(user, managed=managed).select_related("person", "cutoffs").order_by("-at")


def result_get(user: User, pk: int) -> CaseResult:
    result = results_for(user).filter(pk=pk).first()
    if result is None:
        raise DomainError("This result does not exist, or you may not see it.", code="not_found", status=404)
    return result
