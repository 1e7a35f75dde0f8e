"""Roles and access of head office and reviewers wait for a second head office account, once there is one."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from core.accounts import second_factor
from core.accounts import services as accounts
from core.accounts.deciding import request_confirm, request_refuse
from core.accounts.links import link_renew
from core.accounts.two_accounts import act_ask
from core.audit.verification import faults
from core.domain.errors import DomainError
from core.gate.access import Role
from core.models import AccountAct, AccountRequest, User
from tests.people import person


@pytest.fixture
def colleague(people):
    return person("colleague", "office")


@pytest.fixture
def office(people, sign_in):
    return sign_in(people.office)


def page(name, *args):
    return reverse(f"core:{name}", args=args)


def granted(client, user, role="reviewer"):
    return client.post(page("role-grant", user.pk), {"role-role": role, "role-reason": "promoted"}, follow=True)


def test_the_only_head_office_account_acts_alone(office, people):
    assert "takes effect at once" in granted(office, people.technician).content.decode()
    assert people.technician.memberships.filter(role=Role.REVIEWER).exists()


def test_role_waits_until_a_colleague_confirms_it(office, people, colleague):
    assert "has to confirm this" in granted(office, people.technician).content.decode()
    assert not people.technician.memberships.filter(role=Role.REVIEWER).exists()
    (asked,) = AccountRequest.objects.all()
    own = office.post(page("request-confirm", asked.pk), {"reason": "quickly"})
    assert "Another head office account has to confirm it" in own.content.decode()
    other = Client()
    other.force_login(colleague)
    assert str(asked) in other.get(page("account-list")).content.decode()
    assert other.post(page("request-confirm", asked.pk), {"reason": "known for years"}).status_code == 302
    assert people.technician.memberships.filter(role=Role.REVIEWER).exists()
    again = other.post(page("request-confirm", asked.pk), {"reason": "twice"})
    assert "already confirmed" in again.content.decode()
    assert not list(faults())


def test_new_reviewer_gets_an_account_and_no_role_yet(office, people, colleague):
    data = {"username": "newcomer", "role": "reviewer", "store": "", "reason": "taken on"}
    assert office.post(page("account-new"), data).status_code == 200
    user = User.objects.get(username="newcomer")
    assert user.roles() == set()
    assert AccountRequest.objects.get().user == user


def test_other_roles_do_not_wait(office, people, colleague):
    granted(office, people.fitter_a, role="technician")
    assert people.fitter_a.memberships.filter(role=Role.TECHNICIAN).exists()


@pytest.mark.parametrize("act", [AccountAct.NEW_PASSWORD, AccountAct.NEW_LINK, AccountAct.SECOND_FACTOR])
def test_access_of_a_reviewer_waits_and_is_shown_to_who_confirms(act, office, people, colleague, device_for):
    device_for(people.reviewer)
    before = User.objects.get(pk=people.reviewer.pk).password
    response = office.post(page(f"account-{act}", people.reviewer.pk), {"reason": "phone lost"}, follow=True)
    assert "has to confirm this" in response.content.decode()
    assert User.objects.get(pk=people.reviewer.pk).password == before
    assert people.reviewer.has_second_factor()
    other = Client()
    other.force_login(colleague)
    shown = other.post(page("request-confirm", AccountRequest.objects.get().pk), {"reason": "called him"})
    expected = {AccountAct.NEW_PASSWORD: "<samp>", AccountAct.NEW_LINK: "/welcome/", AccountAct.SECOND_FACTOR: ""}[act]
    assert expected in shown.content.decode()
    reviewer = User.objects.get(pk=people.reviewer.pk)
    assert (reviewer.password != before) == (act != AccountAct.SECOND_FACTOR)
    assert reviewer.has_second_factor() == (act != AccountAct.SECOND_FACTOR)


@pytest.mark.parametrize(
    "act",
    [
        lambda people: accounts.password_reset(actor=people.office, user=people.reviewer, reason="alone"),
        lambda people: link_renew(actor=people.office, user=people.reviewer, reason="alone"),
        lambda people: second_factor.second_factor_lift(actor=people.office, user=people.reviewer, reason="alone"),
        lambda people: accounts.role_grant(
            actor=people.office, user=people.technician, role=Role.REVIEWER, store=None, reason="alone"
        ),
        lambda people: accounts.password_reset(
            actor=people.office, user=people.reviewer, reason="alone", asked_by=people.office
        ),
    ],
)
def test_services_refuse_one_hand(act, people, colleague):
    with pytest.raises(DomainError, match="takes two people") as refused:
        act(people)
    assert (refused.value.code, refused.value.status) == ("needs_second", 409)


def test_request_is_refused_or_taken_back_and_nothing_changes(people, colleague):
    asked = act_ask(
        actor=people.office, user=people.technician, act=AccountAct.ROLE, role=Role.REVIEWER, reason="promoted"
    )
    with pytest.raises(DomainError, match="asked for already"):
        act_ask(actor=colleague, user=people.technician, act=AccountAct.ROLE, role=Role.REVIEWER, reason="also")
    request_refuse(actor=people.office, request=asked, reason="a mistake")
    with pytest.raises(DomainError, match="already refused"):
        request_confirm(actor=colleague, request=asked, reason="too late")
    assert not people.technician.memberships.filter(role=Role.REVIEWER).exists()
    assert not list(faults())


def test_nobody_confirms_what_is_about_themselves(people, colleague):
    person("third", "office")
    asked = act_ask(actor=people.office, user=colleague, act=AccountAct.NEW_PASSWORD, reason="forgotten")
    with pytest.raises(DomainError) as refused:
        request_confirm(actor=colleague, request=asked, reason="mine")
    assert (refused.value.code, refused.value.status) == ("own_request", 403)
    with pytest.raises(DomainError, match="on your own account"):
        act_ask(actor=colleague, user=colleague, act=AccountAct.NEW_PASSWORD, reason="forgotten")


def test_database_takes_no_confirmation_by_who_asked(people, colleague):
    asked = act_ask(actor=people.office, user=people.technician, act=AccountAct.NEW_PASSWORD, reason="forgotten")
    with pytest.raises(IntegrityError, match="account_request_two_people"), transaction.atomic():
        AccountRequest.objects.filter(pk=asked.pk).update(
            decision="confirmed", decided_by=people.office, decided_at=asked.asked_at
        )
