"""A second look at somebody whose fitting is not finished, taken before the first fitter's grades can be seen.

It waits beside the sections of the unfinished fitting, as theirs do, and becomes a second look when it is finished.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from django.db import transaction
from django.utils import timezone

from core import audit
from core.domain.errors import DomainError
from core.models import User
from fittings.domain.fitting.intake import FootIntake
from fittings.domain.refusals import not_here
from fittings.models import Draft, DraftSection, Fitting, SectionName
from fittings.services.fitting.checks import require
from fittings.services.fitting.second_look import check_seen, second_observation_record

NAME = SectionName.SECOND_LOOK


@transaction.atomic
def draft_second_look_save(*, actor: User, key: uuid.UUID, left: FootIntake, right: FootIntake) -> DraftSection:
    """Store what a second fitter saw until the fitting is finished.

    Raises
    ------
    DomainError
        404 for another store or a fitting that is not begun, 409 for one's own fitting or a second look there is
        already, 400 where nothing was seen or a value is out of range.
    """
    draft = Draft.objects.select_for_update(of=("self",)).select_related("store").filter(pk=key).first()
    if draft is None:
        raise not_here("unfinished fitting")
    require(actor, "fittings.second_look:write", draft.store)
    if draft.started_by_id == actor.pk:
        message = "A second look must be taken by somebody other than the fitter who began the fitting."
        raise DomainError(message, code="own_fitting", status=409)
    if draft.sections.filter(name=NAME).exists():
        raise DomainError("A second look was already recorded.", code="already_looked", status=409)
    check_seen(left, right)
    before = audit.snapshot(draft)
    section = DraftSection(draft=draft, name=NAME, content={"left": asdict(left), "right": asdict(right)}, version=1)
    section.saved_by, section.saved_at = actor, timezone.now()
    section.save()
    audit.record(
        actor=actor,
        action="fittings.draft.section_saved",
        subject=draft,
        before=before,
        reason=section.get_name_display(),
        store=draft.store,
    )
    return section


def second_look_take_over(draft: Draft, fitting: Fitting) -> None:
    """Turn the second look of an unfinished fitting into one of the finished fitting, by whoever took it.

    Whoever took it and finished the fitting themselves is its fitter: then there are no two fitters, and it goes.
    """
    section = draft.sections.select_related("saved_by").filter(name=NAME).first()
    if section is None or section.saved_by_id == fitting.fitter_id:
        return
    content: Mapping[str, Any] = section.content
    second_observation_record(
        actor=section.saved_by,
        fitting=fitting,
        left=FootIntake(**content["left"]),
        right=FootIntake(**content["right"]),
        at=section.saved_at,
    )
