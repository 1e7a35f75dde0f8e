"""Single-use links: the first account of an empty practice, and people who are invited in the browser."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from core.accounts import links
from core.domain.errors import DomainError
from core.gate.access import Role
from core.models import AuditEntry, User
from tests.databases import at_once, committed_database

CHOSEN = "seven quiet herons"


def path_of(url):
    return urlsplit(url.strip()).path


def choose(path, password=CHOSEN, again=None, client=None):
    data = {"new_password": password, "new_password_again": password if again is None else again}
    return (client or Client()).post(path, data)


def invite(username="newcomer", role=Role.TECHNICIAN, store=None, actor=None):
    return links.account_invite(actor=actor, username=username, role=role, store=store, reason="taken on")


@pytest.fixture
def printed(quick_passwords, db, capsys):
    """Return a function that runs make_account and returns what it printed."""

    def run(*words):
        call_command("make_account", *words)
        return capsys.readouterr().out.strip()

    return run


def test_command_prints_a_link_of_the_site_and_asks_nothing(printed, settings):
    settings.SITE_URL = "https://practice.example.org"
    url = printed()
    assert url.startswith("https://practice.example.org/welcome/")
    user = User.objects.get()
    assert user.username == "head-office"
    assert user.roles() == {Role.OFFICE}
    assert not user.has_usable_password()


def test_link_of_the_command_leads_into_the_browser(printed, give_password):
    path = path_of(printed("chief"))
    client = Client()
    page = client.get(path)
    assert page.status_code == 200
    assert "at least 12 characters" in page.content.decode()
    assert choose(path, client=client).headers["Location"] == reverse("core:home")
    assert client.get(reverse("core:first-steps")).status_code == 200
    assert give_password("chief", CHOSEN).status_code == 302
    assert AuditEntry.objects.filter(action="core.password.changed").get().actor.username == "chief"


def test_link_works_once(printed):
    path = path_of(printed())
    choose(path)
    for again in (Client().get(path), choose(path, "another quiet heron")):
        assert again.status_code == 410
        assert "already used" in again.content.decode()
    assert User.objects.get().check_password(CHOSEN)


def test_command_prints_a_new_link_for_an_account_without_a_password(printed):
    first, second = path_of(printed()), path_of(printed())
    assert Client().get(first).status_code == 410
    assert choose(second).status_code == 302
    with pytest.raises(CommandError, match="already taken"):
        printed()


@pytest.mark.parametrize("words", [["--role", "technician"], ["--role", "office", "--reason", "new"]])
def test_link_is_printed_for_any_role_where_it_is_asked_for(printed, words):
    path = path_of(printed("wanda", "--link", *words))
    assert choose(path).status_code == 302
    assert User.objects.get().roles() == {words[1]}


def test_link_expires(printed, settings):
    path = path_of(printed())
    settings.PASSWORD_RESET_TIMEOUT = -1
    assert Client().get(path).status_code == 410


@pytest.mark.parametrize("change", [lambda path: path[:-2] + "x/", lambda path: re.sub(r"/\d+/", "/999999/", path)])
def test_damaged_link_opens_nothing(printed, change):
    assert Client().get(change(path_of(printed()))).status_code == 410


def test_link_of_another_account_does_not_fit(quick_passwords, db):
    one, other = invite("one"), invite("other")
    token = path_of(one.url).split("/")[-2]
    assert choose(reverse("core:welcome", args=[other.user.pk, token])).status_code == 410


def test_link_of_a_switched_off_account_is_refused(printed):
    path = path_of(printed())
    User.objects.update(is_active=False)
    assert choose(path).status_code == 410


def test_link_of_a_demo_account_is_refused_where_debug_is_off(printed, settings):
    path = path_of(printed())
    User.objects.update(is_demo=True)
    settings.DEBUG_SIGN_IN = False
    assert choose(path).status_code == 410


@pytest.mark.parametrize(
    ("password", "again", "says"),
    [("short", None, "too short"), ("123456789012345", None, "entirely numeric"), (CHOSEN, "other", "differ")],
)
def test_refused_password_leaves_the_link_usable(printed, password, again, says):
    path = path_of(printed())
    refused = choose(path, password, again)
    assert refused.status_code == 400
    assert says in refused.content.decode()
    assert choose(path).status_code == 302


def test_page_is_stored_nowhere_and_its_token_is_not_logged(printed):
    from core.web.logs import mask_links

    path = path_of(printed())
    assert "no-store" in Client().get(path).headers["Cache-Control"]
    token = path.split("/")[-2]
    assert token not in mask_links(f"Gone: {path}?next=/")


def test_office_invites_by_link_in_the_browser(people, sign_in):
    office = sign_in(people.office)
    data = {"username": "newcomer", "role": "fitter", "store": people.store_a.pk, "reason": "taken on"}
    response = office.post(reverse("core:account-new"), {**data, "first_sign_in": "link"})
    assert "no-store" in response.headers["Cache-Control"]
    path = path_of(re.search(r"<samp>(http\S+)</samp>", response.content.decode()).group(1))
    assert choose(path).status_code == 302
    user = User.objects.get(username="newcomer")
    assert user.check_password(CHOSEN)
    assert not user.must_change_password


def test_form_proposes_the_link(people, sign_in):
    page = sign_in(people.office).get(reverse("core:account-new")).content.decode()
    assert re.search(r'value="link"[^>]*checked', page)


def test_manager_invites_a_fitter_of_the_own_store(people, sign_in):
    client = sign_in(people.manager_a)
    data = {"username": "newcomer", "reason": "taken on", "first_sign_in": "link"}
    response = client.post(reverse("core:fitter-new", args=["store-a"]), data)
    assert "/welcome/" in response.content.decode()
    assert User.objects.get(username="newcomer").store_ids() == [people.store_a.pk]


def test_office_replaces_a_forgotten_password_by_a_link(people, sign_in, give_password):
    client = sign_in(people.office)
    response = client.post(reverse("core:account-new-link", args=[people.fitter_a.pk]), {"reason": "forgotten"})
    path = path_of(re.search(r"<samp>(http\S+)</samp>", response.content.decode()).group(1))
    assert give_password("fitter-a").status_code == 400
    assert choose(path).status_code == 302
    assert give_password("fitter-a", CHOSEN).status_code == 302
    entry = AuditEntry.objects.get(action="core.link.issued")
    assert (entry.actor, entry.content["reason"]) == (people.office, "forgotten")


def test_second_factor_is_still_asked_for(people, device_for):
    device_for(people.reviewer)
    link = links.link_renew(actor=people.office, user=people.reviewer, reason="forgotten")
    client = Client()
    assert choose(path_of(link.url), client=client).headers["Location"] == reverse("core:sign-in")
    assert client.get(reverse("core:account")).status_code == 302


def test_link_for_a_switched_off_account_is_not_made(people):
    User.objects.filter(pk=people.fitter_a.pk).update(is_active=False)
    with pytest.raises(DomainError, match="switched off"):
        links.link_renew(actor=people.office, user=people.fitter_a, reason="back")


class TestAtOnce:
    """Two people open the same link at the same moment."""

    db = pytest.fixture(committed_database)

    def test_one_of_two_sets_the_password(self, db, quick_passwords):
        link = invite()
        token = path_of(link.url).split("/")[-2]

        def use(password):
            links.link_use(pk=link.user.pk, token=token, password=password)
            return "set"

        assert at_once(use, "seven quiet herons", "nine loud herons") == ["link_refused", "set"]
