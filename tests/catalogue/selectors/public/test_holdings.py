"""The counts that triggers keep are what counting gives."""

from __future__ import annotations

from decimal import Decimal

from django.db.models import Count, F, Q

from catalogue.models import ScoreCard, ShoeHolding, StockItem, StoreHolding
from catalogue.selectors import shoe_ids_in_stock, store_list
from core.models import Store
from tests.shared import shared
from tests.stock import stock_set


def counted():
    there = Q(quantity__gt=0)
    published = Q(quantity__gt=0, shoe__score_cards__is_current=True)
    stores = StockItem.objects.filter(published).order_by().values_list("store").annotate(Count("shoe", distinct=True))
    shoes = StockItem.objects.filter(there).order_by().values_list("shoe").annotate(Count("store", distinct=True))
    return dict(stores), dict(shoes)


def per_revision():
    stores = dict(StoreHolding.objects.filter(shoes__gt=0).values_list("store", "shoes"))
    return stores, dict(ShoeHolding.objects.filter(stores__gt=0).values_list("shoe", "stores"))


@shared
def filled(make_shoe, make_store, put_in_stock):
    stores = [make_store(), make_store("mill", "Mill")]
    shoes = [make_shoe("one"), make_shoe("two"), make_shoe("hidden", published=False)]
    for store in stores:
        for shoe in shoes[: 2 if store.slug == "mill" else 3]:
            put_in_stock(store, shoe, "42", "43")
    return stores, shoes


def test_counts_follow_every_change(filled, publisher, scores_for):
    from catalogue.services import score_card_publish

    (harbour, mill), (one, two, hidden) = filled
    assert per_revision() == counted() == ({harbour.pk: 2, mill.pk: 2}, {one.pk: 2, two.pk: 2, hidden.pk: 1})
    steps = [
        lambda: stock_set(actor=None, store=harbour, shoe=one, size_eu=Decimal(42), quantity=0),
        lambda: stock_set(actor=None, store=harbour, shoe=one, size_eu=Decimal(43), quantity=0),
        lambda: stock_set(actor=None, store=harbour, shoe=one, size_eu=Decimal(43), quantity=5),
        lambda: score_card_publish(actor=publisher, shoe=hidden, scores=scores_for(61.0), reason="tested"),
        lambda: score_card_publish(actor=publisher, shoe=hidden, scores=scores_for(62.0), reason="again"),
        lambda: ScoreCard.objects.filter(shoe=two).update(is_current=False),
        lambda: StockItem.objects.filter(store=mill).update(store=harbour, size_eu=F("size_eu") + 5),
        lambda: StockItem.objects.filter(shoe=one).delete(),
    ]
    for step in steps:
        step()
        assert per_revision() == counted(), steps.index(step)


def test_score_beside_the_stock_follows_many_cards_at_once(filled):
    _, (one, two, _) = filled
    ScoreCard.objects.filter(shoe__in=[one, two]).update(stability=58.5)
    assert set(StockItem.objects.filter(shoe__in=[one, two]).values_list("stability", flat=True)) == {58.5}
    ScoreCard.objects.filter(shoe=one).update(is_current=False)
    assert set(StockItem.objects.filter(shoe=one).values_list("stability", flat=True)) == {None}
    assert set(StockItem.objects.filter(shoe=two).values_list("stability", flat=True)) == {58.5}


def test_store_without_stock_has_none(make_store):
    make_store()
    assert [store.shoes for store in store_list() if store.slug == "harbour"] == [0]
    assert Store.objects.get(slug="harbour").pk not in dict(StoreHolding.objects.values_list("store", "shoes"))


def test_shoes_in_stock_anywhere(filled):
    (harbour, _), (one, two, hidden) = filled
    assert sorted(shoe_ids_in_stock()) == sorted([one.pk, two.pk, hidden.pk])
    StockItem.objects.filter(store=harbour).update(quantity=0)
    assert sorted(shoe_ids_in_stock()) == sorted([one.pk, two.pk])
