"""From worked out cards to published ones, many at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from catalogue.models import Scale
from catalogue.services import PublishedScores, score_cards_replace
from core.models import User
from labtests.models import ScoringModel
from labtests.selectors.scores import methods
from labtests.selectors.scores.rescoring import CardThen, ShoeChange
from labtests.services.scores.curves import curves_publish
from labtests.services.scores.pools import pools_refresh


def scores_to_publish(then: CardThen | None, model: ScoringModel, scale: Scale) -> PublishedScores | None:
    """Return a card as the catalogue takes it; None, which withdraws the shoe, where there is none."""
    if then is None:
        return None
    scores: dict[str, Any] = {**then.values, **{f"{name}_u": u for name, u in then.u.items()}}
    scores |= {f"{name}_df": df for name, df in then.df.items()}
    return PublishedScores(
        scale=scale.version,
        band=then.band,
        **scores,
        cushioning_estimated=then.is_estimated,
        band_probability=then.probability,
        is_borderline=then.is_borderline,
        neighbour=then.neighbour,
        is_provisional=then.is_provisional,
        specimens=then.specimens,
        tested_on=then.tested_on,
        scoring_model=model.version,
        protocol=then.protocol,
    )


def cards_change(changes: Sequence[ShoeChange], *, actor: User, what: str, reason: str, at: dt.datetime) -> None:
    """Publish or withdraw the cards that no longer rest on the tests they did; `reason` is shown to the public.

    Parameters
    ----------
    what : what happened to the tests, for the cards that follow ("Worked out again without test 7")
    """
    if not changes:
        return
    pools_refresh(shoes=[change.now.shoe_id for change in changes], at=at)
    model = methods.scoring_model_current()
    scores = {change.now.shoe_id: scores_to_publish(change.then, model, model.scale) for change in changes}
    score_cards_replace(
        actor=actor, scores=scores, scale=model.scale, reason=f"{what}: {reason}", at=at, withdrawn_because=reason
    )
    curves_publish(shoes=list(scores))
