"""Taking a choice back: recorded by mistake, exchanged, returned, or faulty."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from catalogue.models import MovementKind
from catalogue.services import Pairs, fault_report, stock_move
from catalogue.services.stock.stock_moves import shoe_that_stays
from core import audit
from core.audit import Change
from core.domain.errors import DomainError, field_error, required_reason
from core.domain.quoting import quoted
from core.models import User
from fittings.models import Choice, Correction, CorrectionKind, Customer, FollowUp
from fittings.services.fitting.checks import check_record
from fittings.services.fitting.choice import REASON_MAX, Wanted, choice_make, fitting_lock, follow_ups_change, point_to

NEEDS_SHOE = frozenset({CorrectionKind.MISTAKE, CorrectionKind.EXCHANGE})
NAME_PART_LEAST = 3


@dataclass(frozen=True, slots=True)
class Corrected:
    """What a correction did: the successor, None for a return without a new shoe, and what the stock can't know."""

    correction: Correction
    successor: Choice | None
    stock_notes: tuple[str, ...]


@transaction.atomic
def choice_correct(
    *,
    actor: User,
    choice: Choice,
    kind: str,
    reason: str,
    slug: str = "",
    size: object = None,
    comfort: int | None = None,
    restock: bool = True,
    at: dt.datetime | None = None,
    width: str = "",
) -> Corrected:
    """Take a choice back. It stays on record as it was; a successor takes its place, its follow-ups and its outcomes.

    A mistake is as if the successor had been chosen from the beginning, and moves no stock: what left the store was the
    right pair. Anything else ends the time with the shoe, and the pair comes back: into sellable stock, unless it is
    faulty or `restock` says that it can't be sold. A fault is reported to the lab.

    Parameters
    ----------
    kind : of `CorrectionKind`
    reason : why, in words; those of a fault go to the lab, so they must not name the customer
    slug, size : the shoe that takes its place; both left out where a pair is returned or faulty without a new one
    restock : the pair can be sold again
    width : of the new pair, where its shoe is made in several
    at : when it was taken back; now where left out

    Raises
    ------
    DomainError
        400 naming every bad field, 404 for another store, 409 where the choice was taken back before or nothing is
        kept.
    """
    fitting = fitting_lock(choice.fitting, actor)
    note = _note(reason)
    code, moment = _kind(kind), at or timezone.now()
    # Read under the lock, so that of two corrections at once the second is refused.
    locked = Choice.objects.select_related("shoe__brand", "fitting__store").get(pk=choice.pk)
    locked.fitting.need_low, locked.fitting.need_high = fitting.need_low, fitting.need_high
    _check(locked, code, note, moment)
    wanted = _wanted(locked, code, Wanted(slug.strip(), size, comfort, note, width))
    correction = Correction(choice=locked, kind=code, note=note, at=moment, by=actor)
    correction.restocked = code in (CorrectionKind.EXCHANGE, CorrectionKind.RETURN) and restock
    successor = None if wanted is None else _successor(locked, code, wanted, moment)
    check_record(correction)
    correction.save()
    changes = [Change("fittings.choice.corrected", correction, None, correction.get_kind_display(), fitting.store)]
    if successor is not None:
        successor.save()
        point_to(successor)
        changes.append(Change("fittings.choice.recorded", successor, store=fitting.store))
    changes += _follow(locked, successor, correction)
    audit.record_many(changes, actor=actor)
    notes = _move_stock(actor, correction, successor)
    if code == CorrectionKind.FAULT and not fitting.store.is_training:
        fault_report(
            actor=actor,
            store=fitting.store,
            shoe=locked.shoe,
            size_eu=locked.size_eu,
            words=note,
            chosen_at=locked.at,
        )
    return Corrected(correction, successor, notes)


def _note(reason: str) -> str:
    return required_reason(reason, asked="Say in a few words why.", at_most=REASON_MAX)


def _kind(kind: str) -> CorrectionKind:
    if kind not in CorrectionKind.values:
        raise field_error("kind", f"kind must be one of {', '.join(CorrectionKind.values)}, got {quoted(kind)}")
    return CorrectionKind(kind)


