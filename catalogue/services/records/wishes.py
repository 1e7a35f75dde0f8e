"""Shoes that stores ask for because they are not in the catalogue."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from catalogue.models import Shoe, ShoeWish, WishState
from catalogue.services.rights import needs
from core import audit
from core.database.validation import check
from core.domain.errors import DomainError, required_reason
from core.models import Store, User


@transaction.atomic
def wish_ask(*, actor: User, store: Store, brand: str, name: str, note: str = "") -> ShoeWish:
    """Ask for a shoe that is not in the catalogue.

    Raises
    ------
    DomainError
        409, where the store asks for this shoe already.
    """
    # Two people of one store wait for each other here, so that neither asks for what the other just did.
    locked = Store.objects.select_for_update(no_key=True).get(pk=store.pk)
    if locked.is_training:
        raise DomainError("A training store asks for no shoes.", code="training", status=409)
    brand, name = (" ".join(text.split()) for text in (brand, name))
    earlier = ShoeWish.objects.filter(
        store=store, state=WishState.OPEN, brand__iexact=brand, name__iexact=name
    ).select_related("asked_by")
    for wish in earlier:
        raise DomainError(
            f"The store asked for {wish} on {timezone.localdate(wish.asked_at):%d %B %Y} already "
            f"({wish.asked_by.display_name}). It is still open.",
            code="asked_already",
            status=409,
        )
    wish = ShoeWish(store=store, brand=brand, name=name, note=note.strip(), asked_by=actor, asked_at=timezone.now())
    check(wish)
    wish.save()
    audit.record(actor=actor, action="catalogue.wish.asked", subject=wish, store=store)
    return wish


def _open(wish: ShoeWish) -> ShoeWish:
    """Return the wish, held until the end of the transaction, if nobody has answered it."""
    row = ShoeWish.objects.select_for_update(of=("self",)).select_related("store", "decided_by").get(pk=wish.pk)
    if row.state != WishState.OPEN:
        by = f" by {row.decided_by.display_name}" if row.decided_by else ""
        raise DomainError(
            f"This request was answered{by} already: {row.get_state_display()}.", code="not_open", status=409
        )
    return row


@needs("catalogue.wish:decide")
@transaction.atomic
def wish_done(*, actor: User, wish: ShoeWish, shoe: Shoe) -> ShoeWish:
    """Answer a wish with the shoe that is in the catalogue now."""
    row = _open(wish)
    if shoe.merged_into_id is not None:
        raise DomainError(
            f"{shoe.slug} was merged into another shoe. Name that one.",
            code="merged",
            status=409,
            fields={"shoe": [f"{shoe.slug} was merged into another shoe. Name that one."]},
        )
    row.shoe = shoe
    return _decide(row, actor, WishState.DONE, "catalogue.wish.done")


@needs("catalogue.wish:decide")
@transaction.atomic
def wish_decline(*, actor: User, wish: ShoeWish, reason: str) -> ShoeWish:
    """Decline a wish; the store is shown the reason."""
    row = _open(wish)
    row.reason = required_reason(reason, asked="Give a reason: the store is shown it.")
    return _decide(row, actor, WishState.DECLINED, "catalogue.wish.declined")


def _decide(row: ShoeWish, actor: User, state: WishState, action: str) -> ShoeWish:
    before = audit.snapshot(row)
    row.state, row.decided_by, row.decided_at = state, actor, timezone.now()
    check(row)
    row.save()
    audit.record(actor=actor, action=action, subject=row, before=before, reason=row.reason, store=row.store)
    return row
