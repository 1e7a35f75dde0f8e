"""Head office makes accounts, gives and withdraws roles, and ends what must end at once."""

from __future__ import annotations

import re

import pytest
from axes.models import AccessAttempt
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from knox.models import AuthToken

from core.accounts import second_factor
from core.accounts import services as accounts
from core.domain.errors import DomainError
from core.gate.access import STORE_ROLES, Role, allowed
from core.models import AuditEntry, Membership, User

PASSWORD = "a long pass phrase"


@pytest.fixture
def office(people, sign_in):
    return sign_in(people.office)


def page(name, *args):
    return reverse(f"core:{name}", args=args)


def new_account(client, **data):
    given = {"username": "newcomer", "first_name": "Nova", "role": "technician", "store": "", "reason": "taken on"}
    return client.post(page("account-new"), {**given, **data})


def shown_password(response):
    return re.search(r"<samp>([a-z2-9]{4}(?:-[a-z2-9]{4}){3})</samp>", response.content.decode()).group(1)


def test_new_account_signs_in_with_the_password_shown_once(office, people, give_password, actions):
    response = new_account(office)
    password = shown_password(response)
    assert "no-store" in response.headers["Cache-Control"]
    user = User.objects.get(username="newcomer")
    assert user.must_change_password
    assert user.roles() == {Role.TECHNICIAN}
    assert give_password("newcomer", password).status_code == 302
    assert password not in office.get(page("account-detail", user.pk)).content.decode()
    assert actions(user) == ["core.user.created"]
    granted = AuditEntry.objects.filter(action="core.membership.granted").first()
    assert granted.actor == people.office
    assert granted.content["reason"] == "taken on"


def test_name_taken_at_the_same_moment_is_told_and_fails_nothing(office, monkeypatch):
    """Two submits at once both find the name free; the database lets one through."""
    monkeypatch.setattr(accounts, "user_create", lambda **_: User.objects.create(username="office"))
    with transaction.atomic():
        response = new_account(office)
    assert response.status_code == 400
    assert "saved a moment ago" in response.content.decode()


def test_temporary_passwords_differ():
    assert len({accounts.temporary_password() for _ in range(200)}) == 200


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"username": "office"}, "already"),
        ({"username": "OFFICE"}, "already"),
        ({"username": "two words"}, "valid username"),
        ({"username": "x" * 151}, "at most 150 characters"),
        ({"username": ""}, "required"),
        ({"first_name": "two\nlines"}, "without line breaks"),
        ({"last_name": "ada\u202enimda"}, "turn the direction of writing"),
        ({"role": "king"}, "not one of the choices"),
        ({"role": "fitter"}, "need a store"),
        ({"reason": ""}, "required"),
        ({"reason": "   "}, "required"),
        ({"store": "999999"}, "not one of the choices"),
    ],
)
def test_account_that_cannot_be_is_refused_and_nothing_is_made(office, data, says):
    before = User.objects.count()
    response = new_account(office, **data)
    assert response.status_code == 400
    assert says in response.content.decode()
    assert User.objects.count() == before


def test_technician_in_a_store_is_refused(office, people):
    assert "need a store" in new_account(office, store=people.store_a.pk).content.decode()


def test_role_is_given_with_a_reason_and_holds_at_once(office, people, actions):
    data = {"role-role": "manager", "role-store": people.store_b.pk, "role-reason": "stands in"}
    response = office.post(page("role-grant", people.fitter_b.pk), data)
    assert response.status_code == 302
    user = User.objects.get(pk=people.fitter_b.pk)
    assert allowed(user, "core.staff:manage", people.store_b)
    assert not allowed(user, "core.staff:manage", people.store_a)


def test_role_that_is_held_is_not_given_twice(office, people):
    data = {"role-role": "fitter", "role-store": people.store_b.pk, "role-reason": "again"}
    response = office.post(page("role-grant", people.fitter_b.pk), data)
    assert response.status_code == 400
    assert "already has this role" in response.content.decode()


