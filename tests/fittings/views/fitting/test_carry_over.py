"""What a new fitting takes over from the last one: what holds by itself, the rest by a touch."""

from __future__ import annotations

import datetime as dt
import html
import re
import uuid

import pytest
from django.utils import timezone

from fittings.domain.fitting.intake import CustomerIntake, FootIntake
from fittings.domain.regions import Complaint
from fittings.models import Consent, Draft
from tests.shared import shared

MEASURED = {
    "left": FootIntake(pronation=2, tibial_rotation=1, rearfoot_eversion=0, length_mm=262.0, width_mm=99.5),
    "right": FootIntake(pronation=1, tibial_rotation=1, rearfoot_eversion=0, length_mm=264.0),
    "history": (Complaint("heel", "left", False, dt.date(2025, 1, 31)), Complaint("knee", "right", True)),
    "insole": "insole",
    "size_system": "uk",
}


@pytest.fixture
def fitter(sign_in, cast):
    return sign_in(cast.fitter_a)


@shared
def fitting(chosen):
    return chosen(at=timezone.now() - dt.timedelta(days=40), **MEASURED)


def opened(fitter, fitting):
    return fitter.get(f"/fittings/new/?customer={fitting.customer_id}", follow=True).content.decode()


def value_of(page, name):
    """What stands in a field of a page, an empty text for nothing."""
    if chosen := re.search(rf'<select name="{name}".*?</select>', page, re.S):
        picked = re.search(r'<option value="([^"]*)"\s+selected', chosen[0])
        return picked[1] if picked else ""
    tags = re.findall(rf'<input [^>]*name="{name}"[^>]*>', page)
    tags = [tag for tag in tags if 'type="radio"' not in tag or " checked" in tag]
    said = re.search(r'value="([^"]*)"', tags[0]) if tags else None
    return html.unescape(said[1]) if said else ""


def test_size_system_and_consent_hold_and_nothing_else_is_entered(fitter, fitting):
    page = opened(fitter, fitting)
    assert value_of(page, "foot-size_system") == "uk"
    assert value_of(page, "person-consent") == "yes"
    for name in ("foot-left-length_mm", "intake-body_mass_kg", "history-0-region", "intake-use", "intake-current_shoe"):
        assert value_of(page, name) == "", name
    assert "Feet" in page
    assert "262.0" in page
    assert not re.search(r'name="stop-signs"[^>]*checked', page)
    assert not Draft.objects.exists()


def test_consent_to_an_older_wording_is_asked_again(fitter, fitting):
    Consent.objects.update(text_version="C1")
    assert value_of(opened(fitter, fitting), "person-consent") == ""


def test_each_offer_fills_fields_that_are_empty_and_saves_nothing(fitter, fitting):
    address = f"/fittings/drafts/{uuid.uuid4()}/"
    sent = {"person-known": str(fitting.customer_id), "foot-left-length_mm": "263", "history-0-region": "ankle"}
    fields = [
        "foot-left-length_mm",
        "foot-left-width_mm",
        "foot-right-length_mm",
        "intake-current_shoe",
        "intake-insole",
        *(f"history-{row}-{name}" for row in range(4) for name in ("region", "side", "state", "settled_on")),
    ]
    for name in ("feet", "shoe", "insole", "complaints", "complaints"):
        page = fitter.post(address, sent | {"do": f"carry:{name}"}).content.decode()
        sent |= {field: value_of(page, field) for field in fields}
    assert sent["foot-left-length_mm"] == "263"
    assert (sent["foot-left-width_mm"], sent["foot-right-length_mm"]) == ("99.5", "264")
    assert (sent["intake-current_shoe"], sent["intake-insole"]) == ("Brand in-target", "insole")
    rows = [[sent[f"history-{row}-{name}"] for name in ("region", "side", "state", "settled_on")] for row in range(4)]
    assert rows[0][0] == "ankle"
    assert rows[1:3] == [["heel", "left", "past", "2025-01-31"], ["knee", "right", "now", ""]]
    assert rows[3][0] == ""
    assert not Draft.objects.exists()


def test_lengths_are_entered_in_the_units_of_the_page(fitter, fitting):
    sent = {"person-known": str(fitting.customer_id), "units": "imperial", "do": "carry:feet"}
    page = fitter.post(f"/fittings/drafts/{uuid.uuid4()}/", sent).content.decode()
    assert value_of(page, "foot-left-length_mm") == "10.31"


@pytest.mark.parametrize(
    ("days", "person"),
    [(400, {}), (40, {"customer": CustomerIntake("Kid Example", "", True, "", True, "Berta Elder")})],
)
def test_feet_measured_long_ago_or_still_growing_are_measured_again(fitter, make_fitting, days, person, cast):
    from fittings.domain.fitting.intake import FittingIntake
    from fittings.services import fitting_record

    at = timezone.now() - dt.timedelta(days=days)
    if person:
        intake = FittingIntake("running", stop_signs_asked=True, left=MEASURED["left"], **person)
        fitting = fitting_record(actor=cast.fitter_a, store=cast.store_a, intake=intake, at=at).fitting
    else:
        fitting = make_fitting(at=at)
    page = opened(fitter, fitting)
    assert 'value="carry:feet"' not in page
    assert "262.0" in page


def test_customer_picked_on_the_page_shows_last_time_without_a_reload(fitter, fitting, cast, chosen):
    address = f"/fittings/drafts/{uuid.uuid4()}/last-time/"
    page = fitter.post(address, {"person-known": str(fitting.customer_id)}).content.decode()
    assert "Ada Example, last time." in page
    assert "Brand in-target, EU" in page
    other = chosen(name="Of Another Store", email="", store=cast.store_b, actor=cast.fitter_b)
    for nobody in (str(other.customer_id), "", "x"):
        assert fitter.post(address, {"person-known": nobody}).content.decode().strip() == ""
