"""Taking a drafted scoring model into use: every test rescored, every score card made again, in one transaction."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
from django.db import transaction
from django.utils import timezone

from catalogue.models import Scale
from catalogue.services import BandText, scale_create, score_cards_replace
from core import audit
from core.audit import Change
from core.database.array_rows import Seal, insert_rows
from core.database.validation import validate
from core.domain.coverage import limited_all
from core.domain.errors import DomainError, required_reason
from core.gate.two_people import need_another
from core.models import User
from labtests.domain.scores.model_rules import NUMBERS
from labtests.domain.scores.scoring import SCORES
from labtests.models import Adoption, DraftState, ModelDraft, Result, ScoringModel
from labtests.selectors.scores import methods
from labtests.selectors.scores.rescoring import DryRun, ShoeChange, dry_run
from labtests.services.locks import change_model
from labtests.services.rights import needs
from labtests.services.scores.cards import scores_to_publish
from labtests.services.scores.curves import curves_publish
from labtests.services.scores.model_drafts import check_open, check_revision
from labtests.services.scores.pools import pools_refresh


def draft_dry_run(draft: ModelDraft) -> DryRun:
    """Work out what adopting a draft would do now. Writes nothing."""
    current = methods.scoring_model_current()
    bands = methods.bands_of(current.scale)
    return dry_run(current, bands, model=draft.to_domain(), bands=draft.scale())


@needs("labtests.model:adopt")
@transaction.atomic
def model_adopt(
    *,
    actor: User,
    draft: ModelDraft,
    revision: int,
    reason: str,
    withdraw: bool = False,
    at: dt.datetime | None = None,
) -> Adoption:
    """Take a draft into use.

    Parameters
    ----------
    revision : of the draft that the actor previewed
    withdraw : whether shoes whose card can't be made again may leave the catalogue

    Returns
    -------
    Adoption
        With `is_repeat` set where the actor had adopted the draft before; then nothing was written.

    Raises
    ------
    DomainError
        403 for the draft's author; 409 where somebody was faster, the draft was changed or made for another model, or
        shoes would leave the catalogue unasked, which `fields["withdraw"]` names.
    """
    reason = required_reason(reason)
    change_model()
    draft = ModelDraft.objects.select_for_update().get(pk=draft.pk)
    if draft.state == DraftState.ADOPTED and draft.adoption.by_id == actor.pk:
        draft.adoption.is_repeat = True
        return draft.adoption
    previous = methods.scoring_model_current()
    _check_may(draft, actor, previous, revision)
    pools_refresh(shoes=())
    run = draft_dry_run(draft)
    if run.refused and not withdraw:
        refusals = [_refusal(shoe) for shoe in run.refused]
        raise DomainError(
            f"{len(refusals)} published shoes would leave the catalogue. "
            f"Agree to that, or correct them first. {' '.join(refusals)}",
            code="cards_would_go",
            status=409,
            fields={"withdraw": refusals},
        )
    return _adopt(draft, previous, run, actor=actor, reason=reason, at=at or timezone.now())


def _refusal(shoe: ShoeChange) -> str:
    return f"{shoe.now.title}: {' '.join(shoe.refusals)}"


def _check_may(draft: ModelDraft, actor: User, current: ScoringModel, revision: int) -> None:
    check_open(draft)
    need_another(
        "labtests.scoring_model:adopt",
        actor,
        involved=[draft.author_id],
        message=f"You drafted {draft.version}. Somebody else has to adopt it.",
    )
    check_revision(draft, revision)
    if draft.base_id != current.pk:
        message = (
            f"{draft.version} was drafted while {draft.base.version} was in use; now {current.version} is. "
            f"Start a draft from it and look at its dry run."
        )
        raise DomainError(message, code="stale_draft", status=409)


def _adopt(
    draft: ModelDraft, previous: ScoringModel, run: DryRun, *, actor: User, reason: str, at: dt.datetime
) -> Adoption:
    changes: list[Change] = []
    scale = scale_create(
        actor=actor, version=draft.version, bands=[BandText(**band) for band in draft.bands], reason=reason
    )
    model = _take_into_use(draft, previous, scale, reason, changes)
    adoption = Adoption.objects.create(
        model=model,
        previous=previous,
        draft=draft,
        by=actor,
        reason=reason,
        at=at,
        tests=len(run.tests),
        tests_changed=run.rescored.changes.changed,
        cards=len(run.shoes) - len(run.refused),
        cards_changed=len(run.changing),
        withdrawn=[{"shoe": shoe.now.slug, "reasons": [*shoe.refusals]} for shoe in run.refused],
    )
    seal = _write_results(run, model, adoption)
    published = {shoe.now.shoe_id: scores_to_publish(shoe.then, model, scale) for shoe in run.shoes}
    score_cards_replace(actor=actor, scores=published, scale=scale, reason=f"{model.version}: {reason}", at=at)
    # A model leaves curves as they are; only tests approved since a shoe was published add to them.
    curves_publish(shoes=[shoe.now.shoe_id for shoe in run.shoes if shoe.rests_on_more])
    changes.append(Change("labtests.adoption.made", adoption, None, reason, seals={"results": seal}))
    audit.record_many(changes, actor=actor)
    return adoption


def _take_into_use(
    draft: ModelDraft, previous: ScoringModel, scale: Scale, reason: str, changes: list[Change]
) -> ScoringModel:
    before = audit.snapshot(previous)
    previous.is_current = False
    previous.save(update_fields=["is_current"])
    changes.append(Change("labtests.scoring_model.followed", previous, before, reason))
    model = ScoringModel(
        version=draft.version,
        scale=scale,
        is_current=True,
        author=draft.author,
        reason=draft.reason,
        **{name: getattr(draft, name) for name in NUMBERS},
    )
    validate(model)
    model.save()
    changes.append(Change("labtests.scoring_model.adopted", model, None, reason))
    before = audit.snapshot(draft)
    draft.state = DraftState.ADOPTED
    draft.save(update_fields=["state"])
    changes.append(Change("labtests.model_draft.adopted", draft, before, reason))
    return model


def _write_results(run: DryRun, model: ScoringModel, adoption: Adoption) -> Seal:
    """Write the new results beside the old ones, by COPY."""
    found = run.rescored.parts
    parts = (("", run.rescored.scores), ("_u", found.u), ("_u_a", found.type_a), ("_u_b", found.type_b))
    columns: dict[str, Any] = {
        f"{name}{end}": np.asarray(getattr(part, name)) for end, part in parts for name in SCORES
    }
    # Unlimited degrees of freedom are null, which nan becomes.
    columns |= {f"{name}_df": limited_all(getattr(found.df, name)) for name in SCORES}
    columns |= {
        "repeats_df": limited_all(found.repeats_df),
        "setup_df": limited_all(found.setup_df),
        "test_id": run.tests["id"],
        "scoring_model_id": model.pk,
        "adoption_id": adoption.pk,
        "cushioning_estimated": run.tests["work_is_estimated"],
        "correlation_rearfoot_cushioning": run.tests.correlation,
        "budgets": {},
    }
    return insert_rows(Result, columns)
