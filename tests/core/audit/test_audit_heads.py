"""Signed heads that leave the machine, and what `verify_audit` says of itself."""

from __future__ import annotations

import json
import smtplib
from contextlib import suppress
from io import StringIO

import pytest
from django.core import mail
from django.core.management import CommandError, call_command

from core.accounts.provisioning import store_create
from core.audit.heads import read_heads, signed_head
from core.audit.verification import head
from core.domain.errors import DomainError
from core.management.commands.verify_audit import Command
from core.models import AuditEntry
from tests.core.audit.test_audit_chain import as_owner

pytestmark = pytest.mark.usefixtures("db")
KEY = "a key that is stored away from the database"


@pytest.fixture
def folder(settings, tmp_path):
    settings.AUDIT_HEAD_KEY = KEY
    backend = "django.core.files.storage.FileSystemStorage"
    settings.STORAGES = settings.STORAGES | {"audit_heads": {"BACKEND": backend, "OPTIONS": {"location": tmp_path}}}
    return tmp_path


def sent():
    out = StringIO()
    call_command("send_audit_head", stdout=out)
    return out.getvalue()


def verify(expected):
    """Return what the check prints and complains of, in the test's own transaction."""
    out, err = StringIO(), StringIO()
    with suppress(SystemExit):
        Command(stdout=out, stderr=err)._verify(str(expected))
    return out.getvalue(), err.getvalue()


def test_sent_head_is_expected_later(folder, settings):
    settings.AUDIT_HEAD_EMAIL = "auditor@shoes.example.org"
    newest = AuditEntry.objects.latest("id").pk
    assert f"the head of entry {newest}" in sent()
    (file,) = folder.iterdir()
    assert mail.outbox[0].attachments[0][0] == file.name
    assert mail.outbox[0].attachments[0][1] == file.read_text()
    store_create(actor=None, slug="another", name="Another")
    sent()
    out, err = verify(folder)
    assert ("The audit trail is intact" in out, err) == (True, "")
    as_owner("DELETE FROM core_auditentry WHERE id = (SELECT max(id) FROM core_auditentry)")
    _, err = verify(folder)
    assert f"(entry {newest + 1}) is not in it" in err
    assert err.count("is not in it") == 1


def test_mail_server_that_refuses_leaves_the_file_where_it_is(folder, settings, monkeypatch):
    settings.AUDIT_HEAD_EMAIL = "auditor@shoes.example.org"

    def refuse(mail):
        raise smtplib.SMTPRecipientsRefused({mail.to[0]: (550, b"no such mailbox")})

    monkeypatch.setattr("django.core.mail.EmailMessage.send", refuse)
    with pytest.raises(
        CommandError, match=r"was sent to audit-head-\S+\.json alone\. The e-mail failed: .*no such mailbox"
    ):
        sent()
    assert len(list(folder.iterdir())) == 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda line: line.replace('"entry":', '"entry":1'), "the signature is wrong"),
        (lambda _: "not json", "send_audit_head did not write this"),
        (lambda _: json.dumps({"signature": "x"}), "send_audit_head did not write this"),
    ],
)
def test_changed_head_is_refused(folder, change, words):
    sent()
    (file,) = folder.iterdir()
    file.write_text(change(file.read_text()))
    with pytest.raises(CommandError, match=words):
        verify(file)


def test_head_of_another_key_or_practice_is_refused(folder, settings, monkeypatch):
    file = folder / "head.json"
    monkeypatch.setattr("core.audit.heads.practice_id", lambda: "0" * 12)
    file.write_text(signed_head(head().entry_id, head().hash_hex).text())
    monkeypatch.undo()
    with pytest.raises(DomainError, match="of another practice"):
        list(read_heads(file))
    settings.AUDIT_HEAD_KEY = KEY + "!"
    with pytest.raises(DomainError, match="signature is wrong"):
        list(read_heads(file))


def test_nothing_is_sent_without_key_or_address(settings):
    settings.AUDIT_HEAD_KEY = KEY
    with pytest.raises(CommandError, match="where to send it"):
        sent()
    settings.AUDIT_HEAD_KEY = "short"
    with pytest.raises(CommandError, match="Set AUDIT_HEAD_KEY"):
        sent()


def test_check_says_what_it_covers_and_what_not():
    out, _ = verify(head())
    assert f"Checked: {AuditEntry.objects.count()} entries" in out
    compared = next(line for line in out.splitlines() if "compared with a digest" in line)
    assert "users (email, password, totpdevice, " in compared
    assert "fittings (" in compared
    left_out = out[out.index("Not checked:") :]
    assert "sessions" in left_out
    assert "users (last_login)" in left_out
    assert "send_audit_head" in left_out
