"""Trying on and choosing."""

from __future__ import annotations

import datetime as dt
import math
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from catalogue.models import ScoreCard
from core import audit
from core.audit import Change
from core.domain.errors import DomainError
from core.models import User
from fittings.domain.fitting.matching import probability_within
from fittings.domain.fitting.need import in_target
from fittings.domain.fitting.sizing import read_eu_size
from fittings.models import Choice, Fitting, FollowUp, TryOn
from fittings.models.follow_up import WEEKS
from fittings.services.checks import Problems, check_record, require

REASON_MAX = 500


def _lock(fitting: Fitting, actor: User) -> Fitting:
    """Lock the fitting, so that one choice is made of it, and refuse one that was not kept.

    The person's other fittings are locked with it, in the order in which the courses lock them, so that a choice and
    an answer at the same moment never wait for each other.
    """
    require(actor, "fittings.fitting:write", fitting.store)
    if fitting.customer_id is not None:
        list(Fitting.objects.select_for_update().filter(customer=fitting.customer_id).order_by("pk"))
    locked = Fitting.objects.select_for_update().get(pk=fitting.pk)
    if not locked.kept:
        raise DomainError(
            "This fitting was not stored, because there was no consent, so nothing can be added to it.",
            code="not_kept",
            status=409,
        )
    return locked


def _published(slug: str) -> ScoreCard | None:
    # A NUL never names a shoe, and PostgreSQL refuses to be asked.
    if "\x00" in slug:
        return None
    return ScoreCard.objects.select_related("shoe").filter(shoe__slug=slug, is_current=True).first()


def _pick(slug: str, size: object, problems: Problems) -> tuple[ScoreCard, Decimal]:
    """Return the published card and the size that were named; refuse with everything that was wrong so far."""
    card, size_eu = _published(slug), None
    if card is None:
        problems.add("slug", f"There is no published shoe {slug[:80]!r}.")
    try:
        size_eu = read_eu_size(size)
    except (TypeError, ValueError) as problem:
        problems.add("size", str(problem))
    if card is None or size_eu is None or problems.fields:
        raise problems.refusal()
    return card, size_eu


@transaction.atomic
def try_on_record(
    *,
    actor: User,
    fitting: Fitting,
    slug: str,
    size: object,
    comfort: int | None = None,
    with_insole: bool | None = None,
    at: dt.datetime | None = None,
) -> TryOn:
    """Record that a shoe was tried on, and how comfortable it was. The same shoe and size again replaces the comfort.

    `with_insole` says whether the person's own insole or orthosis was in it; None where that was not said.

    Raises
    ------
    DomainError
        400 naming every bad field, 404 for another store, 409 where nothing was kept.
    """
    locked = _lock(fitting, actor)
    problems = Problems()
    problems.limit("comfort", comfort)
    card, size_eu = _pick(slug, size, problems)
    earlier = TryOn.objects.filter(fitting=locked, shoe=card.shoe, size_eu=size_eu).first()
    before = audit.snapshot(earlier) if earlier else None
    tried = earlier or TryOn(fitting=locked, shoe=card.shoe, size_eu=size_eu)
    tried.comfort, tried.with_insole, tried.at = comfort, with_insole, at or timezone.now()
    check_record(tried)
    tried.save()
    audit.record(actor=actor, action="fittings.try_on.recorded", subject=tried, before=before, store=fitting.store)
    return tried


@transaction.atomic
def choice_record(
    *,
    actor: User,
    fitting: Fitting,
    slug: str,
    size: object,
    comfort: int | None = None,
    reason: str = "",
    at: dt.datetime | None = None,
) -> Choice:
    """Record the shoe chosen and make the follow-ups (`fitting.follow_ups`).

    Parameters
    ----------
    slug : of a published shoe
    size : "EU 42.5", "UK 8", "US M 9", "US W 10.5", "265 mm", or a number, which is an EU size
    comfort : 0 to 10
    reason : why, where the shoe lies outside the target
    at : when it was chosen; now where left out

    Raises
    ------
    DomainError
        400 naming every bad field (a choice outside the target without a reason among them), 404 for another store,
        409 for a second choice or where nothing was kept.
    """
    locked = _lock(fitting, actor)
    if Choice.objects.filter(fitting=locked).exists():
        raise DomainError("A shoe was chosen at this fitting already.", code="already_chosen", status=409)
    problems = Problems()
    problems.limit("comfort", comfort)
    if len(reason) > REASON_MAX or "\x00" in reason:
        problems.add("reason", f"reason must be text of at most {REASON_MAX} characters, got {len(reason)}")
    card, size_eu = _pick(slug, size, problems)
    is_inside = in_target(card.stability, *_target(locked))
    if not is_inside and not reason.strip():
        problems.add("reason", _reason_wanted(locked, card))
        problems.refuse()
    choice = Choice(
        fitting=locked,
        shoe=card.shoe,
        score_card=card,
        size_eu=size_eu,
        comfort=comfort,
        reason=reason.strip(),
        stability=card.stability,
        in_target=is_inside,
        probability=_probability(locked, card),
        at=at or timezone.now(),
    )
    check_record(choice)
    choice.save()
    _make_follow_ups(choice, actor)
    return choice


def _target(fitting: Fitting) -> tuple[float, float]:
    if fitting.need_low is None or fitting.need_high is None:
        raise DomainError("This fitting has no need.", code="no_need", status=409)
    return fitting.need_low, fitting.need_high


def _probability(fitting: Fitting, card: ScoreCard) -> float | None:
    if card.stability_u is None:
        return None
    df = math.inf if card.stability_df is None else card.stability_df
    return float(probability_within([card.stability], [card.stability_u], *_target(fitting), df=[df])[0])


def _reason_wanted(fitting: Fitting, card: ScoreCard) -> str:
    low, high = _target(fitting)
    return (
        f"Stability {card.stability:.1f} is outside the target {low:.1f} to {high:.1f}: give a reason for the choice."
    )


def _make_follow_ups(choice: Choice, actor: User) -> None:
    chosen_on = timezone.localdate(choice.at)
    made = FollowUp.objects.bulk_create(
        FollowUp(fitting=choice.fitting, weeks=weeks, due_on=chosen_on + dt.timedelta(weeks=weeks)) for weeks in WEEKS
    )
    store = choice.fitting.store
    changes = [Change("fittings.choice.recorded", choice, store=store)]
    changes += [Change("fittings.follow_up.created", follow_up, store=store) for follow_up in made]
    audit.record_many(changes, actor=actor)
