"""Scoring models and their drafts: lists, one, and the results of a test by each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.http import Http404

from core.models import AuditEntry
from labtests.domain.scores.model_fit import ModelFit, ReferenceShoe, fit_model
from labtests.domain.uncertainty.converted_budget import convert_budgets
from labtests.domain.uncertainty.propagation import Budget
from labtests.models import Adoption, BenchTest, DraftState, ModelDraft, Result, ScoringModel
from labtests.selectors.bench_tests import HistoryEntry, history, result_of

CURRENT, DRAFT, EARLIER, DISCARDED = "current", "draft", "earlier", "discarded"


@dataclass(frozen=True, slots=True, eq=False)
class ModelView:
    """A scoring model, from its first draft on; `model` is None until it is adopted, `draft` for standard data."""

    version: str
    state: str
    model: ScoringModel | None
    draft: ModelDraft | None
    adoption: Adoption | None

    @property
    def numbers(self) -> ScoringModel | ModelDraft:
        found = self.model or self.draft
        if found is None:
            raise AssertionError("a model view is of a model or of a draft")
        return found

    @property
    def author(self) -> str:
        author = self.numbers.author
        return author.display_name if author else "standard data"


def _view(model: ScoringModel | None, draft: ModelDraft | None, adoption: Adoption | None) -> ModelView:
    if model is not None:
        return ModelView(model.version, CURRENT if model.is_current else EARLIER, model, draft, adoption)
    if draft is None:
        raise AssertionError("neither model nor draft")
    state = DRAFT if draft.state == DraftState.OPEN else DISCARDED
    return ModelView(draft.version, state, None, draft, None)


def model_list() -> list[ModelView]:
    """Every model and draft: the current one, drafts, earlier ones from the newest, what was discarded. Two queries."""
    models = ScoringModel.objects.select_related(
        "author", "scale", "adoption__by", "adoption__draft", "adoption__previous"
    )
    views = [
        _view(model, adoption.draft if adoption else None, adoption)
        for model in models.order_by("-created_at", "-pk")
        for adoption in [getattr(model, "adoption", None)]
    ]
    drafts = ModelDraft.objects.exclude(state=DraftState.ADOPTED).select_related("author", "base")
    views += [_view(None, draft, None) for draft in drafts]
    order = (CURRENT, DRAFT, EARLIER, DISCARDED)
    return sorted(views, key=lambda view: order.index(view.state))


def model_get(version: str) -> ModelView:
    """Find a model or a draft, or answer 404."""
    models = ScoringModel.objects.select_related(
        "author", "scale", "adoption__by", "adoption__draft__author", "adoption__previous"
    )
    model = models.filter(version=version).first()
    if model is not None:
        adoption = getattr(model, "adoption", None)
        return _view(model, adoption.draft if adoption else None, adoption)
    draft = ModelDraft.objects.select_related("author", "base__scale").filter(version=version).first()
    if draft is None:
        raise Http404
    return _view(None, draft, None)


def draft_get(version: str) -> ModelDraft:
    """Find a draft that is not yet adopted or discarded, or an adopted one; 404 for what never was a draft."""
    draft = ModelDraft.objects.select_related("author", "base").filter(version=version).first()
    if draft is None:
        raise Http404
    return draft


def band_texts(view: ModelView) -> list[dict[str, Any]]:
    """The bands with order, name, lower, upper, suits and runner_mass_max_kg."""
    if view.model is not None:
        names = ("order", "name", "lower", "upper", "suits", "runner_mass_max_kg")
        return list(view.model.scale.bands.order_by("order").values(*names))
    bands = view.draft.bands if view.draft else []
    return [{"order": order, **band} for order, band in enumerate(bands, start=1)]


def fit_stored(draft: ModelDraft | None) -> ModelFit | None:
    """The fit that a draft's numbers come from, calculated again from the stored references."""
    if draft is None or draft.fit is None:
        return None
    shoes = [ReferenceShoe(**shoe) for shoe in draft.fit["shoes"]]
    return fit_model(shoes, base=draft.to_domain(), version=draft.version)


def model_history(view: ModelView) -> list[HistoryEntry]:
    """What happened to a model and its draft, oldest first."""
    wanted = Q(pk__in=[])
    for record in (view.model, view.draft, view.adoption):
        if record is not None:
            wanted |= Q(object_type=record._meta.label_lower, object_id=str(record.pk))
    return history(AuditEntry.objects.filter(wanted))


def result_by(test: BenchTest, version: str) -> Result | None:
    """The result of a test by a model, by the newest where none is named; with budgets also where it was rescored."""
    found = [result for result in test.results.all() if result.scoring_model.version == version]
    result = found[0] if found else result_of(test)
    if result is not None and result.adoption_id is not None:
        result.budget_tables = _converted(test, result)
    return result


def _converted(test: BenchTest, result: Result) -> dict[str, Budget]:
    """The budgets of a rescored result follow from those of the result that the upload made."""
    origin = next((found for found in test.results.all() if found.adoption_id is None), None)
    if origin is None:
        return {}
    old, new = origin.scoring_model.to_domain(), result.scoring_model.to_domain()
    return convert_budgets(origin.budget_tables, old=old, new=new)
