"""The security log: every act on access is in it, nothing that somebody typed is, and nobody can change it."""

from __future__ import annotations

import datetime as dt
import io
from unittest.mock import patch

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from core import audit
from core.accounts import second_factor, security_log
from core.accounts import services as accounts
from core.accounts.deciding import request_confirm, request_refuse
from core.accounts.links import account_invite, link_renew, link_use
from core.accounts.provisioning import token_issue
from core.accounts.security_log import events_expire, note
from core.accounts.security_log_form import GROUPS
from core.accounts.two_accounts import act_ask
from core.gate.access import Role
from core.models import AccountAct, AuditEntry, SecurityEvent, SecurityKind
from tests.people import person

WRONG = "not the pass phrase"
NEW = "quite another phrase"
ADDRESS = "/office/security-log/"


def kinds(user=None):
    events = SecurityEvent.objects.filter(user=user) if user else SecurityEvent.objects.all()
    return list(events.order_by("pk").values_list("kind", flat=True))


def test_sign_ins_failures_and_locks_are_written_once_each(people, give_password):
    give_password("fitter-a", WRONG)
    give_password("fitter-a")
    assert kinds(people.fitter_a) == ["failed", "signed-in"]
    for _ in range(7):
        give_password("fitter-a", WRONG)
    # Tries during the lock are refused unread: writing them would let anybody fill the log.
    assert kinds(people.fitter_a)[2:] == ["failed"] * 5 + ["locked"]
    event = SecurityEvent.objects.filter(kind=SecurityKind.LOCKED).get()
    assert (event.address, event.details, event.actor) == ("203.0.113.7", "from one network address", None)


def test_lock_of_a_network_address_is_about_no_account(people, give_password, settings):
    settings.SIGN_IN_ADDRESS_FAILURE_LIMIT = 5
    for number in range(5):
        give_password(f"nobody-{number}", WRONG)
    assert list(SecurityEvent.objects.order_by("pk").values_list("kind", "times")) == [
        ("failed", 5),
        ("address-locked", 1),
    ]


def test_guessing_names_from_many_networks_fills_a_bounded_log(people, give_password, sign_in, monkeypatch):
    """Bounded by time and not by who guesses; failures of accounts are rows of their own all the same."""
    monkeypatch.setattr(security_log, "ADDRESSES_AN_HOUR", 3)
    for number in range(8):
        give_password(f"nobody-{number}", WRONG, address=f"198.51.100.{number}")
    give_password("nobody-8", WRONG, address="198.51.100.1")
    for number in range(4):
        give_password("fitter-a", WRONG, address=f"198.51.100.{number}")
    written = SecurityEvent.objects.filter(user=None).order_by("pk").values_list("address", "details", "times")
    assert list(written) == [
        ("198.51.100.0", "wrong password", 1),
        ("198.51.100.1", "wrong password", 2),
        ("198.51.100.2", "wrong password", 1),
        ("", security_log.FURTHER, 5),
    ]
    assert kinds(people.fitter_a) == ["failed"] * 4
    assert "5 times within the hour" in sign_in(people.office).get(ADDRESS).content.decode()


