from __future__ import annotations

from decimal import Decimal

import pytest

from catalogue import selectors
from catalogue.domain.filters import ORDERS, ShoeFilter
from catalogue.domain.sizes import ReadSize
from tests.shared import shared


@shared
def shoes(make_shoe, make_store, put_in_stock):
    """Four published shoes, one in each of the lower bands and uses, and one that is not published."""
    harbour, mill = make_store("harbour", "Harbour"), make_store("mill-lane", "Mill Lane")
    flexible = make_shoe("flexible", stability=45.0, mass_g=220.0, use="walking", stack_forefoot_mm=30.0)
    light = make_shoe("light", stability=55.0, mass_g=250.0, brand="Odderby")
    medium = make_shoe("medium", stability=65.0, mass_g=290.0, version="7")
    make_shoe("firm", stability=75.0, mass_g=None, stack_heel_mm=None, use="standing")
    hidden = make_shoe("hidden", published=False)
    put_in_stock(harbour, flexible, "42", "42.5")
    put_in_stock(harbour, light, "42")
    put_in_stock(mill, medium, "42", "43")
    put_in_stock(mill, light, "44", quantity=0)
    put_in_stock(mill, hidden, "42")


def find(**wanted):
    return selectors.select_shoes(ShoeFilter(**wanted), revision=selectors.revision())


def slugs(**wanted):
    selection = find(**wanted)
    return [shoe.slug for shoe in selection.read(selection.page(limit=50))]


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize(
    ("wanted", "left"),
    [
        ({}, ["flexible", "light", "medium", "firm"]),
        ({"bands": (1, 4)}, ["flexible", "firm"]),
        ({"uses": ("walking", "standing")}, ["flexible", "firm"]),
        ({"midfoot_min": 57.0, "midfoot_max": 67.0}, ["light", "medium"]),
        ({"rearfoot_max": 53.0}, ["flexible", "light"]),
        ({"cushioning_min": 60.0}, ["flexible", "light", "medium", "firm"]),
        ({"cushioning_min": 60.1}, []),
        ({"mass_max": 250.0}, ["flexible", "light"]),
        ({"drop_max": 4.0}, ["flexible"]),
        ({"drop_min": 5.0}, ["light", "medium"]),
        ({"size": ReadSize(Decimal("42.5"), "")}, ["flexible"]),
        ({"size": ReadSize(Decimal("42"), "")}, ["flexible", "light", "medium"]),
        ({"size": ReadSize(Decimal("44"), "")}, []),
        ({"store": "harbour"}, ["flexible", "light"]),
        ({"store": "mill-lane", "size": ReadSize(Decimal("42"), "")}, ["medium"]),
        ({"store": "harbour", "size": ReadSize(Decimal("43"), "")}, []),
        ({"q": "odderby"}, ["light"]),
        ({"q": "corvane MED 7"}, ["medium"]),
        ({"q": "odderby medium"}, []),
        ({"q": "%"}, []),
    ],
)
def test_filter_leaves(wanted, left):
    assert slugs(**wanted) == left


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize(
    ("order", "found"),
    [
        ("-stability", ["firm", "medium", "light", "flexible"]),
        ("mass", ["flexible", "light", "medium", "firm"]),
        ("-mass", ["medium", "light", "flexible", "firm"]),
        ("drop", ["flexible", "light", "medium", "firm"]),
        ("-drop", ["light", "medium", "flexible", "firm"]),
        ("name", ["firm", "flexible", "medium", "light"]),
    ],
)
def test_order_puts_missing_values_last(order, found):
    assert slugs(order=order) == found


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize("order", ORDERS)
def test_every_order_keeps_every_shoe(order):
    assert sorted(slugs(order=order)) == ["firm", "flexible", "light", "medium"]


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("wanted", [{}, {"uses": ("walking", "standing")}, {"mass_max": 250.0}])
def test_few_shoes_are_sorted_as_many_are_picked(order, wanted, monkeypatch):
    many = slugs(order=order, **wanted)
    monkeypatch.setattr("catalogue.selectors.public.columns.FEW", 2.0)
    assert slugs(order=order, **wanted) == many