def test_role_without_a_reason_is_refused(office, people):
    response = office.post(page("role-grant", people.fitter_b.pk), {"role-role": "reviewer"})
    assert response.status_code == 400
    assert people.fitter_b.memberships.count() == 1


def test_withdrawn_role_ends_at_once_and_stays_in_the_trail(office, people, api_for, actions):
    held = people.technician.memberships.get()
    client = api_for(people.technician)
    address = page("role-withdraw", people.technician.pk, held.pk)
    assert office.get(address).status_code == 200
    assert office.post(address, {"reason": "moved"}).status_code == 302
    assert client.get("/api/lab/tests/").status_code == 403
    entry = AuditEntry.objects.get(action="core.membership.withdrawn")
    assert entry.content["before"]["role"] == "technician"
    assert entry.content["after"] is None
    assert "withdrew the role" in office.get(page("account-detail", people.technician.pk)).content.decode()


def test_withdrawal_needs_a_reason(office, people):
    held = people.technician.memberships.get()
    assert office.post(page("role-withdraw", people.technician.pk, held.pk), {"reason": " "}).status_code == 400
    assert Membership.objects.filter(pk=held.pk).exists()
    with pytest.raises(DomainError, match="Give a reason"):
        accounts.membership_withdraw(actor=people.office, membership=held, reason="")


def test_role_of_another_account_is_not_found(office, people):
    held = people.technician.memberships.get()
    assert office.get(page("role-withdraw", people.reviewer.pk, held.pk)).status_code == 404


def test_withdrawn_twice_says_so(people):
    held = people.technician.memberships.get()
    accounts.membership_withdraw(actor=people.office, membership=held, reason="moved")
    with pytest.raises(DomainError, match="already withdrawn"):
        accounts.membership_withdraw(actor=people.office, membership=held, reason="moved")


def test_nobody_changes_their_own_roles(office, people):
    held = people.office.memberships.get()
    response = office.post(page("role-withdraw", people.office.pk, held.pk), {"reason": "tired"})
    assert "cannot change your own roles" in response.content.decode()
    response = office.post(page("role-grant", people.office.pk), {"role-role": "technician", "role-reason": "handy"})
    assert response.status_code == 400
    assert [row.pk for row in people.office.memberships.all()] == [held.pk]


@pytest.mark.parametrize("role", [Role.REVIEWER, Role.FITTER, Role.MANAGER])
def test_head_office_is_apart_from_reviewers_and_stores(people, role):
    store = people.store_a if role in STORE_ROLES else None
    account = accounts.account_create(actor=people.office, username="new").user
    accounts.role_grant(actor=people.office, user=account, role=role, store=store, reason="first")
    with pytest.raises(ValidationError, match="Head office may not also be"):
        accounts.role_grant(actor=people.office, user=account, role=Role.OFFICE, store=None, reason="second")
    other = accounts.account_create(actor=people.office, username="other").user
    accounts.role_grant(actor=people.office, user=other, role=Role.OFFICE, store=None, reason="first")
    with pytest.raises(ValidationError, match="Head office may not also be"):
        accounts.role_grant(actor=people.office, user=other, role=role, store=store, reason="second")


@pytest.mark.parametrize(("first", "second"), [(Role.OFFICE, Role.REVIEWER), (Role.REVIEWER, Role.OFFICE)])
def test_database_keeps_head_office_apart_too(people, first, second):
    account = User.objects.create(username="new")
    Membership.objects.create(user=account, role=first)
    held = Membership.objects.create(user=account, role=Role.TECHNICIAN)
    with pytest.raises(IntegrityError, match="Head office may not also be"), transaction.atomic():
        Membership.objects.create(user=account, role=second)
    with pytest.raises(IntegrityError, match="Head office may not also be"), transaction.atomic():
        Membership.objects.filter(pk=held.pk).update(role=second)


def test_manager_cannot_make_head_office_a_fitter(people, give_password):
    manager = Client()
    give_password("manager-a", client=manager)
    response = manager.post(page("fitter-add", people.store_a.slug), {"username": "office", "reason": "helps out"})
    assert "Head office may not also be" in response.content.decode()
    assert not people.office.memberships.filter(role=Role.FITTER).exists()


