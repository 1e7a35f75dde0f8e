"""What a fitting chooses among, and the score that triggers keep beside the stock."""

from __future__ import annotations

import sys
from decimal import Decimal

from catalogue import selectors
from catalogue.models import ScoreCard, StockItem
from catalogue.selectors import Question, candidates
from tests.shared import shared


@shared
def shelves(make_shoe, make_store, put_in_stock):
    harbour, mill = make_store("harbour", "Harbour"), make_store("mill-lane", "Mill Lane")
    for slug, stability, more in (
        ("flexible", 45.0, {"use": "walking"}),
        ("light", 55.0, {}),
        ("medium", 65.0, {}),
        ("firm", 75.0, {"use": "standing"}),
    ):
        make_shoe(slug, stability=stability, **more)
    make_shoe("hidden", published=False)
    from catalogue.models import Shoe

    shoe = {item.slug: item for item in Shoe.objects.all()}
    put_in_stock(harbour, shoe["light"], "42", "43")
    put_in_stock(mill, shoe["medium"], "42")
    put_in_stock(mill, shoe["hidden"], "42")
    put_in_stock(harbour, shoe["medium"], "42", quantity=0)
    return harbour


def ask(store, **changes):
    wanted = {"low": 50.0, "high": 70.0, "uses": ["running"], "size_eu": Decimal("42")} | changes
    return candidates(Question(store.pk, **wanted))


def test_small_catalogue_comes_whole_by_stability(shelves):
    found = ask(shelves)
    assert [shoe.slug for shoe in found] == ["flexible", "light", "medium", "firm"]
    assert [(shoe.here, shoe.sister) for shoe in found] == [
        (False, False),
        (True, False),
        (False, True),
        (False, False),
    ]


def test_size_that_no_store_has_is_in_no_stock(shelves):
    assert not any(shoe.here or shoe.sister for shoe in ask(shelves, size_eu=Decimal("50")))
    assert [shoe.slug for shoe in ask(shelves, size_eu=None) if shoe.here] == ["light"]


def test_limits_keep_what_is_in_the_store_what_serves_and_what_was_asked(shelves, monkeypatch):
    module = sys.modules["catalogue.selectors.public.candidates"]
    monkeypatch.setattr(module, "AROUND_MOST", 1)
    monkeypatch.setattr(module, "BESIDE_MOST", 0)
    assert [shoe.slug for shoe in ask(shelves, low=60.0, high=66.0)] == ["light", "medium"]
    assert [shoe.slug for shoe in ask(shelves, low=60.0, high=66.0, asked=["firm", "hidden", "\x00"])] == [
        "light",
        "medium",
        "firm",
    ]
    # 90 kg is above what the lowest band is for: the next one up serves.
    heavy = ask(shelves, low=40.0, high=46.0, uses=["running", "walking"], body_mass_kg=90.0)
    assert [shoe.slug for shoe in heavy] == ["light"]


def test_rows_hold_the_sizes_asked_for(shelves):
    found = {shoe.slug: shoe for shoe in ask(shelves)}
    light = found["light"].shoe_id
    near = selectors.candidate_rows([light], sizes=(Decimal("42.5"), Decimal("43.5")))
    assert [store.sizes for store in near[light].stores] == [(Decimal("43.0"),)]
    assert [store.sizes for store in selectors.candidate_rows([light], sizes=None)[light].stores] == [
        (Decimal("42.0"), Decimal("43.0"))
    ]


def test_score_is_beside_the_stock_and_follows_the_card(shelves, make_shoe, scores_for, publisher):
    from catalogue.models import Shoe
    from catalogue.services import score_card_publish

    def beside(slug):
        return set(StockItem.objects.filter(shoe__slug=slug).values_list("stability", flat=True))

    assert (beside("light"), beside("hidden")) == ({55.0}, {None})
    shoe = Shoe.objects.get(slug="light")
    score_card_publish(actor=publisher, shoe=shoe, scores=scores_for(57.5), reason="tested again")
    assert beside("light") == {57.5}
    StockItem.objects.filter(shoe=shoe).update(stability=1.0)
    assert beside("light") == {57.5}
    ScoreCard.objects.filter(shoe=shoe, is_current=True).update(is_current=False)
    assert beside("light") == {None}
