"""The page of a fitting: sections saved by themselves or all at once, resumed by colleagues, people found."""

from __future__ import annotations

import re
import uuid

import pytest
from django.test import Client

from core.gate.access import Role
from core.models import Membership, Store, User
from fittings.models import Customer, Draft, DraftSection, Fitting
from tests.fittings.views.fitting.draft_requests import HTMX, PAGE, PERSON, all_at_once, section, text_of


@pytest.fixture
def key():
    return uuid.uuid4()


@pytest.fixture
def fitter(sign_in, cast):
    return sign_in(cast.fitter_a)


@pytest.fixture
def colleague(cast):
    user = User.objects.create(username="fitter-a2", first_name="Col", last_name="League")
    Membership.objects.create(user=user, role=Role.FITTER, store=cast.store_a)
    client = Client()
    client.force_login(user)
    return client


def test_a_section_is_saved_by_itself_and_says_so(fitter, key):
    assert "Saved" in text_of(section(fitter, key, "person", PERSON))
    answer = section(fitter, key, "feet", {"foot-left-length_mm": "262,5"}, edit="1")
    assert answer.status_code == 200
    assert "Saved" in text_of(answer)
    assert 'name="feet-version" value="1"' in text_of(answer)
    assert DraftSection.objects.get(name="feet").content == {"foot-left-length_mm": "262,5"}


def test_health_data_sent_before_consent_is_kept_nowhere(fitter, key):
    answer = section(fitter, key, "intake", {"intake-use": "running", "intake-pain_now": "4"})
    assert answer.status_code == 202
    assert "no consent yet" in text_of(answer)
    assert section(fitter, key, "person", PERSON | {"person-consent": ""}).status_code == 202
    assert not Draft.objects.exists()
    assert not Customer.objects.exists()


def test_consent_taken_back_removes_what_was_kept(fitter, key):
    section(fitter, key, "person", PERSON)
    section(fitter, key, "intake", {"intake-use": "running", "intake-pain_now": "4"})
    answer = section(fitter, key, "person", PERSON | {"person-consent": "no", "person-version": "1"})
    assert answer.status_code == 202
    assert not Draft.objects.exists()
    assert not DraftSection.objects.exists()
    assert not Customer.objects.exists()


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("person", {"person-consent": "yes", "person-name": ""}, "Give a name"),
        ("intake", {"intake-body_mass_kg": "4"}, "Write a number from 10 to 400."),
        ("observation", {"left-pronation_deg": "99"}, "Write a number from −30 to 45."),
        ("feet", {"foot-left-width_mm": "9"}, "Write a number from 40 to 200."),
        ("try_ons", {"try-0-slug": "no-such", "try-0-size": "XL"}, "There is no published shoe"),
        ("stop_signs", {"stop-signs": "hunger"}, "not one of the choices"),
        ("choice", {"choice-place": "x"}, "not one of the choices"),
    ],
)
def test_bad_section_comes_back_with_its_problem_at_the_field(fitter, key, name, data, words):
    section(fitter, key, "person", PERSON)
    answer = section(fitter, key, name, data, page=str(uuid.uuid4()), **{f"{name}-version": "7"})
    assert answer.status_code == 400
    assert answer.headers["HX-Retarget"] == f"#section-{name}"
    assert words in text_of(answer)
    assert "Not saved:" in text_of(answer)
    assert f'name="{name}-version" value="7"' in text_of(answer)
    assert DraftSection.objects.exclude(name="person").count() == 0


TWO_HANDS = {
    "person": (PERSON, PERSON | {"person-name": "Ada Sample"}, PERSON | {"person-name": "Ada Specimen"}),
    "intake": tuple({"intake-use": "running", "intake-body_mass_kg": mass} for mass in ("60", "61", "62")),
    "stop_signs": tuple({"stop-signs": sign} for sign in (["swelling"], [], ["swelling", "numbness"])),
    "observation": tuple({"left-pronation": grade} for grade in "012"),
    "feet": tuple({"foot-left-length_mm": length} for length in ("262", "270", "265")),
    "try_ons": tuple({"try-0-slug": "first", "try-0-size": "42", "try-0-comfort": mark} for mark in "789"),
    "choice": tuple({"choice-reason": words} for words in ("fits", "softer", "firmer")),
}