def _check(choice: Choice, kind: CorrectionKind, note: str, moment: dt.datetime) -> None:
    earlier = Correction.objects.filter(choice=choice).first()
    if earlier is not None:
        newest = Choice.objects.select_related("shoe__brand").filter(replaces=choice).first()
        instead = f" Correct its successor, number {newest.pk}, instead." if newest else ""
        message = f"This choice was already taken back: {earlier.get_kind_display()}.{instead}"
        raise DomainError(message, code="already_corrected", status=409)
    if moment < choice.at:
        raise DomainError("A choice can’t be taken back before it was made.", code="before_choice")
    if kind == CorrectionKind.FAULT:
        _check_names_nobody(choice, note)


def _check_names_nobody(choice: Choice, note: str) -> None:
    name = Customer.objects.filter(fittings=choice.fitting_id).values_list("name", flat=True).first() or ""
    words = {word.strip(".,;:!?()").casefold() for word in note.split()}
    if any(part.casefold() in words for part in name.split() if len(part) >= NAME_PART_LEAST):
        raise field_error("reason", "The lab reads this: write about the shoe and leave the customer’s name out.")


def _wanted(choice: Choice, kind: CorrectionKind, given: Wanted) -> Wanted | None:
    """The shoe that takes the place, None where there is none."""
    has_size = given.size not in (None, "")
    if not given.slug and not has_size:
        if kind in NEEDS_SHOE:
            message = "Name the shoe and size that take its place. Without a new shoe it is a return."
            raise DomainError(message, fields={"slug": [message]})
        return None
    if not given.slug or not has_size:
        name = "size" if given.slug else "slug"
        message = "Name both the shoe and the size, or neither where there is no new shoe."
        raise DomainError(message, fields={name: [message]})
    return given


def _successor(choice: Choice, kind: CorrectionKind, wanted: Wanted, moment: dt.datetime) -> Choice:
    is_mistake = kind == CorrectionKind.MISTAKE
    made = choice_make(choice.fitting, wanted, pair=choice.pair, at=choice.at if is_mistake else moment)
    if is_mistake and (made.shoe_id, made.size_eu, made.width) == (
        choice.shoe_id,
        choice.size_eu,
        choice.width,
    ):
        message = "This is the shoe and size that were recorded: there is nothing to correct."
        raise DomainError(message, code="nothing_changed", fields={"slug": [message]})
    made.replaces = choice
    if made.in_target:
        made.reason = ""
    return made


def _follow(choice: Choice, successor: Choice | None, correction: Correction) -> list[Change]:
    """Have open follow-ups ask about the successor, or close them; those answered stay with the shoe they are about."""
    rows = FollowUp.objects.filter(fitting=choice.fitting_id, pair=choice.pair)
    # Before there was a second choice, a follow-up did not have to name the first.
    about = rows.filter(choice__isnull=True) | rows.filter(choice=choice)
    answered, to_come = about.filter(answered_at__isnull=False), about.filter(answered_at__isnull=True)
    moved = "fittings.follow_up.moved"
    changes: list[Change] = []
    if successor is None:
        changes += follow_ups_change(to_come, "fittings.follow_up.closed", choice=choice, closed_at=correction.at)
    else:
        changes += follow_ups_change(to_come, moved, choice=successor)
    if successor is not None and correction.kind == CorrectionKind.MISTAKE:
        changes += follow_ups_change(answered, moved, choice=successor)
    else:
        changes += follow_ups_change(answered.filter(choice__isnull=True), moved, choice=choice)
    return changes


def _move_stock(actor: User, correction: Correction, successor: Choice | None) -> tuple[str, ...]:
    """Take the pair back, write it off where it can't be sold, and take the new one out.

    A count that does not have the new pair is no reason to refuse somebody at the counter: it is said instead.
    """
    if correction.kind == CorrectionKind.MISTAKE or correction.choice.fitting.store.is_training:
        return ()
    choice, store = correction.choice, correction.choice.fitting.store
    back = [Pairs(shoe_that_stays(choice.shoe), choice.size_eu, 1, choice.width)]
    stock_move(actor=actor, store=store, kind=MovementKind.RETURNED, pairs=back)
    if not correction.restocked:
        stock_move(actor=actor, store=store, kind=MovementKind.WRITTEN_OFF, pairs=back)
    if successor is None:
        return ()
    try:
        out = [Pairs(successor.shoe, successor.size_eu, 1, successor.width)]
        stock_move(actor=actor, store=store, kind=MovementKind.SOLD, pairs=out)
    except DomainError as problem:
        if problem.code != "too_few":
            raise
        words = " ".join(problem.fields.get("quantity", []))
        return (f"The stock was not changed for the new pair: {words} Count this size.",)
    return ()
