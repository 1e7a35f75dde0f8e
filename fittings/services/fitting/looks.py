"""Looks at a person in motion: recorded with their fitting, or added to it afterwards."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from django.db import transaction
from django.utils import timezone

from catalogue.models import Shoe
from core import audit
from core.domain.errors import DomainError
from core.domain.quoting import quoted
from core.models import User
from fittings.domain.fitting.grading import SIGN_COLUMNS, is_measured
from fittings.domain.fitting.intake import Look
from fittings.domain.fitting.looks import changes_of, condition_words, movement_by_shoe
from fittings.models import Fitting, LookFoot, ShoeMovement
from fittings.selectors.fitting.cutoffs import current_cutoffs
from fittings.selectors.fitting.looks import looks_at
from fittings.services.fitting.checks import Problems, check_looks, require
from fittings.services.fitting.grading import graded_looks


@transaction.atomic
def looks_record(*, actor: User, fitting: Fitting, looks: Sequence[Look], at: dt.datetime | None = None) -> None:
    """Add looks to a fitting. The need stays as it was; what each shoe changed is worked out again.

    Raises
    ------
    DomainError
        400 naming every bad field (no look at all and a look that is there already among them), 404 for another store,
        409 where nothing was stored of the fitting.
    """
    require(actor, "fittings.fitting:write", fitting.store)
    locked = Fitting.objects.select_for_update(of=("self",)).select_related("store").get(pk=fitting.pk)
    if not locked.kept:
        raise DomainError(
            "This fitting was not stored, because there was no consent, so nothing can be added to it.",
            code="not_kept",
            status=409,
        )
    _check_new(locked, looks)
    cutoffs = current_cutoffs() if any(is_measured(foot) for look in looks for _, foot in look.feet()) else None
    graded = graded_looks(looks, cutoffs)
    shoes = shoes_looked_at(looks)
    before = audit.snapshot(locked)
    looks_store(locked, graded, shoes, cutoffs_pk=cutoffs.pk if cutoffs else None, by=actor, at=at or timezone.now())
    audit.record(actor=actor, action="fittings.fitting.looked", subject=locked, before=before, store=locked.store)


def _check_new(fitting: Fitting, looks: Sequence[Look]) -> None:
    if not looks:
        raise DomainError("Record at least one look.", code="empty", fields={"looks": ["Record at least one look."]})
    problems = Problems()
    check_looks(problems, looks)
    there = {look.condition for look in looks_at(fitting).looks}
    for index, look in enumerate(looks):
        if look.condition in there:
            words = f"The look {condition_words(look.condition)} was already recorded."
            problems.add(f"looks.{index}.worn", words)
    problems.refuse()


def shoes_looked_at(looks: Sequence[Look]) -> Mapping[str, Shoe]:
    """The shoes tried on that looks name, by slug. Raises a 400 that names each look whose shoe is not there."""
    slugs = {look.condition.shoe for look in looks if look.condition.shoe and "\x00" not in look.condition.shoe}
    shoes = {shoe.slug: shoe for shoe in Shoe.objects.filter(slug__in=slugs)} if slugs else {}
    problems = Problems()
    for index, look in enumerate(looks):
        slug = look.condition.shoe
        if slug and slug not in shoes:
            problems.add(f"looks.{index}.shoe", f"There is no shoe {quoted(slug)} in the catalogue.")
    problems.refuse()
    return shoes


def looks_store(
    fitting: Fitting,
    looks: Sequence[Look],
    shoes: Mapping[str, Shoe],
    *,
    cutoffs_pk: int | None,
    by: User | None = None,
    at: dt.datetime | None = None,
) -> None:
    """Write graded looks and what each shoe changed; by the fitter at the fitting where nothing else is said."""
    if not looks:
        return
    who, when = by or fitting.fitter, at or fitting.at
    LookFoot.objects.bulk_create(
        LookFoot(
            fitting=fitting,
            gait=look.condition.gait,
            worn=look.condition.worn,
            shoe=shoes.get(look.condition.shoe),
            foot=side,
            at=when,
            by=who,
            cutoffs_id=cutoffs_pk if is_measured(foot) else None,
            rearfoot_eversion_apart=None if foot.rearfoot_eversion_deg is None else apart,
            **{name: getattr(foot, name) for name in SIGN_COLUMNS},
        )
        for look in looks
        for (side, foot), apart in zip(look.feet(), look.apart, strict=True)
    )
    movements_store(fitting)


def movements_store(fitting: Fitting) -> None:
    """Work out again what each shoe changed, from the looks and the observation as they are."""
    seen = looks_at(fitting)
    movements = movement_by_shoe(changes_of(seen.observed, seen.looks))
    ShoeMovement.objects.filter(fitting=fitting).delete()
    ShoeMovement.objects.bulk_create(
        ShoeMovement(fitting=fitting, shoe=seen.shoes[slug], movement=movement) for slug, movement in movements.items()
    )