@pytest.mark.parametrize("name", TWO_HANDS)
def test_conflict_in_any_section_offers_theirs_and_mine(fitter, colleague, key, name, make_shoe):
    make_shoe("first", 62.0)
    begun, theirs, mine = TWO_HANDS[name]
    section(fitter, key, "person", PERSON)
    assert section(fitter, key, name, begun, edit="1").status_code == 200
    opened = {f"{name}-version": str(DraftSection.objects.get(name=name).version)}
    assert section(colleague, key, name, theirs | opened, page=str(uuid.uuid4()), edit="1").status_code == 200
    answer = section(fitter, key, name, mine | opened, edit="2")
    assert answer.status_code == 409
    text = text_of(answer)
    assert "Col League saved this section" in text
    assert f'hx-get="/fittings/drafts/{key}/sections/{name}/"' in text
    assert f'value="keep:{name}:{DraftSection.objects.get(name=name).version}"' in text
    assert fitter.get(f"/fittings/drafts/{key}/sections/{name}/", **HTMX).status_code == 200


def test_second_of_two_editors_is_told_what_differs_and_may_choose(fitter, colleague, key):
    section(fitter, key, "person", PERSON)
    section(fitter, key, "feet", {"foot-left-length_mm": "262"})
    theirs = section(
        colleague, key, "feet", {"foot-left-length_mm": "270", "feet-version": "1"}, page=str(uuid.uuid4())
    )
    assert theirs.status_code == 200
    answer = section(fitter, key, "feet", {"foot-left-length_mm": "265", "feet-version": "1"})
    assert answer.status_code == 409
    text = text_of(answer)
    assert "Col League saved this section" in text
    assert "<td>270</td><td>265</td>" in text
    assert "Keep mine" in text
    assert DraftSection.objects.get(name="feet").content["foot-left-length_mm"] == "270"
    shown = fitter.get(f"/fittings/drafts/{key}/sections/feet/", **HTMX)
    assert 'value="270"' in text_of(shown)
    kept = section(fitter, key, "feet", {"foot-left-length_mm": "265", "feet-version": "2"})
    assert kept.status_code == 200
    assert DraftSection.objects.get(name="feet").content["foot-left-length_mm"] == "265"


def test_without_javascript_one_button_saves_everything_written(fitter, key):
    answer = all_at_once(fitter, key, do="save:feet", **PERSON, **{"foot-left-length_mm": "262", "left-pronation": "2"})
    assert answer.status_code == 302
    assert answer.headers["Location"].endswith("#section-feet")
    page = text_of(fitter.get(f"/fittings/drafts/{key}/"))
    assert 'value="262"' in page
    assert "Ada Example" in page
    assert "Pronation: moderate (left)" in page


def test_without_javascript_what_is_not_kept_stays_on_the_page(fitter, key):
    answer = all_at_once(fitter, key, **{"person-name": "Ada", "foot-left-length_mm": "262"})
    assert answer.status_code == 200
    assert 'value="262"' in text_of(answer)
    assert "no consent yet" in text_of(answer)
    bad = all_at_once(fitter, key, **PERSON, **{"foot-left-length_mm": "26", "left-pronation": "2"})
    assert bad.status_code == 400
    assert 'value="26"' in text_of(bad)
    # What is in order is kept all the same.
    assert set(DraftSection.objects.values_list("name", flat=True)) == {"person", "intake", "observation"}