def test_new_password_and_lifted_factor_end_tokens(office, people, device_for, api_for):
    for act in (accounts.password_reset, second_factor.second_factor_lift):
        device_for(people.technician)
        program = api_for(people.technician)
        act(actor=people.office, user=people.technician, reason="phone and password lost")
        assert program.get("/api/lab/tests/").status_code == 401


def test_token_waits_for_a_new_password_and_a_second_factor(people, api_for, settings):
    program, reviewer = api_for(people.technician), api_for(people.reviewer)
    people.technician.must_change_password = True
    people.technician.save()
    settings.REQUIRE_SECOND_FACTOR = True
    answer = program.get("/api/lab/tests/")
    assert answer.status_code == 403
    assert "choose a new password" in answer.json()["detail"]
    answer = reviewer.get("/api/lab/tests/")
    assert answer.status_code == 403
    assert "set up a second factor" in answer.json()["detail"]


def test_last_head_office_stays(people):
    second = User.objects.create(username="office-2")
    held = Membership.objects.create(user=second, role=Role.OFFICE)
    people.office.is_active = False
    people.office.save()
    with pytest.raises(DomainError, match="last head office account"):
        accounts.membership_withdraw(actor=people.office, membership=held, reason="revenge")
    with pytest.raises(DomainError, match="last head office account"):
        accounts.account_switch_off(actor=people.office, user=second, reason="revenge")


def test_switching_off_ends_sessions_and_tokens_at_once(office, people, give_password, api_for, actions):
    inside = Client()
    give_password("technician", client=inside)
    program = api_for(people.technician)
    assert inside.get("/lab/").status_code == 200
    assert program.get("/api/lab/tests/").status_code == 200
    response = office.post(page("account-switch-off", people.technician.pk), {"reason": "has left"})
    assert response.status_code == 302
    assert inside.get("/lab/").status_code == 302
    assert program.get("/api/lab/tests/").status_code == 401
    assert give_password("technician").status_code == 400
    assert not AuthToken.objects.filter(user=people.technician).exists()
    assert actions(people.technician) == ["core.user.switched_off"]


def test_switching_on_brings_password_and_roles_back_but_no_token(office, people, give_password, api_for):
    program = api_for(people.technician)
    office.post(page("account-switch-off", people.technician.pk), {"reason": "on leave"})
    office.post(page("account-switch-on", people.technician.pk), {"reason": "is back"})
    assert give_password("technician").status_code == 302
    assert program.get("/api/lab/tests/").status_code == 401


def test_own_account_is_not_switched_off(office, people):
    response = office.post(page("account-switch-off", people.office.pk), {"reason": "tired"})
    assert "your own account" in response.content.decode()
    assert User.objects.get(pk=people.office.pk).is_active


@pytest.mark.parametrize("act", [accounts.account_switch_on, second_factor.second_factor_lift])
def test_deed_that_has_nothing_to_do_says_so(people, act):
    with pytest.raises(DomainError) as problem:
        act(actor=people.office, user=people.technician, reason="why not")
    assert problem.value.status == 409


def test_temporary_password_ends_sessions_and_lifts_the_lock(office, people, give_password):
    inside = Client()
    give_password("technician", client=inside)
    for _ in range(5):
        give_password("technician", "wrong")
    assert give_password("technician").status_code == 429
    response = office.post(page("account-new-password", people.technician.pk), {"reason": "forgotten"})
    assert inside.get("/lab/").status_code == 302
    assert give_password("technician", shown_password(response)).status_code == 302
    assert not AccessAttempt.objects.filter(username="technician").exists()


def test_lost_device_is_lifted_with_a_reason(office, people, device_for, give_password, actions):
    device_for(people.technician)
    office.post(page("account-second-factor", people.technician.pk), {"reason": "phone lost"})
    assert give_password("technician").headers["Location"] == reverse("core:home")
    assert actions(people.technician) == ["core.second_factor.removed"]