def test_count_of_an_hour_may_grow_and_nothing_else_may_change(people, give_password):
    give_password("nobody", WRONG)
    for change in ({"times": 0}, {"times": 9, "address": "192.0.2.1"}, {"address": "192.0.2.1"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            SecurityEvent.objects.update(**change)
    give_password("fitter-a", WRONG)
    with pytest.raises(IntegrityError), transaction.atomic():
        SecurityEvent.objects.filter(user=people.fitter_a).update(times=2)


def test_next_hour_has_rows_of_its_own(people, give_password):
    note(SecurityKind.FAILED, user=None)
    later = SecurityEvent.objects.get().at + dt.timedelta(hours=1)
    with patch.object(security_log.timezone, "now", return_value=later):
        note(SecurityKind.FAILED, user=None)
    assert list(SecurityEvent.objects.values_list("times", flat=True)) == [1, 1]


def test_what_was_typed_as_a_name_is_not_stored(people, give_password):
    """People type their password into the wrong field."""
    give_password("my secret pass phrase", WRONG)
    row = SecurityEvent.objects.values().get()
    assert row["user_id"] is None
    assert "secret" not in str(row)
    assert WRONG not in str(row)


def test_recovery_code_and_second_step_are_written(people, give_password, device_for, code_of):
    device_for(people.fitter_a)
    codes = second_factor._renew_codes(people.fitter_a)
    for code in (codes[0], "aaaa-bbbb-cccc-dddd"):
        client = Client()
        give_password("fitter-a", client=client)
        client.post(reverse("core:second-step"), {"code": code})
    events = list(SecurityEvent.objects.order_by("pk").values_list("kind", "details"))
    assert events == [("signed-in", "with a second factor"), ("recovery-code", ""), ("failed", "wrong code")]


@pytest.fixture
def everything_done(people, device_for, code_of):
    """Every act on an account, through the services. Returns the number of the last entry in the trail before them."""
    before = AuditEntry.objects.values_list("id", flat=True).first()
    office, technician = people.office, people.technician
    account_invite(actor=office, username="newcomer", role=Role.FITTER, store=people.store_a, reason="taken on")
    link = link_renew(actor=office, user=technician, reason="lost")
    pk, token = link.url.rstrip("/").split("/")[-2:]
    link_use(pk=int(pk), token=token, password=NEW)
    accounts.password_change(actor=technician, password="one more long phrase")
    accounts.password_reset(actor=office, user=technician, reason="forgotten")
    accounts.account_rename(actor=office, user=technician, first_name="Ada", last_name="", email="ada@example.org")
    accounts.sessions_end(actor=technician, user=technician)
    accounts.account_switch_off(actor=office, user=technician, reason="on leave")
    accounts.account_switch_on(actor=office, user=technician, reason="back")
    held = accounts.role_grant(actor=office, user=technician, role=Role.REVIEWER, store=None, reason="promoted")
    accounts.membership_withdraw(actor=office, membership=held, reason="a mistake")
    token_issue(actor=None, username="technician", label="rig 2 of Mrs Miller")
    accounts.token_revoke(actor=technician, user=technician, digest=technician.auth_token_set.get().digest)
    colleague = person("colleague", "office")
    for decide in (request_confirm, request_refuse):
        asked = act_ask(actor=office, user=people.reviewer, act=AccountAct.NEW_PASSWORD, reason="forgotten")
        decide(actor=colleague, request=asked, reason="known")
    device = device_for(technician)
    second_factor.recovery_codes_renew(actor=technician, code=code_of(device))
    second_factor.second_factor_remove(actor=technician, code=code_of(device))
    device_for(technician)
    second_factor.second_factor_lift(actor=office, user=technician, reason="phone lost")
    pending = second_factor.second_factor_begin(actor=technician)
    second_factor.second_factor_confirm(actor=technician, code=code_of(pending))
    return before


# An act of the trail, and its kind in the log; acts on the displayed name alone change nobody's access.
KINDS = {
    "core.user.created": "created",
    "core.user.email_changed": "email-changed",
    "core.user.signed_out": "sessions-ended",
    "core.user.switched_off": "switched-off",
    "core.user.switched_on": "switched-on",
    "core.password.changed": "password-changed",
    "core.password.reset": "password-reset",
    "core.link.issued": "link-issued",
    "core.second_factor.set_up": "factor-added",
    "core.second_factor.codes_renewed": "codes-renewed",
    "core.membership.granted": "role-given",
    "core.membership.withdrawn": "role-withdrawn",
    "core.account_request.made": "asked",
    "core.account_request.confirmed": "confirmed",
    "core.account_request.refused": "refused",
    "core.token.issued": "token-issued",
    "core.token.revoked": "token-revoked",
}
WITHOUT = {
    "core.user.renamed",
    "core.password.rehashed",
    "core.store.created",
    "core.store.changed",
    # Signing in writes it to the log, above; an upgrade changes nothing of who gets in.
    "core.second_factor.code_used",
    "core.user.covered",
}


def test_every_act_in_the_trail_that_changes_access_is_in_the_log(everything_done):
    """In the same order, so that none is missing, doubled or about another moment."""
    entries = AuditEntry.objects.filter(id__gt=everything_done).order_by("id")
    names = list(entries.exclude(action__startswith="core.store").values_list("action", flat=True))
    core = {name for name in audit.actions() if name.startswith("core.")}
    assert core - set(names) <= WITHOUT, "an act that this test does not do"
    made_by_tests = 2  # The colleague, entered in the trail without the services.
    expected = [KINDS[name] for name in names if name in KINDS]
    logged = [kind for kind in kinds() if kind not in ("factor-removed", "factor-lifted")]
    assert len(expected) - made_by_tests == len(logged)
    assert sorted(set(expected)) == sorted(set(logged))
    assert [kind for kind in kinds() if kind.startswith("factor")] == [
        "factor-removed",
        "factor-lifted",
        "factor-added",
    ]


def test_log_has_no_free_text(everything_done):
    """Reasons, labels and names may hold anything, a customer's name too; they are in the trail."""
    text = " ".join(SecurityEvent.objects.values_list("details", flat=True))
    for typed in ("taken on", "forgotten", "on leave", "promoted", "Miller", "Ada", "example.org", NEW):
        assert typed not in text
    assert "fitter at Store A" in text
    assert "everything that the roles allow" in text


def test_every_kind_can_be_filtered():
    assert {kind for _, group in GROUPS.values() for kind in group} == set(SecurityKind)


def test_act_that_is_undone_leaves_no_event(people):
    with transaction.atomic():
        accounts.sessions_end(actor=people.fitter_a, user=people.fitter_a)
        assert kinds() == ["sessions-ended"]
        transaction.set_rollback(True)
    assert kinds() == []


@pytest.mark.parametrize(
    ("statement", "constraint"),
    [
        ("UPDATE core_securityevent SET kind = 'signed-in'", "cannot be changed"),
        ("DELETE FROM core_securityevent", "before they are 30 days old"),
    ],
)
def test_database_takes_no_change(people, statement, constraint):
    note(SecurityKind.FAILED, user=people.fitter_a)
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert kinds() == ["failed"]


def earlier(days, user, kind=SecurityKind.SIGNED_IN):
    at = timezone.now() - dt.timedelta(days=days)
    return SecurityEvent.objects.create(at=at, kind=kind, user=user, actor=user)


def test_retention_command_deletes_what_is_too_old(people, settings):
    settings.SECURITY_LOG_RETENTION_DAYS = 90
    events = [earlier(days, people.fitter_a) for days in (91, 89, 0)]
    out = io.StringIO()
    call_command("apply_retention", stdout=out)
    assert "1 events of the security log deleted: older than 90 days" in out.getvalue()
    assert set(SecurityEvent.objects.all()) == set(events[1:])
    assert events_expire() == 0


def test_head_office_filters_and_pages_through_the_log(people, sign_in, django_assert_max_num_queries):
    client = sign_in(people.office)
    for number in range(120):
        earlier(number // 60, people.fitter_a if number % 2 else people.fitter_b)
    earlier(40, people.technician, SecurityKind.FACTOR_LIFTED)
    with django_assert_max_num_queries(8):
        first = client.get(ADDRESS)
    assert len(first.context["page"].object_list) == 100
    assert first.context["page"].paginator.num_pages == 2
    assert "1–100 of 122" in first.content.decode() or "122" in first.content.decode()
    second = client.get(ADDRESS, {"page": 2})
    assert "second factor removed by head office" in second.content.decode()

    def shown(**query):
        return {event.user.username for event in client.get(ADDRESS, query).context["page"]}

    assert shown(kind="second-factor") == {"technician"}
    assert shown(account="FITTER-A") == {"fitter-a"}
    month = timezone.localdate() - dt.timedelta(days=30)
    assert shown(until=month.isoformat()) == {"technician"}
    assert "technician" not in shown(since=month.isoformat())
    assert shown(since=timezone.localdate().isoformat(), account="technician") == set()


@pytest.mark.parametrize(
    "query",
    [
        "kind=king",
        "since=yesterday",
        "until=2026-03-04&since=2026-03-05",
        "until=9999-12-31",
        "since=0001-01-01",
        "account=%00",
    ],
)
def test_filter_that_cannot_be_read_is_named(people, sign_in, query):
    answer = sign_in(people.office).get(f"{ADDRESS}?{query}")
    assert (answer.status_code, [*answer.context["form"].errors]) == (400, [query.partition("=")[0]])


def test_page_that_is_no_number_leads_to_the_first(people, sign_in):
    assert sign_in(people.office).get(f"{ADDRESS}?page=x").status_code == 200
