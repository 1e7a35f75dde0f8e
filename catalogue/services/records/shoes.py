"""Brands and shoes: added, corrected, discontinued, linked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction

from catalogue.models import Brand, Shoe, ShoeAddress
from catalogue.services.records import shoe_rules as rules
from catalogue.services.records.shoe_rules import Barcode
from catalogue.services.rights import needs
from core import audit
from core.database.validation import check
from core.domain.errors import DomainError
from core.models import User


@needs("catalogue.shoe:write")
@transaction.atomic
def brand_create(*, actor: User | None, name: str, slug: str = "") -> Brand:
    """Add a brand; without a `slug` its address is made from its name."""
    brand = Brand(slug=slug or rules.free_brand_address(name), name=name.strip(" "))
    rules.check_brand_is_new(brand)
    check(brand)
    brand.save()
    audit.record(actor=actor, action="catalogue.brand.created", subject=brand)
    return brand


@needs("catalogue.shoe:write")
@transaction.atomic
def brand_correct(*, actor: User, brand: Brand, name: str, reason: str) -> Brand:
    """Correct the name of a brand. Its address and those of its shoes stay."""
    rules.check_reason(reason)
    row = Brand.objects.select_for_update().get(pk=brand.pk)
    before = audit.snapshot(row)
    row.name = name.strip(" ")
    rules.check_brand_is_new(row)
    check(row)
    row.save()
    audit.record(actor=actor, action="catalogue.brand.corrected", subject=row, before=before, reason=reason)
    return row


@needs("catalogue.shoe:write")
@transaction.atomic
def shoe_create(
    *,
    actor: User | None,
    brand: Brand,
    name: str,
    slug: str = "",
    barcodes: Sequence[Barcode] = (),
    **details: Any,
) -> Shoe:
    """Add a shoe as a draft: nothing of it is published.

    Parameters
    ----------
    slug : its address; made from brand, name and version where it is left out
    details : any of `shoe_rules.DETAILS`

    Raises
    ------
    Duplicate
        409, naming the shoe that has the same brand, name and version, or one of the barcodes.
    """
    rules.lock_brand(brand)
    values = rules.cleaned({"name": name, **details})
    slug = slug or rules.free_address(brand, values["name"], values.get("version", ""))
    shoe = Shoe(slug=slug, brand=brand, **values)
    rules.check_shoe(shoe)
    rows = rules.barcode_rows(shoe, barcodes)
    shoe.save()
    shoe.barcodes.bulk_create(rows)
    audit.record(actor=actor, action="catalogue.shoe.created", subject=shoe)
    return shoe


class ShoeOvertaken(DomainError):
    """Somebody else changed the shoe after it was looked at. Nothing was saved.

    Parameters
    ----------
    edition : the shoe's edition now
    names : the columns that were changed
    """

    def __init__(self, edition: int, names: Sequence[str]) -> None:
        self.edition, self.names = edition, tuple(names)
        super().__init__(
            "Somebody changed this shoe after you opened it. Nothing was saved: look at the change and save again.",
            code="overtaken",
            status=409,
        )


def shoe_edition(shoe: Shoe) -> int:
    """Return a number that grows with every recorded change of a shoe: the id of its newest audit entry."""
    return audit.entries_of(shoe).order_by("-id").values_list("id", flat=True).first() or 0


def _check_edition(shoe: Shoe, seen: int | None) -> None:
    now = shoe_edition(shoe)
    if seen is None or seen == now:
        return
    since = audit.entries_of(shoe).filter(id__gt=seen)
    names = {name for entry in since for name in entry.content["before"] or {}}
    raise ShoeOvertaken(now, sorted(names))


@needs("catalogue.shoe:write")
@transaction.atomic
def shoe_correct(
    *,
    actor: User,
    shoe: Shoe,
    changes: Mapping[str, Any],
    reason: str,
    edition: int | None = None,
    barcodes: Sequence[Barcode] | None = None,
) -> Shoe:
    """Correct what is stated of a shoe.

    Parameters
    ----------
    changes : new values of any of `shoe_rules.DETAILS`, `brand`, `name` and `slug`. The address stays unless `slug` is
        given; then the address it had leads to the new one.
    edition : what `shoe_edition` said when the shoe was looked at; None to correct it whatever happened since
    barcodes : all barcodes of the shoe; None leaves them as they are

    Raises
    ------
    ShoeOvertaken
        409, where somebody else changed the shoe since that edition.
    Duplicate
        409, naming the other shoe.
    """
    rules.check_reason(reason)
    row = _locked(shoe)
    _check_edition(row, edition)
    before, old_slug = audit.snapshot(row), row.slug
    for name, value in rules.cleaned(changes).items():
        setattr(row, name, value)
    rules.lock_brand(row.brand)
    rules.check_shoe(row)
    row.save()
    if barcodes is not None:
        _replace_barcodes(row, barcodes)
    if row.slug != old_slug:
        ShoeAddress.objects.filter(slug=row.slug).delete()
        ShoeAddress.objects.create(shoe=row, slug=old_slug)
    _record_change(actor, "catalogue.shoe.corrected", row, before, reason)
    return row


def _locked(shoe: Shoe) -> Shoe:
    row = Shoe.objects.select_for_update().get(pk=shoe.pk)
    if row.merged_into is not None:
        raise DomainError(
            f"{row.slug} was merged into {row.merged_into.slug}. Correct that shoe instead.", code="merged", status=409
        )
    return row


def _replace_barcodes(shoe: Shoe, barcodes: Sequence[Barcode]) -> None:
    """Store the barcodes that are new or different, and remove those that are no longer there."""
    wanted = {row.gtin: row for row in rules.barcode_rows(shoe, barcodes)}
    for held in shoe.barcodes.all():
        row = wanted.get(held.gtin)
        if row is not None and (row.size_eu, row.width) == (held.size_eu, held.width):
            del wanted[held.gtin]
        else:
            held.delete()
    shoe.barcodes.bulk_create(wanted.values())


def _record_change(actor: User, action: str, shoe: Shoe, before: Mapping[str, Any], reason: str) -> None:
    """Write the entry, but none where nothing changed."""
    if audit.snapshot(shoe) != before:
        audit.record(actor=actor, action=action, subject=shoe, before=dict(before), reason=reason)


@needs("catalogue.shoe:write")
@transaction.atomic
def shoe_discontinue(*, actor: User, shoe: Shoe, reason: str, is_discontinued: bool = True) -> Shoe:
    """Note that the maker no longer makes a shoe, or take that back. Its scores stay published."""
    rules.check_reason(reason)
    row = _locked(shoe)
    before = audit.snapshot(row)
    row.is_discontinued = is_discontinued
    row.save()
    action = "catalogue.shoe.discontinued" if is_discontinued else "catalogue.shoe.resumed"
    _record_change(actor, action, row, before, reason)
    return row


@needs("catalogue.shoe:write")
@transaction.atomic
def shoe_link(*, actor: User, shoe: Shoe, previous: Shoe | None, reason: str) -> Shoe:
    """Say which version of a shoe came before it; None removes the link."""
    rules.check_reason(reason)
    row = _locked(shoe)
    before = audit.snapshot(row)
    row.previous = previous
    rules.check_previous(row)
    check(row)
    row.save()
    _record_change(actor, "catalogue.shoe.linked", row, before, reason)
    return row
