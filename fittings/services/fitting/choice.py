"""Trying on and choosing."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from catalogue.models import ScoreCard
from core import audit
from core.audit import Change
from core.domain.errors import DomainError, optional_reason
from core.domain.quoting import quoted
from core.models import User
from fittings.domain.fitting.need import in_target
from fittings.domain.shoes.matching import probability_within
from fittings.domain.shoes.sizing import read_eu_size
from fittings.domain.shoes.widths import width_of_pair
from fittings.models import Choice, Fitting, FollowUp, TryOn
from fittings.models.people.follow_up import WEEKS
from fittings.services.fitting.checks import Problems, check_record, require

REASON_MAX = 500
PAIRS_MOST = 4


def fitting_lock(fitting: Fitting, actor: User) -> Fitting:
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


def shoe_pick(slug: str, size: object, problems: Problems) -> tuple[ScoreCard, Decimal]:
    """Return the published card and the size that were named; refuse with everything that was wrong so far."""
    card, size_eu = _published(slug), None
    if card is None:
        problems.add("slug", f"There is no published shoe {quoted(slug)}.")
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
    locked = fitting_lock(fitting, actor)
    problems = Problems()
    problems.limit("comfort", comfort)
    card, size_eu = shoe_pick(slug, size, problems)
    earlier = TryOn.objects.filter(fitting=locked, shoe=card.shoe, size_eu=size_eu).first()
    before = audit.snapshot(earlier) if earlier else None
    tried = earlier or TryOn(fitting=locked, shoe=card.shoe, size_eu=size_eu)
    tried.comfort, tried.with_insole, tried.at = comfort, with_insole, at or timezone.now()
    check_record(tried)
    tried.save()
    audit.record(actor=actor, action="fittings.try_on.recorded", subject=tried, before=before, store=fitting.store)
    return tried


@dataclass(frozen=True, slots=True)
class Wanted:
    """The shoe that is chosen; `reason` says why, where it lies outside the target."""

    slug: str
    size: object
    comfort: int | None = None
    reason: str = ""
    width: str = ""


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
    another_pair: bool = False,
    width: str = "",
) -> Choice:
    """Record the shoe chosen and make the follow-ups (`fitting.follow_ups`).

    Parameters
    ----------
    slug : of a published shoe
    size : "EU 42.5", "UK 8", "US M 9", "US W 10.5", "265 mm", or a number, which is an EU size
    comfort : 0 to 10
    reason : why, where the shoe lies outside the target
    at : when it was chosen; now where left out
    another_pair : beside the one chosen already, with follow-ups of its own
    width : the width fitting, where the shoe is made in several; empty where it was not said

    Raises
    ------
    DomainError
        400 naming every bad field (a choice outside the target without a reason among them), 404 for another store,
        409 for a second choice that is not said to be another pair, for too many pairs, or where nothing was kept.
    """
    locked = fitting_lock(fitting, actor)
    pair, returned = _place(locked, another_pair=another_pair)
    choice = choice_make(locked, Wanted(slug, size, comfort, reason, width), pair=pair, at=at or timezone.now())
    choice.replaces = returned
    choice.save()
    changes = [Change("fittings.choice.recorded", choice, store=locked.store)]
    changes += _make_follow_ups(choice) if returned is None else _take_over(choice)
    point_to(choice)
    fitting.choice = locked.choice
    audit.record_many(changes, actor=actor)
    return choice


def _place(fitting: Fitting, *, another_pair: bool) -> tuple[int, Choice | None]:
    """The number of the pair, and the choice of it that was returned without a new shoe, where there is one."""
    newest = list(Choice.objects.filter(fitting=fitting, successor__isnull=True).select_related("correction"))
    if another_pair and newest:
        if len(newest) >= PAIRS_MOST:
            raise DomainError(f"At most {PAIRS_MOST} pairs are recorded at one fitting.", code="too_many", status=409)
        return len(newest) + 1, None
    returned = next((choice for choice in newest if hasattr(choice, "correction")), None)
    if newest and returned is None:
        message = "A shoe was already chosen at this fitting. Correct that choice, or record another pair beside it."
        raise DomainError(message, code="already_chosen", status=409)
    return (returned.pair if returned else 1), returned


def choice_make(fitting: Fitting, wanted: Wanted, *, pair: int, at: dt.datetime) -> Choice:
    """Return a choice that is in order, not saved yet; a refusal names every bad field."""
    problems = Problems()
    problems.limit("comfort", wanted.comfort)
    reason = _reason(wanted.reason, problems)
    card, size_eu = shoe_pick(wanted.slug, wanted.size, problems)
    width = _width(card, wanted.width, problems)
    problems.refuse()
    is_inside = in_target(card.stability, *_target(fitting))
    if not is_inside and not reason:
        problems.add("reason", _reason_wanted(fitting, card))
        problems.refuse()
    choice = Choice(
        fitting=fitting,
        pair=pair,
        shoe=card.shoe,
        score_card=card,
        size_eu=size_eu,
        width=width,
        comfort=wanted.comfort,
        reason=reason,
        stability=card.stability,
        in_target=is_inside,
        probability=_probability(fitting, card),
        at=at,
    )
    check_record(choice)
    return choice


def _reason(said: str, problems: Problems) -> str:
    try:
        return optional_reason(said, at_most=REASON_MAX)
    except DomainError as problem:
        problems.add("reason", problem.message)
        return ""


def _width(card: ScoreCard, said: str, problems: Problems) -> str:
    """The width as the maker writes it; empty where it was not said or there is only one."""
    try:
        return width_of_pair(said, card.shoe.widths)
    except ValueError as problem:
        problems.add("width", str(problem))
        return ""


def point_to(choice: Choice) -> None:
    """Have the fitting name the newest choice of its first pair."""
    if choice.pair == 1:
        Fitting.objects.filter(pk=choice.fitting_id).update(choice=choice)
        choice.fitting.choice = choice


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


def _make_follow_ups(choice: Choice) -> list[Change]:
    chosen_on = timezone.localdate(choice.at)
    made = FollowUp.objects.bulk_create(
        FollowUp(
            fitting=choice.fitting,
            pair=choice.pair,
            choice=choice,
            weeks=weeks,
            due_on=chosen_on + dt.timedelta(weeks=weeks),
        )
        for weeks in WEEKS
    )
    return [Change("fittings.follow_up.created", follow_up, store=choice.fitting.store) for follow_up in made]


def _take_over(choice: Choice) -> list[Change]:
    """Ask for the follow-ups of a pair that was returned of the new one."""
    closed = FollowUp.objects.filter(fitting=choice.fitting, pair=choice.pair, closed_at__isnull=False)
    return follow_ups_change(closed, "fittings.follow_up.moved", choice=choice, closed_at=None)


def follow_ups_change(rows: QuerySet[FollowUp], action: str, **values: Any) -> list[Change]:
    """Set columns of follow-ups; return what goes into the trail."""
    asked = list(rows.select_related("fitting__store"))
    before = audit.snapshots(FollowUp, [item.pk for item in asked])
    for item in asked:
        for name, value in values.items():
            setattr(item, name, value)
    if asked:
        FollowUp.objects.bulk_update(asked, list(values))
    return [Change(action, item, before[item.pk], store=item.fitting.store) for item in asked]