@pytest.mark.usefixtures("shoes")
def test_counts_say_what_each_choice_would_leave():
    selection = find(bands=(1,), mass_max=250.0)
    counts = selection.counts([1, 2, 3, 4, 5])
    assert (counts.published, counts.matching) == (4, 1)
    assert counts.by_band == {1: 1, 2: 1, 3: 0, 4: 0, 5: 0}
    assert counts.by_use == {"running": 0, "walking": 1, "standing": 0}
    assert selection.left_without_each() == {"band": 2, "mass": 1}


@pytest.mark.usefixtures("shoes")
def test_size_and_store_are_one_condition_and_let_go_one_at_a_time():
    selection = find(size=ReadSize(Decimal("43"), ""), store="harbour")
    assert selection.matching == 0
    assert selection.left_without_each() == {"size": 2, "store": 1}
    assert find(size=ReadSize(Decimal("43"), ""), store="harbour", uses=("walking",)).left_without_each() == {
        "use": 0,
        "size": 1,
        "store": 0,
    }
    assert find(size=ReadSize(Decimal("43"), ""), bands=(1,)).left_without_each() == {"band": 1, "size": 1}


@pytest.mark.usefixtures("shoes")
def test_counts_agree_with_the_list():
    for wanted in ({}, {"store": "harbour"}, {"size": ReadSize(Decimal("42"), ""), "uses": ("running",)}):
        selection = find(**wanted)
        assert selection.counts([1, 2, 3, 4, 5]).matching == len(slugs(**wanted)) == selection.matching


@pytest.mark.usefixtures("shoes")
def test_stability_scale_holds_every_published_shoe_and_marks_the_matching():
    points = find(store="harbour").points()
    assert [(point.slug, point.is_match) for point in points] == [
        ("flexible", True),
        ("light", True),
        ("medium", False),
        ("firm", False),
    ]
    assert points[0].expanded_u == 2.0
    assert all(point.is_match for point in find().points())


@pytest.mark.usefixtures("shoes")
def test_sizes_in_stock_anywhere_are_each_named_once():
    assert selectors.sizes_in_stock_anywhere() == tuple(Decimal(size) for size in ("42.0", "42.5", "43.0"))


def test_empty_catalogue_has_columns_all_the_same(db):
    selection = find(bands=(1,), q="anything", size=ReadSize(Decimal("42"), ""))
    assert (selection.columns.count, selection.matching, selection.points()) == (0, 0, [])
    assert selectors.sizes_in_stock_anywhere() == ()


@pytest.mark.usefixtures("shoes")
def test_change_of_stock_leaves_the_columns_as_they_are(make_store, put_in_stock):
    from catalogue.models import Shoe

    before = selectors.columns_at(selectors.revision())
    put_in_stock(make_store("quay", "Quay"), Shoe.objects.get(slug="firm"), "44")
    assert selectors.columns_at(selectors.revision()) is before
    assert slugs(size=ReadSize(Decimal("44"), "")) == ["firm"]
    Shoe.objects.filter(slug="firm").update(mass_g=321.0)
    assert selectors.columns_at(selectors.revision()) is not before
    assert slugs(mass_max=330.0, bands=(4,)) == ["firm"]


@pytest.mark.usefixtures("shoes")
def test_stock_of_a_shoe_lists_only_what_is_there():
    light = selectors.shoe_get("light")
    assert [(store.slug, store.sizes) for store in light.stores] == [("harbour", (Decimal("42.0"),))]


@pytest.mark.usefixtures("shoes")
def test_store_counts_its_published_shoes():
    assert {store.slug: store.shoes for store in selectors.store_list()} == {"harbour": 2, "mill-lane": 1}
    held = selectors.stock_for_store("harbour", limit=10)
    assert [(shoe.slug, [store.slug for store in shoe.stores]) for shoe in held] == [
        ("flexible", ["harbour"]),
        ("light", ["harbour"]),
    ]
