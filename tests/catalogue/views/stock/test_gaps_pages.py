"""The gap view: what is in stock beside what is published and what was needed."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from catalogue.presentation import gaps
from catalogue.selectors import band_list
from catalogue.selectors.stock import demand, walls
from catalogue.selectors.stock.demand import DemandCell
from catalogue.selectors.stock.walls import BandSize

PAGE = "/wall/gaps/store-a/"


@pytest.fixture
def manager(cast, sign_in):
    return sign_in(cast.manager_a)


@pytest.fixture
def needed(monkeypatch):
    """Return a function that replaces the fittings of an app above."""

    def set_to(*cells):
        monkeypatch.setattr(demand, "_sources", [])
        demand.register_source(lambda _store, _until: list(cells))

    set_to()
    return set_to


def text_of(client):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", client.get(PAGE).content.decode()))


@pytest.mark.parametrize(
    ("who", "status"), [("technician", 403), ("fitter_a", 403), ("office", 403), ("manager_a", 200)]
)
def test_manager_alone_sees_it(cast, sign_in, who, status):
    assert sign_in(cast.members()[who]).get(PAGE).status_code == status


def test_other_store_is_not_there(manager):
    assert manager.get("/wall/gaps/store-b/").status_code == 404


def test_empty_practice_says_so(manager, needed):
    assert "Neither stock nor need yet" in text_of(manager)


def test_band_and_size_that_was_needed_and_is_lacking_leads(manager, needed, make_shoe, cast, put_in_stock):
    put_in_stock(cast.store_a, make_shoe(), "42", quantity=2)
    make_shoe("plovisk-firm-1", stability=75.0)
    needed(
        DemandCell(2, Decimal("42.0"), own=1, practice=7),
        DemandCell(4, Decimal("43.0"), own=3, practice=None),
        DemandCell(4, None, own=2, practice=6),
    )
    text = text_of(manager)
    assert "6 fittings here in the last twelve months, 2 of them without a size." in text
    assert re.search(r"Strong hold EU.43 3 under 5 0", text)
    assert "none on the wall, though it was needed" in text
    assert "plovisk-firm-1" in text


def test_old_score_cards_are_not_counted(cast, make_shoe, put_in_stock, publisher, scores_for):
    from catalogue.services import score_card_publish

    shoe = make_shoe()
    put_in_stock(cast.store_a, shoe, "42", "43", quantity=2)
    score_card_publish(actor=publisher, shoe=shoe, scores=scores_for(75.0), reason="again")
    found = walls.stock_by_band_and_size(cast.store_a)
    assert found == [BandSize(4, Decimal("42.0"), 1, 2), BandSize(4, Decimal("43.0"), 1, 2)]


def test_sold_out_and_unpublished_shoes_leave_the_gap(cast, make_shoe, put_in_stock):
    put_in_stock(cast.store_a, make_shoe(), "42", quantity=0)
    put_in_stock(cast.store_a, make_shoe("plovisk-draft-1", published=False), "42")
    assert walls.stock_by_band_and_size(cast.store_a) == []


def test_absent_shoes_are_those_that_others_have(cast, make_shoe, put_in_stock, make_store):
    here, there, nowhere = (make_shoe(f"shoe-{name}", stability=62.0) for name in ("here", "there", "nowhere"))
    gone = make_shoe("shoe-gone", is_discontinued=True)
    for shoe in (there, gone):
        put_in_stock(cast.store_b, shoe, "42", "43")
    put_in_stock(make_store(), there, "42")
    put_in_stock(cast.store_a, here, "42")
    found = [(shoe.slug, shoe.stores) for shoe in walls.absent_shoes(cast.store_a, limit=9)]
    assert found == [(there.slug, 2), (nowhere.slug, 0)]


def test_states_of_a_cell(db):
    bands = band_list()
    stock = [BandSize(2, Decimal("42.0"), 1, 2), BandSize(2, Decimal("43.0"), 1, 1)]
    wanted = [
        DemandCell(2, Decimal("42.0"), 2, 9),
        DemandCell(2, Decimal("43.0"), 2, 9),
        DemandCell(3, Decimal("42.0"), 1, 9),
    ]
    found = gaps.gap_map(bands, stock, wanted)
    assert found.sizes == ("42", "42.5", "43")
    assert [cell.state for cell in found.rows[1].cells] == ["", "bare", "thin"]
    assert [cell.state for cell in found.rows[2].cells] == ["gap", "bare", "bare"]


@pytest.mark.parametrize(
    ("practice", "text"),
    [([], "0"), ([7, 9], "16"), ([7, None], "at least 7"), ([None], "under 5"), ([None, None], "few")],
)
def test_hidden_counts_stay_hidden_in_sums(practice, text):
    cells = [DemandCell(1, Decimal(40 + place), 0, count) for place, count in enumerate(practice)]
    assert gaps.practice_text(cells) == text


def test_worst_gaps_lead_and_met_needs_are_left_out(db):
    bands = band_list()
    stock = [BandSize(1, Decimal(42), 1, 5)]
    wanted = [DemandCell(1, Decimal(42), 5, 9), DemandCell(2, Decimal(42), 1, 9), DemandCell(3, Decimal(41), 4, 9)]
    assert [(gap.order, gap.needed, gap.pairs) for gap in gaps.worst_gaps(bands, stock, wanted)] == [
        (3, 4, 0),
        (2, 1, 0),
    ]


def test_catalogue_without_fittings_has_no_demand(cast, monkeypatch):
    import datetime as dt

    monkeypatch.setattr(demand, "_sources", [])
    assert demand.of_store(cast.store_a, dt.date(2026, 3, 4)) == []
