"""The page of a fitting: need and match live, stop signs, shoes tried on, and finishing."""

from __future__ import annotations

import uuid

import pytest

from core.models import AuditEntry
from fittings.models import Draft, DraftSection, Fitting, FollowUp
from tests.fittings.views.fitting.draft_requests import HTMX, PERSON, all_at_once, section, text_of


@pytest.fixture
def key():
    return uuid.uuid4()


@pytest.fixture
def fitter(sign_in, cast):
    return sign_in(cast.fitter_a)


def test_need_and_match_follow_what_stands_on_the_page_and_keep_nothing(fitter, key, make_shoe, cast):
    make_shoe("in-target", 62.0, stock={cast.store_a: ["42"]})
    before = AuditEntry.objects.count()
    sent = {
        "intake-use": "running",
        "left-pronation": "2",
        "left-rearfoot_eversion_deg": "6.5",
        "foot-left-length_mm": "265",
    }
    text = text_of(fitter.post(f"/fittings/drafts/{key}/need/", sent, **HTMX))
    assert "Pronation: moderate (left)" in text
    assert "Rearfoot eversion: moderate (left)" in text
    assert "55.0 to 71.0" in text
    assert 'data-try="in-target" data-size="EU 42"' in text
    assert "No diagnosis" in text
    assert AuditEntry.objects.count() == before
    assert not Draft.objects.exists()
    mended = text_of(fitter.post(f"/fittings/drafts/{key}/need/", sent | {"intake-body_mass_kg": "4"}, **HTMX))
    assert "Fields with errors are left out" in mended


def test_stop_sign_sends_to_a_clinician_at_once(fitter, key):
    text = text_of(fitter.post(f"/fittings/drafts/{key}/need/", {"stop-signs": ["night_pain"]}, **HTMX))
    assert "See a clinician first." in text


def test_stop_signs_warn_beside_the_tick_and_name_their_sources(fitter, key):
    text = text_of(fitter.get(f"/fittings/drafts/{key}/"))
    warning = text.split('class="fit-refer fit-stop__warning"')[1].split("</div> </div>")[0]
    assert "I advised the customer to see a clinician." in warning
    assert "cannot take four steps on that foot without help" in text
    assert "Ottawa ankle and foot rules" in text
    assert "come first" in text


def test_fitting_with_a_stop_sign_is_finished_only_after_the_advice(fitter, key):
    sent = PERSON | {"intake-use": "running", "stop-signs": ["calf"], "intake-pain_weeks": "5", "do": "finish"}
    sent["page"] = str(uuid.uuid4())
    refused = fitter.post(f"/fittings/drafts/{key}/", sent)
    assert refused.status_code == 400
    assert "Advise the customer to see a clinician, then tick that you did." in text_of(refused)
    assert not Fitting.objects.exists()
    assert fitter.post(f"/fittings/drafts/{key}/", sent | {"stop-advised": "on"}).status_code == 302
    fitting = Fitting.objects.get()
    assert (fitting.stop_signs, fitting.clinician_advised, fitting.pain_weeks) == (["calf"], True, 5)
    assert [line.split(".")[0] for line in fitting.referral_advice] == ["See a clinician first"] * 2


def test_advice_is_asked_for_without_consent_too(fitter, key):
    sent = {"person-consent": "no", "intake-use": "running", "stop-signs": ["calf"], "do": "finish"}
    assert fitter.post(f"/fittings/drafts/{key}/", sent).status_code == 400
    page = fitter.post(f"/fittings/drafts/{key}/", sent | {"stop-advised": "on"})
    assert "This should be seen today" in text_of(page)
    assert Fitting.objects.get().referral_advice is None


def test_tick_of_the_advice_without_a_sign_says_nothing(fitter, key):
    sent = PERSON | {"intake-use": "running", "stop-signs": ["none"], "stop-advised": "on", "do": "finish"}
    assert fitter.post(f"/fittings/drafts/{key}/", sent).status_code == 302
    assert Fitting.objects.get().clinician_advised is None


def test_choices_say_which_shoe_lies_where(fitter, key, make_shoe):
    make_shoe("near", 46.0)
    make_shoe("far", 80.0)
    sent = {"try-0-slug": "near", "try-0-size": "42", "try-0-comfort": "8", "try-1-slug": "far", "try-1-size": "42"}
    text = text_of(fitter.post(f"/fittings/drafts/{key}/need/", sent, **HTMX))
    assert "EU 42, comfort 8: stability 46.0, in the target" in text
    assert "stability 80.0, outside the target, so say why below" in text


