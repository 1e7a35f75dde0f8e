"""Merging a shoe that is in the catalogue twice into the one that stays."""

from __future__ import annotations

from typing import Protocol

from django.db import transaction

from catalogue.models import Shoe, ShoeBarcode
from catalogue.services.records import shoe_rules as rules
from catalogue.services.rights import needs
from core import audit
from core.domain.errors import DomainError
from core.models import User


class Mover(Protocol):
    """Moves what another module has of a duplicate to the shoe that stays, or refuses with a `DomainError`."""

    def __call__(self, *, actor: User, duplicate: Shoe, into: Shoe, reason: str) -> None: ...


_movers: list[Mover] = []


def register_mover(mover: Mover) -> None:
    """Have a merge call this function in its transaction, before the duplicate is marked as merged."""
    if mover not in _movers:
        _movers.append(mover)


@needs("catalogue.shoe:write")
@transaction.atomic
def shoe_merge(*, actor: User, duplicate: Shoe, into: Shoe, reason: str) -> Shoe:
    """Merge a duplicate into another shoe and return that one.

    Stock with its history, open reservations, barcodes, specimens and links to other versions go to the shoe that
    stays, which is then also searched for by the duplicate's name. The duplicate itself remains as a record, because
    fittings and printed cards name it; its address leads to the shoe that stays.

    Raises
    ------
    DomainError
        409, where the duplicate is published, is already merged, or both have different versions before or after them.
    """
    rules.check_reason(reason)
    gone, stays = _locked_pair(duplicate, into)
    _check_can_merge(gone, stays)
    before = audit.snapshots(Shoe, [gone.pk, stays.pk])
    for mover in _movers:
        mover(actor=actor, duplicate=gone, into=stays, reason=reason)
    ShoeBarcode.objects.filter(shoe=gone).update(shoe=stays)
    following = _move_links(gone, stays)
    _take_name(gone, stays)
    gone.merged_into = stays
    gone.save()
    stays.save()
    changes = [
        audit.Change("catalogue.shoe.merged", gone, before[gone.pk], reason),
        audit.Change("catalogue.shoe.took_over", stays, before[stays.pk], reason),
    ]
    audit.record_many([*following, *changes], actor=actor)
    return stays


def _locked_pair(duplicate: Shoe, into: Shoe) -> tuple[Shoe, Shoe]:
    if duplicate.pk == into.pk:
        raise DomainError("A shoe can’t be merged into itself. Choose the other one.", code="same_shoe", status=409)
    rows = Shoe.objects.select_for_update(of=("self",)).select_related("brand").order_by("pk")
    locked = {row.pk: row for row in rows.filter(pk__in=[duplicate.pk, into.pk])}
    return locked[duplicate.pk], locked[into.pk]


def _check_can_merge(gone: Shoe, stays: Shoe) -> None:
    for shoe in (gone, stays):
        if shoe.merged_into is not None:
            raise DomainError(
                f"{shoe.slug} was already merged into {shoe.merged_into.slug}.", code="merged", status=409
            )
    if not gone.score_cards.filter(is_current=True).exists():
        return
    if stays.score_cards.filter(is_current=True).exists():
        raise DomainError(
            f"Both {gone.slug} and {stays.slug} have published scores. Withdraw the scores of one of them first.",
            code="both_published",
            status=409,
        )
    raise DomainError(
        f"{gone.slug} has published scores and {stays.slug} has none. Merge the other way round: {stays.slug} into "
        f"{gone.slug}.",
        code="published",
        status=409,
    )


def _move_links(gone: Shoe, stays: Shoe) -> list[audit.Change]:
    """Give the shoe that stays the duplicate's places between versions; return the changes of other shoes."""
    earlier, later = gone.previous, Shoe.objects.select_for_update().filter(previous=gone).first()
    later_of_stays = Shoe.objects.filter(previous=stays).exclude(pk=gone.pk).first()
    if earlier and earlier != stays and stays.previous and stays.previous not in (earlier, gone):
        raise _two_versions("previous", earlier, stays.previous)
    if later and later != stays and later_of_stays and later_of_stays != later:
        raise _two_versions("next", later, later_of_stays)
    gone.previous = None
    gone.save(update_fields=["previous"])
    if stays.previous_id == gone.pk:
        stays.previous = None
    if earlier and earlier != stays and stays.previous is None:
        stays.previous = earlier
    if later is None or later == stays:
        return []
    before = audit.snapshot(later)
    later.previous = stays
    later.save(update_fields=["previous"])
    return [audit.Change("catalogue.shoe.linked", later, before)]


def _two_versions(which: str, of_duplicate: Shoe, of_stays: Shoe) -> DomainError:
    return DomainError(
        f"Each of the two has its own {which} version: {of_duplicate.slug} and {of_stays.slug}. "
        "Remove one of the links or merge those two first.",
        code="versions_differ",
        status=409,
    )


def _take_name(gone: Shoe, stays: Shoe) -> None:
    """Have the shoe that stays be searched for by the duplicate's names too."""
    own = {stays.title.casefold(), *(name.casefold() for name in stays.alternative_names)}
    names = [name for name in (gone.title, *gone.alternative_names) if name.casefold() not in own]
    stays.alternative_names = [*stays.alternative_names, *dict.fromkeys(names)]
