"""Drafts of protocols: begun from the protocol in use, changed by their author, adopted by another reviewer."""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from catalogue.models import Scale
from catalogue.services import score_cards_replace
from core import audit
from core.audit import Change
from core.database.validation import check
from core.domain.errors import DomainError, required_reason
from core.gate.two_people import need_another
from core.models import User
from labtests.domain.scores.protocol import WORDS, Limit
from labtests.domain.scores.protocol_rules import protocol_problems
from labtests.models import DraftState, Protocol, ProtocolDraft
from labtests.selectors.scores import methods
from labtests.selectors.scores.protocols import protocol_dry_run
from labtests.services.locks import change_model
from labtests.services.rights import needs
from labtests.services.scores.pools import pools_forget


@dataclass(frozen=True, slots=True)
class ProtocolGiven:
    """What a protocol is to say."""

    conditioned_h: Limit
    temperature_c: Limit
    heel_clamp_n: Limit
    forefoot_clamp_n: Limit
    torsion_deg: float
    compression_n: float
    repeats_wanted: int
    calibrations: tuple[str, ...]


def _set(draft: ProtocolDraft, given: ProtocolGiven) -> None:
    draft.limits = {name: dataclasses.asdict(getattr(given, name)) for name in WORDS}
    for name in ("torsion_deg", "compression_n", "repeats_wanted"):
        setattr(draft, name, getattr(given, name))
    draft.calibrations = list(given.calibrations)
    problems = protocol_problems(draft.to_domain())
    if problems:
        words = " ".join(sentence for sentences in problems.values() for sentence in sentences)
        raise DomainError(words, code="bad_protocol", fields=problems)


@needs("labtests.protocol:draft")
@transaction.atomic
def protocol_draft_create(*, actor: User, version: str, given: ProtocolGiven, reason: str) -> ProtocolDraft:
    """Begin a draft; it is to follow the protocol in use."""
    reason = required_reason(reason)
    if Protocol.objects.filter(version=version).exists():
        words = f"There is already a protocol {version}; choose another name."
        raise DomainError(words, code="version_taken", status=409, fields={"version": [words]})
    now = timezone.now()
    base = methods.protocol_current()
    draft = ProtocolDraft(version=version, base=base, author=actor, reason=reason, created_at=now, changed_at=now)
    _set(draft, given)
    check(draft)
    draft.save()
    audit.record(actor=actor, action="labtests.protocol_draft.created", subject=draft, reason=reason)
    return draft


def _locked(draft: ProtocolDraft) -> ProtocolDraft:
    draft = ProtocolDraft.objects.select_for_update(of=("self",)).select_related("author", "base").get(pk=draft.pk)
    if draft.state != DraftState.OPEN:
        words = f"The draft {draft.version} was already {DraftState(draft.state).label}; start another."
        raise DomainError(words, code="not_open", status=409)
    return draft


def _check_revision(draft: ProtocolDraft, revision: int) -> None:
    if draft.revision != revision:
        words = f"The draft {draft.version} was changed after you opened it; reload the page."
        raise DomainError(words, code="draft_changed", status=409)


def _own(draft: ProtocolDraft, actor: User) -> ProtocolDraft:
    draft = _locked(draft)
    if draft.author_id != actor.pk:
        words = f"Only {draft.author.display_name} can change the draft {draft.version}; start one of your own."
        raise DomainError(words, code="not_your_draft", status=403)
    return draft


@needs("labtests.protocol:draft")
@transaction.atomic
def protocol_draft_edit(
    *, actor: User, draft: ProtocolDraft, revision: int, given: ProtocolGiven, reason: str
) -> ProtocolDraft:
    """Change what a draft says, and why."""
    reason = required_reason(reason)
    draft = _own(draft, actor)
    _check_revision(draft, revision)
    before = audit.snapshot(draft)
    _set(draft, given)
    draft.reason, draft.revision, draft.changed_at = reason, draft.revision + 1, timezone.now()
    check(draft)
    draft.save()
    audit.record(actor=actor, action="labtests.protocol_draft.changed", subject=draft, before=before, reason=reason)
    return draft


