"""Unfinished fittings: the one that an address names, and those that wait for somebody to go on."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from core.models import Store
from fittings.domain.refusals import not_here
from fittings.models import Draft, DraftSection, Fitting, SectionName


@dataclass(frozen=True, slots=True)
class DraftState:
    """What is behind the address of a fitting's page: nothing yet, an unfinished fitting, or a finished one."""

    key: uuid.UUID
    draft: Draft | None = None
    sections: dict[str, DraftSection] = field(default_factory=dict)
    fitting: Fitting | None = None
    has_second_look: bool = False

    @property
    def store(self) -> Store | None:
        return self.draft.store if self.draft else None

    def version(self, name: str) -> int:
        section = self.sections.get(name)
        return section.version if section else 0


def draft_state(user: Any, key: uuid.UUID) -> DraftState:
    """What is behind a key. Raises a 404 for what is of another store; a key that nobody used yet is free."""
    own = set(user.store_ids())
    draft = Draft.objects.select_related("store", "customer", "saved_by", "started_by").filter(pk=key).first()
    if draft is not None:
        _check_own(draft.store_id, own)
        sections = {row.name: row for row in draft.sections.select_related("saved_by")}
        has_second_look = sections.pop(SectionName.SECOND_LOOK, None) is not None
        return DraftState(key, draft, sections, has_second_look=has_second_look)
    fitting = Fitting.objects.filter(submission=key).first()
    if fitting is not None:
        _check_own(fitting.store_id, own)
    return DraftState(key, fitting=fitting)


def _check_own(store_id: int, own: set[int]) -> None:
    if store_id not in own:
        raise not_here("fitting")


def may_look_second(user: Any, state: DraftState) -> bool:
    """Whether the user may take a second look at the person of an unfinished fitting, which nobody has taken yet."""
    return state.draft is not None and not state.has_second_look and state.draft.started_by_id != user.pk


def drafts_open(user: Any) -> QuerySet[Any]:
    """Unfinished fittings of the user's stores, the one touched last first; `may_look_second` as the function says."""
    looked = Exists(DraftSection.objects.filter(draft=OuterRef("pk"), name=SectionName.SECOND_LOOK))
    drafts = Draft.objects.visible_to(user).annotate(may_look_second=~looked & ~Q(started_by=user))
    return drafts.select_related("store", "customer", "started_by", "saved_by")
