"""Temperature studies: planned and proposed by who tests, adopted or discarded by a reviewer who did not propose."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils import timezone

from core import audit
from core.database.validation import check
from core.domain.errors import DomainError, field_error, required_reason
from core.domain.quoting import quoted
from core.gate.two_people import need_another
from core.models import User
from labtests.models import Rig, TemperatureState, TemperatureStudy
from labtests.selectors.studies.studies import specimen_named
from labtests.selectors.studies.temperature import temperature_figures, temperature_progress
from labtests.services.rights import needs


@needs("labtests.study:write")
@transaction.atomic
def temperature_study_plan(
    *, actor: User, title: str, rig: Rig, specimen: str, begins_on: dt.date, reason: str, at: dt.datetime | None = None
) -> TemperatureStudy:
    """Plan a study: one specimen, by its code, is to be tested on a rig at several temperatures from a day on."""
    reason = required_reason(reason)
    known = specimen_named(specimen)
    if known is None:
        raise field_error("specimen", f"there is no specimen {quoted(specimen.strip())}", code="unknown")
    study = TemperatureStudy(
        title=title.strip(),
        rig=rig,
        specimen=known,
        begins_on=begins_on,
        reason=reason,
        planned_by=actor,
        planned_at=at or timezone.now(),
    )
    check(study)
    study.save()
    audit.record(actor=actor, action="labtests.temperature_study.planned", subject=study, reason=reason)
    return study


def _locked(study: TemperatureStudy, *, states: set[str]) -> TemperatureStudy:
    study = TemperatureStudy.objects.select_for_update(of=("self",)).select_related("rig", "specimen").get(pk=study.pk)
    if study.state not in states:
        words = f"The {study} is {TemperatureState(study.state).label}; this can no longer be done."
        raise DomainError(words, code="wrong_state", status=409)
    return study


@needs("labtests.study:write")
@transaction.atomic
def temperature_study_propose(
    *, actor: User, study: TemperatureStudy, reason: str, at: dt.datetime | None = None
) -> TemperatureStudy:
    """End the testing and propose the coefficients that follow from it; later tests change nothing."""
    reason = required_reason(reason)
    study = _locked(study, states={TemperatureState.OPEN})
    before = audit.snapshot(study)
    now = at or timezone.now()
    study.figures = temperature_figures(temperature_progress(study))
    study.state = TemperatureState.PROPOSED
    study.ends_on = max(study.begins_on, timezone.localtime(now).date())
    study.proposed_by, study.proposed_at, study.proposed_because = actor, now, reason
    check(study)
    study.save()
    audit.record(actor=actor, action="labtests.temperature_study.proposed", subject=study, before=before, reason=reason)
    return study


@needs("labtests.study:adopt")
@transaction.atomic
def temperature_study_adopt(*, actor: User, study: TemperatureStudy, reason: str) -> TemperatureStudy:
    """Take proposed coefficients into use for tests that come in from now on; earlier ones keep their budgets."""
    reason = required_reason(reason)
    # All of them, in one order: two reviewers who adopt two studies at once wait for each other.
    studies = list(TemperatureStudy.objects.select_for_update().order_by("pk"))
    study = _locked(study, states={TemperatureState.PROPOSED})
    need_another(
        "labtests.study:adopt",
        actor,
        involved=[study.proposed_by_id],
        message="You proposed these coefficients. Somebody else has to adopt them.",
    )
    for earlier in (one for one in studies if one.state == TemperatureState.ADOPTED):
        before = audit.snapshot(earlier)
        earlier.state = TemperatureState.REPLACED
        earlier.save(update_fields=["state"])
        audit.record(
            actor=actor, action="labtests.temperature_study.replaced", subject=earlier, before=before, reason=reason
        )
    return _decide(study, actor, TemperatureState.ADOPTED, "labtests.temperature_study.adopted", reason)


@needs("labtests.study:write")
@transaction.atomic
def temperature_study_discard(*, actor: User, study: TemperatureStudy, reason: str) -> TemperatureStudy:
    """Give a study up that is not in use; it stays readable and in the trail."""
    reason = required_reason(reason)
    study = _locked(study, states={TemperatureState.OPEN, TemperatureState.PROPOSED})
    return _decide(study, actor, TemperatureState.DISCARDED, "labtests.temperature_study.discarded", reason)


def _decide(
    study: TemperatureStudy, actor: User, state: TemperatureState, action: str, reason: str
) -> TemperatureStudy:
    before = audit.snapshot(study)
    study.state, study.decided_by, study.decided_at, study.decided_because = state, actor, timezone.now(), reason
    check(study)
    study.save()
    audit.record(actor=actor, action=action, subject=study, before=before, reason=reason)
    return study