@needs("labtests.protocol:draft")
@transaction.atomic
def protocol_draft_discard(*, actor: User, draft: ProtocolDraft, reason: str) -> ProtocolDraft:
    """Give a draft up; it stays readable and in the trail."""
    reason = required_reason(reason)
    draft = _locked(draft)
    before = audit.snapshot(draft)
    draft.state = DraftState.DISCARDED
    draft.save(update_fields=["state"])
    audit.record(actor=actor, action="labtests.protocol_draft.discarded", subject=draft, before=before, reason=reason)
    return draft


@needs("labtests.protocol:adopt")
@transaction.atomic
def protocol_adopt(
    *,
    actor: User,
    draft: ProtocolDraft,
    revision: int,
    reason: str,
    withdraw: bool = False,
    at: dt.datetime | None = None,
) -> Protocol:
    """Take a draft into use. Tests keep the protocol that they were judged by.

    Parameters
    ----------
    revision : of the draft that the actor previewed
    withdraw : whether the cards made by the protocol in use may leave the catalogue

    Raises
    ------
    DomainError
        403 for the draft's author; 409 where the draft was changed or made for another protocol, or where cards would
        leave the catalogue unasked, which `fields["withdraw"]` names.
    """
    reason = required_reason(reason)
    change_model()
    draft = _locked(draft)
    previous = methods.protocol_current()
    _check_may(draft, actor, previous, revision)
    cards = protocol_dry_run(draft).cards
    if cards and not withdraw:
        names = [f"{card.shoe.brand.name} {card.shoe.title}" for card in cards]
        words = f"{len(cards)} published shoes would leave the catalogue until they are tested by {draft.version}."
        raise DomainError(f"{words} Agree to that.", code="cards_would_go", status=409, fields={"withdraw": names})
    moment = at or timezone.now()
    protocol, changes = _take_into_use(draft, previous, actor=actor, reason=reason, at=moment)
    draft.withdrawn = [card.shoe.slug for card in cards]
    draft.save(update_fields=["withdrawn"])
    pools_forget()
    scale = methods.scoring_model_current().scale
    _withdraw([card.shoe_id for card in cards], scale, actor=actor, reason=f"{protocol.version}: {reason}", at=moment)
    audit.record_many(changes, actor=actor)
    return protocol


def _check_may(draft: ProtocolDraft, actor: User, current: Protocol, revision: int) -> None:
    need_another(
        "labtests.protocol:adopt",
        actor,
        involved=[draft.author_id],
        message=f"You drafted {draft.version}. Somebody else has to adopt it.",
    )
    _check_revision(draft, revision)
    if draft.base_id != current.pk:
        words = f"{draft.version} was drafted while {draft.base.version} was in use; now {current.version} is."
        raise DomainError(f"{words} Start another draft.", code="stale_draft", status=409)


def _take_into_use(
    draft: ProtocolDraft, previous: Protocol, *, actor: User, reason: str, at: dt.datetime
) -> tuple[Protocol, list[Change]]:
    before, draft_before = audit.snapshot(previous), audit.snapshot(draft)
    previous.is_current = False
    previous.save(update_fields=["is_current"])
    names = ("version", "limits", "torsion_deg", "compression_n", "repeats_wanted", "calibrations", "author", "reason")
    protocol = Protocol(is_current=True, **{name: getattr(draft, name) for name in names})
    check(protocol)
    protocol.save()
    draft.state, draft.adopted_by, draft.adopted_at, draft.adopted_because = DraftState.ADOPTED, actor, at, reason
    check(draft)
    draft.save()
    return protocol, [
        Change("labtests.protocol.followed", previous, before, reason),
        Change("labtests.protocol.adopted", protocol, None, reason),
        Change("labtests.protocol_draft.adopted", draft, draft_before, reason),
    ]


def _withdraw(shoes: list[int], scale: Scale, *, actor: User, reason: str, at: dt.datetime) -> None:
    if shoes:
        score_cards_replace(actor=actor, scores=dict.fromkeys(shoes), scale=scale, reason=reason, at=at)
