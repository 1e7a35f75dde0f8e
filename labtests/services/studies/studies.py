"""Gauge studies: planned and closed. Their tests come in as any other; nothing is copied into a study."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from core import audit
from core.database.validation import from_validation_error
from core.domain.errors import DomainError, field_error, required_reason
from core.domain.quoting import quoted
from core.gate.access import allowed
from core.models import User
from labtests.models import GaugeStudy, GaugeStudyOperator, GaugeStudyPart, Rig
from labtests.selectors.studies.studies import people_named, specimens_named
from labtests.services.rights import needs

MOST = {"specimens": 50, "operators": 20}


def _checked(field: str, names: Sequence[str], known: set[str]) -> list[str]:
    """Names of a plan without doubles, all of them known, two or more."""
    listed = list(dict.fromkeys(name.strip() for name in names if name.strip()))
    if not 2 <= len(listed) <= MOST[field]:
        raise field_error(field, f"{field} must be 2 to {MOST[field]}, got {len(listed)}", code="too_small")
    unknown = [name for name in listed if name not in known]
    if unknown:
        what = "specimen" if field == "specimens" else "person of the lab"
        raise field_error(
            field, f"there is no {what} {', '.join(quoted(name) for name in unknown[:5])}", code="unknown"
        )
    return listed


@needs("labtests.study:write")
@transaction.atomic
def gauge_study_plan(
    *,
    actor: User,
    title: str,
    rig: Rig,
    specimens: Sequence[str],
    operators: Sequence[str],
    trials: int,
    begins_on: dt.date,
    reason: str,
    at: dt.datetime | None = None,
) -> GaugeStudy:
    """Plan a study: every operator is to test every specimen `trials` times on the rig.

    Parameters
    ----------
    specimens : codes, 2 to 50
    operators : sign-in names of people of the lab, 2 to 20
    trials : 2 to 20
    """
    required_reason(reason)
    known = specimens_named([code.strip() for code in specimens])
    codes = _checked("specimens", specimens, set(known))
    people = people_named([name.strip() for name in operators])
    may_test = {name for name, user in people.items() if allowed(user, "labtests.upload:create")}
    names = _checked("operators", operators, may_test)
    study = GaugeStudy(
        title=title.strip(),
        rig=rig,
        trials=trials,
        begins_on=begins_on,
        reason=reason.strip(),
        planned_by=actor,
        planned_at=at or timezone.now(),
    )
    try:
        study.full_clean(exclude=["ends_on", "closed_by", "closed_at", "closed_because"])
    except ValidationError as problem:
        raise from_validation_error(problem) from problem
    study.save()
    GaugeStudyPart.objects.bulk_create(GaugeStudyPart(study=study, specimen=known[code]) for code in codes)
    GaugeStudyOperator.objects.bulk_create(GaugeStudyOperator(study=study, operator=people[name]) for name in names)
    audit.record(actor=actor, action="labtests.gauge_study.planned", subject=study, reason=study.reason)
    return study


@needs("labtests.study:write")
@transaction.atomic
def gauge_study_close(*, actor: User, study: GaugeStudy, reason: str, at: dt.datetime | None = None) -> GaugeStudy:
    """End a study: tests made after this day are no longer its."""
    required_reason(reason)
    moment = at or timezone.now()
    study = GaugeStudy.objects.select_for_update(of=("self",)).select_related("rig").get(pk=study.pk)
    if study.closed_at is not None:
        raise DomainError(f"The {study} is already closed.", code="closed", status=409)
    before = audit.snapshot(study)
    study.closed_by, study.closed_at, study.closed_because = actor, moment, reason.strip()
    study.ends_on = max(study.begins_on, timezone.localtime(moment).date())
    study.save(update_fields=["closed_by", "closed_at", "closed_because", "ends_on"])
    audit.record(
        actor=actor, action="labtests.gauge_study.closed", subject=study, before=before, reason=study.closed_because
    )
    return study