def test_without_javascript_the_second_editor_may_keep_or_take(fitter, colleague, key):
    all_at_once(fitter, key, **PERSON, **{"foot-left-length_mm": "262"})
    section(colleague, key, "feet", {"foot-left-length_mm": "270", "feet-version": "1"}, page=str(uuid.uuid4()))
    sent = PERSON | {"foot-left-length_mm": "265", "feet-version": "1", "person-version": "1", "intake-version": "1"}
    answer = all_at_once(fitter, key, **sent)
    assert answer.status_code == 409
    assert 'value="265"' in text_of(answer)
    assert 'value="keep:feet:2"' in text_of(answer)
    taken = all_at_once(fitter, key, do="theirs:feet", **sent)
    assert 'value="270"' in text_of(taken)
    assert DraftSection.objects.get(name="feet").content["foot-left-length_mm"] == "270"
    assert all_at_once(fitter, key, do="keep:feet:2", **sent).status_code == 302
    assert DraftSection.objects.get(name="feet").content["foot-left-length_mm"] == "265"


def test_untouched_sections_are_taken_as_they_are_kept(fitter, colleague, key):
    all_at_once(fitter, key, **PERSON, **{"foot-left-length_mm": "262"})
    section(colleague, key, "feet", {"foot-left-length_mm": "270", "feet-version": "1"}, page=str(uuid.uuid4()))
    data = PERSON | {"foot-left-length_mm": "262", "feet-version": "1", "untouched": ["feet", "person", "intake"]}
    answer = all_at_once(fitter, key, do="finish", **data)
    assert answer.status_code == 302
    assert Fitting.objects.get().feet.get().length_mm == 270


def test_colleague_finds_the_unfinished_fitting_and_goes_on(fitter, colleague, key, cast, sign_in):
    section(fitter, key, "person", PERSON)
    home = text_of(colleague.get("/fittings/"))
    assert "Unfinished" in home
    assert f"/fittings/drafts/{key}/" in home
    assert "by fitter-a" in home
    assert "Ada Example" in text_of(colleague.get(f"/fittings/drafts/{key}/"))
    assert section(colleague, key, "stop_signs", {"stop-signs": ["swelling"]}).status_code == 200
    other = Client()
    other.force_login(cast.fitter_b)
    assert "Ada Example" not in text_of(other.get("/fittings/"))


def test_other_store_sees_nothing_of_it_and_changes_nothing(fitter, cast, key):
    section(fitter, key, "person", PERSON)
    section(fitter, key, "feet", {"foot-left-length_mm": "262"})
    other = Client()
    other.force_login(cast.fitter_b)
    here = f"/fittings/drafts/{key}/"
    longer = {"foot-left-length_mm": "270", "intake-use": "running"}
    for sent in (PERSON, PERSON | longer):
        # The database shows the other store's rows to nobody: the address looks unused until somebody begins there.
        assert section(other, key, "person", sent).status_code == 404
        assert all_at_once(other, key, do="finish", **sent).status_code == 404
    assert section(other, key, "feet", longer).status_code == 202
    for answer in (
        other.get(here),
        other.get(f"{here}sections/feet/"),
        other.post(f"{here}need/", {}),
        other.post(f"{here}people/", {"find": "Ada"}),
        other.post(f"{here}discard/", follow=True),
    ):
        assert "Ada Example" not in text_of(answer)
        assert 'value="262"' not in text_of(answer)
    assert DraftSection.objects.get(name="feet").content == {"foot-left-length_mm": "262"}
    assert all_at_once(fitter, key, do="finish", **PERSON, **{"foot-left-length_mm": "262"}).status_code in (302, 409)
    assert Draft.objects.count() + Fitting.objects.count() == 1


def test_address_of_another_stores_finished_fitting_makes_no_second_one(fitter, cast, key):
    assert all_at_once(fitter, key, do="finish", **PERSON).status_code == 302
    other = Client()
    other.force_login(cast.fitter_b)
    answer = all_at_once(other, key, do="finish", **PERSON)
    assert answer.status_code in (400, 404, 409)
    assert "Ada Example" in text_of(answer) or answer.status_code == 404
    assert Fitting.objects.count() == 1


def test_unknown_section_is_not_found(fitter, key):
    assert section(fitter, key, "no-such", {}).status_code == 404