def test_office_revokes_the_token_of_another_with_a_reason(office, people, api_for):
    program = api_for(people.technician)
    row = AuthToken.objects.get()
    address = page("account-token-revoke", people.technician.pk, accounts.token_start(row))
    assert row.digest not in address
    assert office.post(address, {"reason": "leaked"}).status_code == 302
    assert program.get("/api/lab/tests/").status_code == 401
    assert "leaked" in AuditEntry.objects.get(action="core.token.revoked").content["reason"]
    assert office.get(address).status_code == 404


def test_revoking_for_another_needs_a_reason(people, api_for):
    api_for(people.technician)
    row = AuthToken.objects.get()
    with pytest.raises(DomainError, match="Give a reason"):
        accounts.token_revoke(actor=people.office, user=people.technician, digest=row.digest)


def test_name_is_changed_and_user_name_stays(office, people, actions):
    office.post(page("account-rename", people.technician.pk), {"name-first_name": "Tam", "name-last_name": "Reed"})
    user = User.objects.get(pk=people.technician.pk)
    assert (user.display_name, user.username) == ("Tam Reed", "technician")
    assert actions(user) == ["core.user.renamed"]


@pytest.mark.parametrize(
    ("query", "names"),
    [
        ("q=fitter", ["fitter-a", "fitter-b"]),
        ("role=office", ["office"]),
        ("role=fitter&q=b", ["fitter-b"]),
        ("state=off", ["technician"]),
        ("state=no-role", ["idle"]),
        ("q=%00", None),
        ("role=king", None),
        ("store=x", None),
    ],
)
def test_list_is_narrowed(office, people, query, names):
    people.technician.is_active = False
    people.technician.save()
    User.objects.create(username="idle")
    response = office.get(f"{page('account-list')}?{query}")
    assert response.status_code == (400 if names is None else 200)
    found = [user.username for user in response.context["page"]]
    assert found == (names if names is not None else found)
    assert bool(response.context["form"].errors) is (names is None)


def test_list_costs_the_same_for_many(office, people, django_assert_num_queries):
    def cost():
        # session, user, roles of the reader, stores of the form, count, accounts, roles and stores, open requests
        with django_assert_num_queries(9):
            office.get(page("account-list"))

    cost()
    for number in range(20):
        user = User.objects.create(username=f"more-{number}")
        Membership.objects.create(user=user, role=Role.FITTER, store=people.store_b)
    cost()


def test_account_page_costs_the_same_for_much(office, people, django_assert_num_queries):
    def cost():
        # session, user, roles of the reader, account, its roles, tokens, changes, stores of the form, open requests
        with django_assert_num_queries(9):
            office.get(page("account-detail", people.fitter_a.pk))

    cost()
    for role in (Role.TECHNICIAN, Role.REVIEWER):
        accounts.role_grant(actor=people.office, user=people.fitter_a, role=role, store=None, reason="more")
    AuthToken.objects.create(people.fitter_a)
    cost()


def test_list_is_paged(office, people):
    User.objects.bulk_create([User(username=f"more-{number:03}") for number in range(60)])
    assert len(office.get(page("account-list")).context["page"]) == 50
    assert office.get(f"{page('account-list')}?page=x").status_code == 200
    assert len(office.get(f"{page('account-list')}?page=99").context["page"]) == 16


def test_command_makes_the_first_account(quick_passwords, db, capsys, give_password):
    call_command("make_account", "chief", "--role", "office")
    assert give_password("chief", capsys.readouterr().out.strip()).status_code == 302
    assert User.objects.get(username="chief").must_change_password


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["two words", "--role", "office"], "valid username"),
        (["chief", "--role", "fitter"], "need a store"),
        (["chief", "--role", "fitter", "--store", "nowhere"], "no store 'nowhere'"),
        (["chief", "--role", "office", "--reason", " "], "Give a reason"),
    ],
)
def test_command_says_what_is_wrong(quick_passwords, db, args, says):
    with pytest.raises(CommandError, match=says):
        call_command("make_account", *args)
    assert not User.objects.exists()
