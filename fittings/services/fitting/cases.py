"""Answers to a set of drawn cases, scored by the practice's cut-offs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from core import audit
from core.domain.errors import DomainError, field_error
from core.gate.access import allowed
from core.models import User
from fittings.domain.fitting.grading_cases import case_score
from fittings.models import CaseResult
from fittings.selectors.fitting.cases import set_of
from fittings.services.fitting.checks import check_record

TRAIN = "fittings.training:write"


@transaction.atomic
def case_result_record(
    *, actor: User, seed: int, cutoffs_pk: int, answers: Sequence[int], at: dt.datetime | None = None
) -> CaseResult:
    """Record how somebody answered a set.

    Raises
    ------
    DomainError
        400 where there is not a grade for each case, 404 for somebody who does not fit or cut-offs that are not there,
        409 for a set that was already answered.
    """
    if not allowed(actor, TRAIN):
        raise DomainError("This set of cases does not exist.", code="not_found", status=404)
    drawn = set_of(seed, cutoffs_pk)
    # Two of the same set at once wait for each other here.
    User.objects.select_for_update(no_key=True).get(pk=actor.pk)
    if CaseResult.objects.filter(person=actor, seed=seed).exists():
        raise DomainError("You have already answered this set. Start a new one.", code="already_answered", status=409)
    try:
        score = case_score(drawn.cases, answers, drawn.cutoffs)
    except ValueError as problem:
        raise field_error("answers", str(problem)) from problem
    result = CaseResult(
        person=actor,
        at=at or timezone.now(),
        seed=seed,
        cutoffs_id=cutoffs_pk,
        answers=list(answers),
        cases=score.cases,
        right=score.right,
        near=score.near,
    )
    check_record(result)
    result.save()
    audit.record(actor=actor, action="fittings.case_result.recorded", subject=result)
    return result
