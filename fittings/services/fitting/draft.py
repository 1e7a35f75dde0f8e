"""Recording a fitting section by section. Nothing is kept before the customer agreed."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils import timezone

from core import audit
from core.audit import Change
from core.domain.errors import DomainError
from core.models import Store, User
from fittings.domain.fitting.intake import CustomerIntake, FittingIntake
from fittings.domain.refusals import not_here
from fittings.models import Draft, DraftSection, Fitting, SectionName
from fittings.services.fitting.checks import check_stop_signs_answered, require
from fittings.services.fitting.choice import choice_record, try_on_record
from fittings.services.fitting.draft_person import (
    names_new_guardian,
    person_content,
    person_discard,
    person_find_or_make,
)
from fittings.services.fitting.draft_second_look import second_look_take_over
from fittings.services.fitting.fitting import advice_note, fitting_record

WRITE = "fittings.fitting:write"
Content = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Stamp:
    """Where a section comes from: the version it was written over, the opened page, the number of the change there."""

    version: int = 0
    page: uuid.UUID | None = None
    edit: int = 0


@dataclass(frozen=True, slots=True)
class Whom:
    """Who the customer is: somebody known, by key, or else by name and address."""

    said: CustomerIntake
    known: int | None = None


@dataclass(frozen=True, slots=True)
class TriedOn:
    """A shoe tried on in a size, in a row of the page."""

    row: int
    slug: str
    size: str
    comfort: int | None = None
    with_insole: bool | None = None


@dataclass(frozen=True, slots=True)
class Chosen:
    """The row of the shoe that was chosen, why where it lies outside the target, and its width where it was said."""

    row: int
    reason: str = ""
    width: str = ""


class SectionChanged(DomainError):
    """Somebody else saved the section after it was opened. Nothing was overwritten; `theirs` is what is there."""

    def __init__(self, theirs: DraftSection) -> None:
        who, when = theirs.saved_by.display_name, timezone.localtime(theirs.saved_at)
        message = f"{who} saved this section at {when:%H:%M}, after you had opened it. Yours is not saved yet."
        super().__init__(message, code="section_changed", status=409)
        self.theirs = theirs


class NotKeptYet(DomainError):
    """The customer has not agreed: nothing is kept, and nothing is wrong."""

    def __init__(self) -> None:
        super().__init__("Nothing is stored until the customer consents.", code="no_consent", status=409)


class Finished(DomainError):
    """The fitting was already finished; `fitting` is what it became."""

    def __init__(self, fitting: Fitting) -> None:
        super().__init__("This fitting was already finished.", code="already_finished", status=409)
        self.fitting = fitting


def person_save(*, actor: User, store: Store, key: uuid.UUID, whom: Whom, stamp: Stamp) -> DraftSection:
    """Save who the customer is. With this the unfinished fitting begins, if it has not.

    Parameters
    ----------
    whom : a customer of the store, who was found; else name and address make a new one
    stamp : what this was written over

    Raises
    ------
    DomainError
        400 naming every bad field, 404 for another store, 409 without consent, where the fitting is finished, or where
        somebody else saved the section meanwhile (`SectionChanged`).
    """
    require(actor, WRITE, store)
    if not whom.said.consent:
        raise NotKeptYet
    try:
        with transaction.atomic():
            draft = _locked(actor, key)
            if draft is None:
                return _begin(actor, store, key, whom, stamp)
            return _save_person(actor, draft, whom, stamp)
    except IntegrityError:
        # Two first savings at the same moment: the other one began it.
        with transaction.atomic():
            draft = _locked(actor, key)
            if draft is None:
                raise not_here("fitting") from None
            return _save_person(actor, draft, whom, stamp)


@transaction.atomic
def section_save(*, actor: User, key: uuid.UUID, name: str, content: Content, stamp: Stamp) -> DraftSection:
    """Save one section as it was written. The same content again changes nothing and leaves no entry.

    Raises
    ------
    DomainError
        404 for another store, 409 without consent, where the fitting is finished, or where somebody else saved the
        section meanwhile (`SectionChanged`).
    """
    draft = _locked(actor, key)
    if draft is None:
        raise NotKeptYet
    section = _section(draft, name)
    if section is not None and (section.content == content or _is_late(section, stamp)):
        return section
    _check_version(section, stamp, actor)
    return _store(actor, draft, section or DraftSection(draft=draft, name=name, version=0), content, stamp)


@transaction.atomic
def draft_discard(*, actor: User, key: uuid.UUID) -> None:
    """Remove an unfinished fitting with everything in it, and the customer where made here and nowhere else known.

    Discarding what is gone already is no failure.
    """
    draft = _locked(actor, key)
    if draft is not None:
        _remove(actor, draft, "fittings.draft.discarded")


def drafts_expire(*, at: dt.datetime | None = None, report: Callable[[uuid.UUID], None] | None = None) -> int:
    """Remove unfinished fittings that nobody touched for longer than `DRAFT_RETENTION_DAYS`, as discarding does.

    Each in a transaction of its own. One that somebody saves at this moment is left to them.

    Returns
    -------
    int
        How many were removed.
    """
    border = (at or timezone.now()) - dt.timedelta(days=settings.DRAFT_RETENTION_DAYS)
    abandoned = Draft.objects.filter(saved_at__lt=border)
    removed = 0
    for key in list(abandoned.order_by("saved_at").values_list("pk", flat=True)):
        with transaction.atomic():
            locked = abandoned.select_for_update(skip_locked=True, of=("self",)).filter(pk=key)
            draft = locked.select_related("store", "customer").first()
            if draft is None:
                continue
            _remove(None, draft, "fittings.draft.expired")
        removed += 1
        if report is not None:
            report(key)
    return removed


@transaction.atomic
def draft_finish(
    *,
    actor: User,
    key: uuid.UUID,
    intake: FittingIntake,
    tried: Sequence[TriedOn],
    chosen: Chosen | None,
    versions: Mapping[str, int],
) -> Fitting:
    """Make the fitting of its sections, with what was tried on and chosen; the unfinished one is gone then.

    Parameters
    ----------
    intake : what the sections say; who it is, is known already
    versions : the version of each section that the intake was read from

    Raises
    ------
    DomainError
        400 naming every bad field, 404 for another store, 409 without consent, where it is already finished
        (`Finished`), or where a section was saved meanwhile.
    """
    draft = _locked(actor, key)
    if draft is None:
        raise NotKeptYet
    written = draft.sections.exclude(name=SectionName.SECOND_LOOK)
    if dict(written.values_list("name", "version")) != dict(versions):
        message = "A colleague has just saved a section. Check the page again before you finish."
        raise DomainError(message, code="section_changed", status=409)
    check_stop_signs_answered(intake)
    now, person = timezone.now(), draft.customer
    said = CustomerIntake(person.name, person.email, consent=True, phone=person.phone)
    intake = replace(intake, customer=said, submission=key)
    fitting = fitting_record(actor=actor, store=draft.store, intake=intake, at=now, customer=draft.customer).fitting
    advice_note(fitting)
    for item in tried:
        with _FieldsOf(f"try-{item.row}"):
            try_on_record(
                actor=actor,
                fitting=fitting,
                slug=item.slug,
                size=item.size,
                comfort=item.comfort,
                with_insole=item.with_insole,
                at=now,
            )
    if chosen is not None:
        item = next(item for item in tried if item.row == chosen.row)
        with _FieldsOf("choice"):
            choice_record(
                actor=actor,
                fitting=fitting,
                slug=item.slug,
                size=item.size,
                comfort=item.comfort,
                reason=chosen.reason,
                at=now,
                width=chosen.width,
            )
    second_look_take_over(draft, fitting)
    draft.made_customer = False
    _remove(actor, draft, "fittings.draft.finished")
    return fitting


class _FieldsOf:
    """Name the fields of a refusal by the part of the page that they stand in."""

    def __init__(self, prefix: str) -> None:
        self.prefix = prefix

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: type[BaseException] | None, problem: BaseException | None, trace: object) -> None:
        if isinstance(problem, DomainError):
            problem.fields = {f"{self.prefix}.{name}": words for name, words in problem.fields.items()}


def _locked(actor: User, key: uuid.UUID) -> Draft | None:
    """Lock and return the unfinished fitting; none where nothing is kept yet.

    Raises a 404 for one of another store and `Finished` for one that became a fitting.
    """
    draft = Draft.objects.select_for_update(of=("self",)).select_related("store", "customer").filter(pk=key).first()
    if draft is not None:
        require(actor, WRITE, draft.store)
        return draft
    fitting = Fitting.objects.select_related("store").filter(submission=key).first()
    if fitting is not None:
        require(actor, WRITE, fitting.store)
        raise Finished(fitting)
    return None


def _section(draft: Draft, name: str) -> DraftSection | None:
    return DraftSection.objects.select_related("saved_by").filter(draft=draft, name=name).first()


def _is_late(section: DraftSection, stamp: Stamp) -> bool:
    """Say whether this is an earlier change of the same page, which arrives after a later one was saved."""
    return stamp.page is not None and section.page == stamp.page and 0 < stamp.edit <= section.edit


def _check_version(section: DraftSection | None, stamp: Stamp, actor: User) -> None:
    """Refuse to write over what somebody else saved; over what the same page saved one may: the answer got lost."""
    if section is None or section.version == stamp.version:
        return
    if section.page is not None and section.page == stamp.page and section.saved_by_id == actor.pk:
        return
    raise SectionChanged(section)


def _store(actor: User, draft: Draft, section: DraftSection, content: Content, stamp: Stamp) -> DraftSection:
    now = timezone.now()
    before = audit.snapshot(draft)
    section.content, section.version = dict(content), section.version + 1
    section.page, section.edit = stamp.page, stamp.edit
    section.saved_by, section.saved_at = actor, now
    section.save()
    draft.saved_by, draft.saved_at = actor, now
    draft.save()
    audit.record(
        actor=actor,
        action="fittings.draft.section_saved",
        subject=draft,
        before=before,
        reason=section.get_name_display(),
        store=draft.store,
    )
    return section


def _begin(actor: User, store: Store, key: uuid.UUID, whom: Whom, stamp: Stamp) -> DraftSection:
    now = timezone.now()
    changes: list[Change] = []
    customer, is_new = person_find_or_make(store, whom.said, whom.known, now, changes)
    draft = Draft(
        key=key,
        store=store,
        customer=customer,
        made_customer=is_new,
        started_by=actor,
        started_at=now,
        saved_by=actor,
        saved_at=now,
    )
    draft.save(force_insert=True)
    section = DraftSection(draft=draft, name=SectionName.PERSON, version=1, page=stamp.page, edit=stamp.edit)
    section.saved_by, section.saved_at = actor, now
    section.save()
    audit.record_many([*changes, Change("fittings.draft.started", draft, store=store)], actor=actor)
    return section


def _save_person(actor: User, draft: Draft, whom: Whom, stamp: Stamp) -> DraftSection:
    section = _section(draft, SectionName.PERSON)
    if section is not None and (_same_person(draft, whom) or _is_late(section, stamp)):
        return section
    _check_version(section, stamp, actor)
    changes: list[Change] = []
    former, was_made = draft.customer, draft.made_customer
    draft.customer, draft.made_customer = person_find_or_make(
        draft.store, whom.said, whom.known, timezone.now(), changes, former=former if was_made else None
    )
    audit.record_many(changes, actor=actor)
    section = section or DraftSection(draft=draft, name=SectionName.PERSON, version=0)
    saved = _store(actor, draft, section, {}, stamp)
    if was_made and former.pk != draft.customer_id:
        person_discard(former, actor=actor)
    return saved


def _same_person(draft: Draft, whom: Whom) -> bool:
    if names_new_guardian(draft.customer, whom.said):
        return False
    if whom.known is not None:
        return draft.customer_id == whom.known
    said = (whom.said.name, whom.said.email, whom.said.phone)
    return person_content(draft.customer) == said


def _remove(actor: User | None, draft: Draft, action: str) -> None:
    """Take the sections away, then the unfinished fitting, then a customer who was made for it alone."""
    before, key, customer, made = audit.snapshot(draft), draft.pk, draft.customer, draft.made_customer
    draft.sections.all().delete()
    draft.delete()
    draft.pk = key
    audit.record(actor=actor, action=action, subject=draft, before=before, store=draft.store)
    if made:
        person_discard(customer, actor=actor)
