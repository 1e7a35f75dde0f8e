"""The trail is append-only and every change behind its back is found."""

from __future__ import annotations

import hashlib
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from catalogue.models import Band, Scale
from core import audit
from core.accounts.provisioning import store_create
from core.audit import verification
from core.domain.errors import DomainError
from core.models import AuditEntry
from tests.shared import shared


def as_owner(sql: str, *params: object) -> None:
    """Run one statement as the owner, with the triggers off, as a database administrator could."""
    with connection.cursor() as cursor:
        cursor.execute("RESET ROLE; SET LOCAL ROLE NONE; SET LOCAL session_replication_role = replica")
        cursor.execute(sql, params)
        cursor.execute("SET LOCAL session_replication_role = origin; SET LOCAL ROLE benchlast_app")


@shared
def three_entries(db):
    for number in range(3):
        store_create(actor=None, slug=f"shop-{number}", name=f"Shop {number}")


def test_hash_is_sha256_of_previous_hash_and_payload(three_entries):
    entry = AuditEntry.objects.order_by("-id").first()
    assert bytes(entry.hash) == hashlib.sha256(bytes(entry.previous_hash) + entry.payload.encode()).digest()


def test_untouched_trail_has_no_faults(three_entries):
    assert list(verification.faults()) == []


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE core_auditentry SET action = 'x'",
        "DELETE FROM core_auditentry",
        "TRUNCATE core_auditentry",
        "ALTER TABLE core_auditentry DISABLE TRIGGER ALL",
    ],
)
def test_application_role_cannot_change_the_trail(three_entries, statement):
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)


def test_application_role_owns_nothing(db):
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_user, count(*) FROM pg_class WHERE pg_get_userbyid(relowner) = current_user")
        assert cursor.fetchone() == ("benchlast_app", 0)


def test_owner_meets_the_trigger_too(three_entries):
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL ROLE NONE")
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            cursor.execute("DELETE FROM core_auditentry")
        cursor.execute("SET LOCAL ROLE benchlast_app")


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("at", "at + interval '1 second'"),
        ("actor_id", "(SELECT min(id) FROM core_user)"),
        ("action", "'core.user.created'"),
        ("object_type", "'core.user'"),
        ("object_id", "'999'"),
        ("payload", "replace(payload, 'Shop 1', 'Shop 9')"),
        ("previous_hash", "sha256('x')"),
        ("hash", "sha256('y')"),
        ("id", "id + 100"),
    ],
)
def test_each_changed_column_of_the_trail_is_found(three_entries, cast, column, value):
    entry = AuditEntry.objects.get(object_type="core.store", payload__contains="Shop 1")
    as_owner(f"UPDATE core_auditentry SET {column} = {value} WHERE id = %s", entry.pk)
    assert list(verification.chain_faults())


def test_removed_entry_in_the_middle_is_found(three_entries):
    as_owner("DELETE FROM core_auditentry WHERE id = 2")
    assert any("missing" in fault.problem for fault in verification.chain_faults())


def test_removed_newest_entry_is_found_against_a_kept_head(three_entries):
    kept = str(verification.head())
    as_owner("DELETE FROM core_auditentry WHERE id = (SELECT max(id) FROM core_auditentry)")
    assert list(verification.chain_faults()) == []
    assert not verification.contains(kept)


def test_changed_part_of_a_record_is_found_and_named(db):
    Band.objects.filter(order=2).update(upper=61)
    faults = [str(fault) for fault in verification.faults()]
    assert len(faults) == 1
    assert "scale" in faults[0]
    assert "bands" in faults[0]


def test_record_without_entry_is_found(db):
    Scale.objects.create(version="S9")
    assert [fault.problem for fault in verification.faults()] == ["has no audit entry"]


def test_command_names_the_first_fault_and_exits_1(three_entries):
    entry = AuditEntry.objects.get(object_type="core.store", payload__contains="Shop 1")
    as_owner("UPDATE core_auditentry SET payload = replace(payload, 'Shop 1', 'Shop 9') WHERE id = %s", entry.pk)
    errors = StringIO()
    with pytest.raises(SystemExit) as stop:
        audit_verify_command(stderr=errors)
    assert stop.value.code == 1
    assert errors.getvalue().startswith(f"audit entry {entry.pk}:")


def audit_verify_command(**streams):
    """Run the command's check inside the test's own transaction, which can't change its isolation any more."""
    from core.management.commands.verify_audit import Command

    Command(**streams)._verify(None)


def test_model_refuses_change_and_deletion(three_entries):
    entry = AuditEntry.objects.first()
    with pytest.raises(DomainError, match="cannot be changed"):
        entry.save()
    with pytest.raises(DomainError, match="cannot be deleted"):
        entry.delete()
    with pytest.raises(DomainError, match="cannot be changed"):
        AuditEntry.objects.update(action="x")
    with pytest.raises(DomainError, match="cannot be deleted"):
        AuditEntry.objects.all().delete()


def test_head_is_printed(three_entries):
    out = StringIO()
    call_command("verify_audit", "--head", stdout=out)
    entry_id, digest = out.getvalue().split()
    assert AuditEntry.objects.get(pk=entry_id).hash.hex() == digest


def test_entry_keeps_what_changed_and_the_whole_record_after(three_entries):
    store = store_create(actor=None, slug="fourth", name="Fourth")
    before = audit.snapshot(store)
    store.name = "Fourth again"
    store.save()
    audit.record(actor=None, action="core.store.created", subject=store, before=before, reason="a new sign")
    content = audit.entries_of(store).first().content
    assert content["before"] == {"name": "Fourth"}
    assert content["after"]["name"] == "Fourth again"
    assert content["after"]["slug"] == "fourth"
    assert content["reason"] == "a new sign"