def test_converted_size_of_a_shoe_tried_on_is_marked_and_is_the_same_as_its_eu_size(fitter, key, make_shoe):
    make_shoe("near", 46.0)
    sent = {"try-0-slug": "near", "try-0-size": "US W 9"}
    text = text_of(fitter.post(f"/fittings/drafts/{key}/need/", sent, **HTMX))
    assert "about EU 40.5 (US W 9): stability 46.0, in the target" in text.replace("\xa0", " ")
    twice = sent | {"try-1-slug": "near", "try-1-size": "40.5"}
    answer = section(fitter, key, "try_ons", twice)
    assert "already in another row in this size" in text_of(answer)


def test_asked_shoe_is_told_about(fitter, key, make_shoe):
    make_shoe("far", 80.0)
    make_shoe("near", 45.0)
    for asked in ("far", "Brand far", "brand FAR"):
        sent = {"intake-use": "running", "ask": asked}
        text = text_of(fitter.post(f"/fittings/drafts/{key}/need/", sent, **HTMX))
        assert "above the target" in text
        assert ">Brand far</a>" in text


def test_try_on_button_fills_the_first_free_row(fitter, key, make_shoe):
    make_shoe("near", 46.0)
    sent = PERSON | {"try-0-slug": "near", "try-0-size": "41", "wanted-size": "EU 42"}
    answer = all_at_once(fitter, key, do="try:near", **sent)
    assert answer.headers["Location"].endswith("#section-try_ons")
    assert DraftSection.objects.get(name="try_ons").content == {
        "try-0-slug": "near",
        "try-0-size": "41",
        "try-1-slug": "near",
        "try-1-size": "EU 42",
    }


def test_whole_fitting_through_sections_and_finish_pressed_twice(fitter, key, make_shoe, cast):
    make_shoe("near", 62.0)
    section(fitter, key, "person", PERSON)
    section(
        fitter, key, "intake", {"intake-use": "running", "intake-distance_km_week": "35", "intake-body_mass_kg": "70"}
    )
    section(fitter, key, "observation", {"left-pronation": "2", "right-pronation": "1", "hip-hip_weak": "yes"})
    section(fitter, key, "feet", {"foot-left-length_mm": "265"})
    section(fitter, key, "try_ons", {"try-0-slug": "near", "try-0-size": "EU 42", "try-0-comfort": "8"})
    section(fitter, key, "choice", {"choice-place": "0"})
    section(fitter, key, "stop_signs", {"stop-signs": ["none"]})
    sent = {"do": "finish", "untouched": ["person", "intake", "stop_signs", "observation", "feet", "try_ons", "choice"]}
    first, second = (fitter.post(f"/fittings/drafts/{key}/", sent) for _ in range(2))
    fitting = Fitting.objects.get()
    assert first.headers["Location"] == second.headers["Location"] == f"/fittings/{fitting.pk}/"
    assert (FollowUp.objects.count(), fitting.choice.comfort, fitting.hip_weak) == (5, 8, True)
    assert fitter.get(f"/fittings/drafts/{key}/").headers["Location"] == f"/fittings/{fitting.pk}/"
    late = section(fitter, key, "feet", {"foot-left-length_mm": "270"})
    assert late.headers["HX-Redirect"] == f"/fittings/{fitting.pk}/"


def test_choice_outside_the_target_without_a_reason_comes_back_at_the_field(fitter, key, make_shoe):
    make_shoe("far", 80.0)
    sent = PERSON | {"try-0-slug": "far", "try-0-size": "42", "choice-place": "0"}
    answer = all_at_once(fitter, key, do="finish", **sent)
    assert answer.status_code == 400
    assert "give a reason for the choice" in text_of(answer)
    assert 'id="id_choice-reason_error"' in answer.content.decode()
    again = all_at_once(
        fitter, key, do="finish", **sent, **{"choice-reason": "feels right"},
        **{f"{name}-version": "1" for name in ("person", "intake", "try_ons", "choice")},
    )  # fmt: skip
    assert again.status_code == 302
    assert Fitting.objects.get().choice.reason == "feels right"
