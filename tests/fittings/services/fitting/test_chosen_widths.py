"""The width of a pair: recorded with the choice, in stock and order list, on pages, card and API."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.utils import timezone

from catalogue.models import MovementKind, StockMovement
from catalogue.selectors.stock.stock_work import order_lines
from catalogue.services import Pairs, stock_move
from core.domain.errors import DomainError
from fittings.domain.fitting.intake import FootIntake
from fittings.models import Choice, Fitting
from fittings.services import choice_correct, choice_record
from fittings.services.people.privacy import customer_export

WIDE = FootIntake(pronation=2, length_mm=265.0, width_mm=110.0)


@pytest.fixture
def shoe(make_shoe):
    made = make_shoe("roomy", 65.0)
    made.widths = ["D", "2E"]
    made.save()
    return made


@pytest.fixture
def fitting(make_fitting):
    return make_fitting(left=WIDE, right=WIDE)


def choose(cast, fitting, width, slug="roomy"):
    reason = "asked for"
    return choice_record(
        actor=cast.fitter_a, fitting=fitting, slug=slug, size="EU 42", width=width, comfort=8, reason=reason
    )


def test_width_is_recorded_as_the_maker_writes_it(cast, fitting, shoe, make_fitting, make_shoe):
    assert choose(cast, fitting, " 2e ").width == "2E"
    other = make_fitting(name="Bo Example", email="")
    assert choose(cast, other, "").width == ""
    make_shoe("plain", 65.0)
    for slug, width in (("roomy", "4E"), ("plain", "D"), ("roomy", "x" * 40)):
        with pytest.raises(DomainError) as refused:
            choose(cast, make_fitting(name="Cy Example", email=""), width, slug)
        assert list(refused.value.fields) == ["width"]
    (row,) = customer_export(actor=cast.manager_a, customer=fitting.customer, reason="in-person")["records"][
        "fittings.choice"
    ]
    assert row["width"] == "2E"


def test_exchange_for_another_width_moves_both_widths_and_the_order_list(cast, fitting, shoe):
    size = Decimal("42.0")
    received = [Pairs(shoe, size, 1, "D")], [Pairs(shoe, size, 1, "2E")]
    for pairs in received:
        stock_move(actor=cast.manager_a, store=cast.store_a, kind=MovementKind.RECEIVED, pairs=pairs)
    choice = choose(cast, fitting, "D")
    exchange = {"actor": cast.fitter_a, "choice": choice, "reason": "tight at the ball", "slug": "roomy"}
    with pytest.raises(DomainError) as refused:
        choice_correct(**exchange, kind="mistake", size="EU 42", width="D")
    assert refused.value.code == "nothing_changed"
    done = choice_correct(**exchange, kind="exchange", size="EU 42", width="2E")
    assert done.successor.width == "2E"
    moved = StockMovement.objects.exclude(kind=MovementKind.RECEIVED).values_list("kind", "width", "change")
    assert set(moved) == {("returned", "D", 1), ("sold", "2E", -1)}
    chosen = {line.count.width: line.count.chosen for line in order_lines(cast.store_a, timezone.localdate())}
    assert chosen == {"2E": 1, "D": 1, "": 0} or chosen == {"2E": 1, "D": 1}


def test_width_is_offered_on_the_page_with_what_the_feet_ask_for(cast, sign_in, shoe):
    fitter = sign_in(cast.fitter_a)
    page = {
        "person-name": "Ada Example",
        "person-consent": "yes",
        "stop-signs": ["none"],
        "intake-use": "running",
        "left-pronation": "1",
        "foot-left-length_mm": "265",
        "foot-left-width_mm": "110",
        "try-0-slug": "roomy",
        "try-0-size": "EU 42",
        "choice-place": "0",
        "choice-reason": "asked for",
        "choice-width": "2E",
    }
    answer = fitter.post(f"/fittings/drafts/{uuid.uuid4()}/need/", page).content.decode()
    assert '<option value="2E" selected>' in answer
    assert "Made in 2E, which is wide like the foot" in answer
    refused = fitter.post(f"/fittings/drafts/{uuid.uuid4()}/", page | {"do": "finish", "choice-width": "6E"})
    assert refused.status_code == 400
    assert not Fitting.objects.exists()
    assert fitter.post(f"/fittings/drafts/{uuid.uuid4()}/", page | {"do": "finish"}).status_code == 302
    choice = Choice.objects.get()
    assert choice.width == "2E"
    for address in ("", "card/"):
        assert "width 2E" in fitter.get(f"/fittings/{choice.fitting_id}/{address}").content.decode()
    assert "width 2E" in fitter.get(f"/fittings/customers/{choice.fitting.customer_id}/").content.decode()


def test_width_in_the_api(api_for, cast, fitting, shoe):
    client, url = api_for(cast.fitter_a), f"/api/fittings/{fitting.pk}/choice/"
    body = {"slug": "roomy", "size": "EU 42", "reason": "asked for"}
    for bad in ("4E", 2, "x" * 40):
        answer = client.post(url, body | {"width": bad}, format="json")
        assert (answer.status_code, list(answer.json()["fields"])) == (400, ["width"])
    made = client.post(url, body | {"width": "2E"}, format="json")
    assert (made.status_code, made.json()["width"]) == (201, "2E")
    taken_back = {"kind": "mistake", "slug": "roomy", "size": "EU 42", "width": "D", "reason": "Mis-tap."}
    corrected = client.post(f"{url}{made.json()['id']}/correct/", taken_back, format="json")
    assert corrected.json()["choice"]["width"] == "D"
    assert Choice.objects.filter(at__gte=timezone.now() - dt.timedelta(days=1)).count() == 2
