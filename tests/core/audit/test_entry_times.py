"""Time and person of an entry agree with the clock, with the entry before it, and with the decision it records."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from core import audit
from core.accounts.two_accounts import act_ask
from core.audit.verification import chain_faults
from core.gate.access import Role
from core.models import AccountAct, AccountRequest, AuditEntry
from tests.core.audit.test_audit_chain import as_owner, three_entries  # noqa: F401  a fixture

pytestmark = pytest.mark.usefixtures("db")

INSERT = """
INSERT INTO core_auditentry (id, at, actor_id, action, object_type, object_id, payload, previous_hash, hash)
SELECT 0, now() + %s, actor_id, action, object_type, object_id, payload, '', '' FROM core_auditentry WHERE id = 2
"""


def problems():
    return [fault.problem for fault in chain_faults()]


@pytest.mark.parametrize("shift", [dt.timedelta(days=-3), dt.timedelta(hours=1)])
def test_database_refuses_an_entry_of_another_time(three_entries, shift):  # noqa: F811
    with pytest.raises(DatabaseError, match="database's clock"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(INSERT, [shift])


def moved(entry_id, shift):
    """Give an entry another time, in its column and its payload alike, as an owner of the database could."""
    entry = AuditEntry.objects.get(pk=entry_id)
    at = entry.at + shift
    payload = entry.payload.replace(entry.content["at"], at.isoformat(timespec="microseconds"))
    as_owner("UPDATE core_auditentry SET at = %s, payload = %s WHERE id = %s", at, payload, entry_id)


def test_entry_before_the_one_before_it_is_found(three_entries):  # noqa: F811
    moved(2, dt.timedelta(minutes=-4))
    assert not any("before that of the entry before it" in problem for problem in problems())
    moved(2, dt.timedelta(minutes=-4))
    assert any("before that of the entry before it" in problem for problem in problems())


def test_entry_in_the_future_is_found(three_entries):  # noqa: F811
    moved(AuditEntry.objects.latest("id").pk, dt.timedelta(minutes=1))
    assert any("in the future" in problem for problem in problems())


def test_actor_and_their_name_agree(three_entries, cast):  # noqa: F811
    payload = AuditEntry.objects.get(pk=2).payload.replace('"actor_name":"system"', '"actor_name":"somebody"')
    as_owner("UPDATE core_auditentry SET payload = %s WHERE id = 2", payload)
    assert any("it names 'somebody'" in problem for problem in problems())


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"decided_at": timezone.now() - dt.timedelta(days=2)}, "decided_at in it is"),
        ({"by": "technician"}, "decided_by_id in it is"),
    ],
)
def test_decision_of_another_time_or_person_is_found(cast, change, words):
    act_ask(actor=cast.office, user=cast.technician, act=AccountAct.ROLE, role=Role.REVIEWER, reason="promoted")
    request = AccountRequest.objects.get()
    assert problems() == []
    before = audit.snapshot(request)
    request.decision, request.decided_at = "refused", change.get("decided_at", timezone.now())
    request.decided_by = getattr(cast, change.get("by", "reviewer"))
    request.save()
    audit.record(actor=cast.reviewer, action="core.account_request.refused", subject=request, before=before)
    (problem,) = problems()
    assert words in problem
