"""The code of "Where to start": it carries the answers to a fitter of this practice, and nothing is stored by it."""

from __future__ import annotations

import datetime as dt
import re
import string

import pytest
import zxingcpp
from django.apps import apps
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from core.audit import practice_id
from core.domain.errors import DomainError
from fittings.services.people.start_code import DAYS_VALID, StartAnswers, start_code_for, start_code_read
from tests.external.test_wall_card_codes import picture_of

OPEN = reverse("fittings:from-start")
SAID = {"body_mass_kg": "83.6", "distance_km_week": "35", "hurt": "heel", "hurts": "now", "size": "EU 42"}


@pytest.fixture
def visitor_page(client, make_shoe, cast):
    make_shoe("firth", 53.0, stock={cast.store_a: ["42.0"]})
    data = {"signs": "none", "use": "running", "worn": "firth", "went": "badly", "roll": "2", **SAID}
    return client.post("/start/", data).content.decode()


def scanned(page):
    """The address in the code, as a camera reads it."""
    svg = re.search(r'id="start-code">(<svg.*?</svg>)', page, re.DOTALL).group(1)
    return zxingcpp.read_barcode(picture_of(svg)).text


def test_code_leads_a_fitter_to_the_answers_in_a_fragment(visitor_page, sign_in, cast, settings):
    address = scanned(visitor_page)
    path, _, code = address.removeprefix(settings.SITE_URL.rstrip("/")).partition("#")
    assert path == OPEN
    assert "?" not in address
    page = sign_in(cast.fitter_a).post(OPEN, {"code": code}).content.decode()
    assert "84\u00a0kg" in page
    assert "heel, now" in page
    assert "Brand firth" in page
    assert "EU 42" in page


def test_fitting_begins_with_the_answers_and_nothing_is_stored(visitor_page, sign_in, cast):
    def rows():
        managed = [model for model in apps.get_models() if model._meta.managed]
        return {model: model.objects.count() for model in managed if model._meta.label != "sessions.Session"}

    client = sign_in(cast.fitter_a)
    before = rows()
    page = client.post(OPEN, {"code": scanned(visitor_page)}).content.decode()
    action = re.search(r'action="(/fittings/drafts/[^"]+)"', page).group(1)
    fields = dict(re.findall(r'type="hidden" name="([a-z0-9_-]+)" value="([^"]*)"', page))
    response = client.post(action, {**fields, "do": "need"})
    intake = {section.name: section for section in response.context["first"]}["intake"].forms
    intake.is_valid()
    assert intake.intake.cleaned_data["body_mass_kg"] == 83.6
    assert intake.intake.cleaned_data["current_shoe"] == "firth"
    assert [(item.region, item.now) for item in intake.complaints()] == [("heel", True)]
    assert rows() == before


def test_signs_and_stop_signs_are_left_to_the_fitter(visitor_page, sign_in, cast):
    page = sign_in(cast.fitter_a).post(OPEN, {"code": scanned(visitor_page)}).content.decode()
    hidden = re.findall(r'type="hidden" name="([a-z0-9_-]+)"', page)
    assert not [name for name in hidden if name.startswith(("left", "right", "stop"))]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("", "Scan or paste the code."),
        ("hello", "This code is incomplete"),
        ("{0}.{1:.27}", "damaged"),
        ("{0}.{1}AAAA", "damaged"),
        ("000000000000.{1}", "another practice"),
        ("{0}.{1}\x00", "characters that cannot be seen"),
        ("#" * 1001, "at most 1000 characters"),
    ],
)
def test_code_that_is_none_of_ours_is_refused_in_words(sign_in, cast, change, words):
    code = change.format(*start_code_for(StartAnswers("running", 70.0)).split("."))
    response = sign_in(cast.fitter_a).post(OPEN, {"code": code})
    assert response.status_code == 400
    assert words in response.content.decode()


def test_code_is_too_old_after_thirty_days(cast):
    today = timezone.localdate()
    code = start_code_for(StartAnswers("walking"), on=today - dt.timedelta(days=DAYS_VALID))
    assert start_code_read(code).answers == StartAnswers("walking")
    with pytest.raises(DomainError, match="31 days old"):
        start_code_read(code, on=today + dt.timedelta(days=1))


@given(text=st.text(st.sampled_from(string.ascii_letters + string.digits + "._-#é\x00"), max_size=60))
def test_no_text_does_more_than_be_refused(text):
    from fittings.services.people import start_code

    practice = "0123456789ab"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(start_code, "practice_id", lambda: practice)
        for code in (text, f"{practice}.{text}", f"https://example.org/#{practice}.{text}"):
            with pytest.raises(DomainError):
                start_code_read(code)


def test_answers_can_not_be_read_without_the_key(cast):
    code = start_code_for(StartAnswers("running", 83.5, hurt="front_of_knee", worn="a shoe"))
    assert code.startswith(practice_id())
    assert "knee" not in code
    assert len(code) < 300


def test_stop_sign_gives_no_code(client, db):
    page = client.post("/start/", {"signs": "swelling", "use": "running"}).content.decode()
    assert 'id="start-code"' not in page
