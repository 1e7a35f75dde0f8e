"""Saving what a fitting's page sends: one section by itself, or everything that was written."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field

from django.http import HttpRequest

from core.domain.errors import DomainError
from core.models import Store
from core.web.requests import actor_of
from fittings import services
from fittings.forms.fitting.draft_page import DraftPage, stored_data
from fittings.forms.fitting.section import Section
from fittings.forms.fitting.sections import PersonSection
from fittings.models import DraftSection
from fittings.presentation.fitting import draft_states
from fittings.presentation.fitting.draft_states import SectionStanding
from fittings.selectors.fitting.drafts import DraftState
from fittings.services.fitting.draft import NotKeptYet, SectionChanged, Stamp, Whom

COUNT_MAX = 2**31 - 1


@dataclass(slots=True)
class Saving:
    """What became of each section."""

    standings: dict[str, SectionStanding] = field(default_factory=dict)

    def _any(self, kind: str) -> bool:
        return any(standing.kind == kind for standing in self.standings.values())

    @property
    def conflicts(self) -> bool:
        return self._any("changed")

    @property
    def holds(self) -> bool:
        """Something was written that is not kept for want of consent."""
        return self._any("held")

    @property
    def is_clean(self) -> bool:
        return not self.conflicts and not self._any("refused")


def _count(text: str) -> int:
    """A count that the page carries along; what is none counts as 0, which at worst asks which of two is meant."""
    return min(int(text), COUNT_MAX) if text.isascii() and text.isdecimal() and len(text) < 12 else 0


def stamp_of(request: HttpRequest, name: str) -> Stamp:
    try:
        page = uuid.UUID(request.POST.get("page", ""))
    except ValueError:
        page = None
    return Stamp(_count(request.POST.get(f"{name}-version", "")), page, _count(request.POST.get("edit", "")))


def section_saved(
    request: HttpRequest, state: DraftState, store: Store, forms: Section, *, over: int | None = None
) -> DraftSection:
    """Save one section that is in order; `over` names the version that is knowingly written over.

    Raises what the services raise; a customer who does not agree ends what was kept.
    """
    actor, name = actor_of(request), forms.name.value
    stamp = stamp_of(request, name)
    if over is not None:
        stamp = Stamp(over, stamp.page, stamp.edit)
    if not isinstance(forms, PersonSection):
        return services.section_save(actor=actor, key=state.key, name=name, content=forms.content(), stamp=stamp)
    said = forms.person.person()
    if forms.person.cleaned_data.get("consent") == "no":
        services.draft_discard(actor=actor, key=state.key)
        raise NotKeptYet
    whom = Whom(said, forms.person.cleaned_data.get("known"))
    return services.person_save(actor=actor, store=store, key=state.key, whom=whom, stamp=stamp)


def save_sections(request: HttpRequest, state: DraftState, store: Store, page: DraftPage, keep: str) -> Saving:
    """Save every section that differs from what is kept; `keep` is "name:version" of one that is written over."""
    kept = Saving()
    keep_name, _, keep_version = keep.partition(":")
    page.check()
    for name in page.sections:
        over = _count(keep_version) if name == keep_name else None
        kept.standings[name] = _saved(request, state, page, name, store=store, over=over)
    return kept


def _saved(
    request: HttpRequest, state: DraftState, page: DraftPage, name: str, *, store: Store, over: int | None
) -> SectionStanding:
    forms = page.sections[name]
    version = stamp_of(request, name).version
    if forms.problem_count():
        return draft_states.refused(forms, version)
    content, stored = forms.content(), stored_data(state, name)
    if not content and stored is None:
        return draft_states.empty()
    if state.draft is not None and stored is not None and content == dict(stored):
        return draft_states.as_kept(state, name, request.user)
    try:
        section = section_saved(request, state, store, forms, over=over)
    except NotKeptYet:
        return draft_states.held()
    except SectionChanged as problem:
        return draft_states.changed(problem, forms, version)
    except DomainError as problem:
        if problem.status in (404, 409):
            raise
        page.add_problems(problem.fields, problem.message)
        return draft_states.refused(forms, version)
    return draft_states.saved(section, request.user)
