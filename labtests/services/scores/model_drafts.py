"""Drafts of scoring models: begun from a model, changed and fitted by their author, discarded or adopted."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone

from catalogue.models import Scale
from core import audit
from core.database.validation import check
from core.domain.errors import DomainError, required_reason
from core.models import User
from labtests.domain.scores.model_fit import ModelFit, ReferenceShoe, fit_model
from labtests.domain.scores.model_rules import (
    FITTED,
    NUMBERS,
    BandText,
    band_problems,
    guard_problems,
    number_problems,
)
from labtests.models import DraftState, ModelDraft, ScoringModel
from labtests.selectors.scores import methods
from labtests.services.rights import needs


def bands_json(bands: Sequence[BandText]) -> list[dict[str, Any]]:
    """The bands as a draft keeps them: each begins where the one below ends."""
    edges = [None, *(band.upper for band in bands)]
    return [
        {
            "name": band.name.strip(),
            "lower": lower,
            "upper": band.upper,
            "suits": band.suits.strip(),
            "runner_mass_max_kg": band.runner_mass_max_kg,
        }
        for lower, band in zip(edges, bands, strict=False)
    ]


@needs("labtests.model:draft")
@transaction.atomic
def model_draft_create(*, actor: User, version: str, reason: str, source: ScoringModel | ModelDraft) -> ModelDraft:
    """Begin a draft with the numbers and bands of a model or of another draft; it follows the model in use."""
    reason = required_reason(reason)
    if ScoringModel.objects.filter(version=version).exists() or Scale.objects.filter(version=version).exists():
        message = f"There is already a model or scale {version}; choose another name."
        raise DomainError(message, code="version_taken", status=409, fields={"version": [message]})
    if isinstance(source, ModelDraft):
        bands = source.bands
    else:
        names = ("name", "lower", "upper", "suits", "runner_mass_max_kg")
        bands = list(source.scale.bands.order_by("order").values(*names))
    now = timezone.now()
    draft = ModelDraft(
        version=version,
        base=methods.scoring_model_current(),
        bands=bands,
        author=actor,
        reason=reason,
        created_at=now,
        changed_at=now,
        **{name: getattr(source, name) for name in NUMBERS},
    )
    check(draft)
    draft.save()
    audit.record(actor=actor, action="labtests.model_draft.created", subject=draft, reason=reason)
    return draft


def _own_open(draft: ModelDraft, actor: User, revision: int) -> ModelDraft:
    """Lock a draft that its author is about to change, as they saw it."""
    draft = ModelDraft.objects.select_for_update().get(pk=draft.pk)
    if draft.author_id != actor.pk:
        message = f"Only {draft.author.display_name} can change the draft {draft.version}; start one of your own."
        raise DomainError(message, code="not_your_draft", status=403)
    check_open(draft)
    check_revision(draft, revision)
    return draft


def check_open(draft: ModelDraft) -> None:
    if draft.state == DraftState.ADOPTED:
        message = (
            f"The draft {draft.version} was already adopted by {draft.adoption.by.display_name}; look at it again."
        )
        raise DomainError(message, code="already_adopted", status=409)
    if draft.state == DraftState.DISCARDED:
        raise DomainError(f"The draft {draft.version} was discarded; start another.", code="discarded", status=409)


def check_revision(draft: ModelDraft, revision: int) -> None:
    if draft.revision != revision:
        message = f"The draft {draft.version} was changed after you opened it; reload the page."
        raise DomainError(message, code="draft_changed", status=409)


def _save(draft: ModelDraft, *, actor: User, action: str, reason: str) -> ModelDraft:
    before = audit.snapshot(draft)
    draft.revision += 1
    draft.changed_at = timezone.now()
    check(draft)
    draft.save()
    audit.record(actor=actor, action=action, subject=draft, before=before, reason=reason)
    return draft


@needs("labtests.model:draft")
@transaction.atomic
def model_draft_edit(
    *,
    actor: User,
    draft: ModelDraft,
    revision: int,
    numbers: Mapping[str, float],
    bands: Sequence[BandText],
    reason: str,
) -> ModelDraft:
    """Change a draft's anchors, weights, guard band, bands and reason. Numbers that differ from a fit forget it."""
    reason = required_reason(reason)
    draft = _own_open(draft, actor, revision)
    problems = number_problems(numbers) | band_problems(bands)
    problems = problems or guard_problems(numbers["guard_band"], bands)
    if problems:
        message = " ".join(sentence for sentences in problems.values() for sentence in sentences)
        raise DomainError(message, code="bad_model", fields=problems)
    if any(getattr(draft, name) != numbers[name] for name in FITTED):
        draft.fit = None
    for name in NUMBERS:
        setattr(draft, name, numbers[name])
    draft.bands, draft.reason = bands_json(bands), reason
    return _save(draft, actor=actor, action="labtests.model_draft.changed", reason=reason)


def draft_fit(draft: ModelDraft, shoes: Sequence[ReferenceShoe]) -> ModelFit:
    """Fit a draft to reference shoes. Writes nothing."""
    try:
        fit = fit_model(shoes, base=draft.to_domain(), version=draft.version)
    except ValueError as problem:
        message = f"These references do not make a model: {problem}."
        raise DomainError(message, code="bad_references", fields={"references": [message]}) from problem
    numbers = {name: getattr(fit.model, name) for name in NUMBERS}
    problems = number_problems(numbers)
    if problems:
        message = "The fit asks for numbers that no model may have: " + " ".join(
            sentence for sentences in problems.values() for sentence in sentences
        )
        raise DomainError(message, code="bad_references", fields={"references": [message]})
    return fit


@needs("labtests.model:draft")
@transaction.atomic
def model_draft_use_fit(*, actor: User, draft: ModelDraft, revision: int, shoes: Sequence[ReferenceShoe]) -> ModelDraft:
    """Take the numbers that the reference shoes ask for into the draft, and keep what they were fitted to."""
    draft = _own_open(draft, actor, revision)
    fit = draft_fit(draft, shoes)
    for name in NUMBERS:
        setattr(draft, name, getattr(fit.model, name))
    draft.fit = {
        "parts": [dataclasses.asdict(part) for part in fit.parts],
        "held": list(fit.held),
        "shoes": [dataclasses.asdict(shoe) for shoe in shoes],
    }
    message = f"fitted to {len(shoes)} reference shoes"
    return _save(draft, actor=actor, action="labtests.model_draft.fitted", reason=message)


@needs("labtests.model:draft")
@transaction.atomic
def model_draft_discard(*, actor: User, draft: ModelDraft, reason: str) -> ModelDraft:
    """Give a draft up; it stays readable and in the trail."""
    reason = required_reason(reason)
    draft = ModelDraft.objects.select_for_update().get(pk=draft.pk)
    check_open(draft)
    draft.state = DraftState.DISCARDED
    return _save(draft, actor=actor, action="labtests.model_draft.discarded", reason=reason)