def test_discard_removes_it(fitter, key):
    section(fitter, key, "person", PERSON)
    assert fitter.post(f"/fittings/drafts/{key}/discard/").status_code == 302
    assert not Draft.objects.exists()
    assert not Customer.objects.exists()


def test_people_are_found_by_name_mail_and_telephone_in_the_own_store(fitter, cast, key, make_fitting):
    ada = make_fitting(name="Ada van Example", email="ada@example.org").customer
    Customer.objects.filter(pk=ada.pk).update(phone="+1 (234) 567-890")
    make_fitting(name="Ada Elsewhere", actor=cast.fitter_b, store=cast.store_b)

    def found(text):
        return text_of(fitter.post(f"/fittings/drafts/{key}/people/", {"find": text}, **HTMX))

    for text in ("ada", "Examp", "ada van", "ADA@EXAMPLE", "567 890", "234-567"):
        assert "Ada van Example" in found(text), text
        assert "Elsewhere" not in found(text)
    for text in ("zoe", "ada zoe", "999 999", "a\x00da%", "%%%", "' or 1=1"):
        assert "Ada van Example" not in found(text), text
    assert found("a").strip() == found("z").strip() or "Nobody" in found("a")


def test_found_customer_is_picked_without_javascript_with_the_consent_given_before(fitter, key, make_fitting):
    known = make_fitting().customer
    page = text_of(all_at_once(fitter, key, do="find", find="ada"))
    assert f'value="pick:{known.pk}:agreed"' in page
    picked = text_of(all_at_once(fitter, key, do=f"pick:{known.pk}:agreed"))
    assert f'name="person-known" value="{known.pk}"' in picked
    assert "Fitting <strong" in picked
    data = {"person-known": str(known.pk), "person-consent": "yes"}
    assert all_at_once(fitter, key, **data).status_code == 302
    assert Draft.objects.get().customer == known


def test_names_are_in_no_address(fitter, key, make_fitting):
    make_fitting()
    answer = all_at_once(fitter, key, do="find", find="ada")
    assert not re.search(r'(?:href|action|hx-get|hx-post)="[^"]*(?i:ada)', answer.content.decode())


def test_who_works_in_two_stores_says_which(fitter, key, cast):
    store = Store.objects.create(slug="store-c", name="Store C")
    Membership.objects.create(user=cast.fitter_a, role=Role.FITTER, store=store)
    assert 'name="store" id="store"' in text_of(fitter.get(f"/fittings/drafts/{key}/"))
    section(fitter, key, "person", PERSON, store="store-c")
    assert Draft.objects.get().store == store
    assert section(fitter, uuid.uuid4(), "person", PERSON, store="store-b").status_code == 404


@pytest.mark.parametrize("page", ["", "nonsense", PAGE])
def test_stamps_that_are_none_are_taken_as_unknown(fitter, key, page):
    section(fitter, key, "person", PERSON)
    answer = section(
        fitter, key, "feet", {"feet-version": "-3", "edit": "9" * 40, "foot-left-length_mm": "262"}, page=page
    )
    assert answer.status_code == 200


def test_page_costs_the_same_however_many_shoes(fitter, key, make_shoe, django_assert_max_num_queries):
    section(fitter, key, "person", PERSON)
    section(fitter, key, "try_ons", {})
    for number in range(12):
        make_shoe(f"shoe-{number}", 40.0 + number)
    # One of them for the referral rules, which name the stop signs.
    with django_assert_max_num_queries(18):
        assert fitter.get(f"/fittings/drafts/{key}/").status_code == 200
    with django_assert_max_num_queries(14):
        fitter.post(f"/fittings/drafts/{key}/need/", {"intake-use": "running"}, **HTMX)
    with django_assert_max_num_queries(20):
        section(fitter, key, "feet", {"foot-left-length_mm": "262"})


def test_an_unfinished_fitting_says_on_paper_why_nothing_of_it_is_there(fitter, key):
    page = text_of(fitter.get(f"/fittings/drafts/{key}/"))
    assert '<p class="paper-only">This fitting is not finished, so it cannot be printed. Finish it' in page
