"""`verify_audit --head` and `--expect`: a head stored elsewhere shows that the newest entries were removed."""

from __future__ import annotations

import io

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from core.database.roles import as_owner
from core.models import AuditEntry
from tests.labtests.services.bench.test_conditioning_at_once import db  # noqa: F401  things are committed in a copy: the command opens its own snapshot


def verified(*options):
    out, err = io.StringIO(), io.StringIO()
    call_command("verify_audit", *options, stdout=out, stderr=err)
    return out.getvalue() + err.getvalue()


def output_when_failing(*options):
    err = io.StringIO()
    with pytest.raises(SystemExit) as caught:
        call_command("verify_audit", *options, stdout=io.StringIO(), stderr=err)
    assert caught.value.code == 1
    return err.getvalue()


def test_kept_head_is_found_while_entries_are_added_and_missed_once_they_are_gone(lab):
    lab.accepted(specimen="F2-01")
    kept = verified("--head").strip()
    number, _, digest = kept.partition(" ")
    assert number == str(AuditEntry.objects.latest("id").pk)
    lab.accepted(specimen="F2-02")
    # The whole line or the hash alone, as it was kept.
    assert "The audit trail is intact" in verified("--expect", kept)
    assert "The audit trail is intact" in verified("--expect", digest)
    wrong = digest[:-1] + ("0" if digest[-1] != "0" else "1")
    assert "the expected head is not in it" in output_when_failing("--expect", wrong)
    with pytest.raises(CommandError, match="64 hex digits"):
        verified("--expect", "no hash")
    newest = verified("--head").strip()
    with as_owner(), connection.cursor() as cursor:
        cursor.execute("ALTER TABLE core_auditentry DISABLE TRIGGER USER")
        cursor.execute("DELETE FROM core_auditentry WHERE id = (SELECT max(id) FROM core_auditentry)")
        cursor.execute("ALTER TABLE core_auditentry ENABLE TRIGGER USER")
    answer = output_when_failing("--expect", newest)
    assert "the expected head is not in it: its newest entries were removed" in answer
