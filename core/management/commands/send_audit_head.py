"""Send the signed head of the audit trail off this machine: to a folder, a bucket, an e-mail address."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.core.mail import EmailMessage
from django.core.management.base import BaseCommand, CommandError

from core.audit.heads import SignedHead, signed_head
from core.audit.verification import head
from core.domain.errors import DomainError

STORAGE = "audit_heads"


class Command(BaseCommand):
    help = (
        "Send the number and hash of the newest audit entry, signed with AUDIT_HEAD_KEY, to AUDIT_HEAD_FOLDER or "
        "AUDIT_HEAD_BUCKET and to AUDIT_HEAD_EMAIL. `verify_audit --expect` checks them later. For a daily job."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        newest = head()
        try:
            signed = signed_head(newest.entry_id, newest.hash_hex)
        except DomainError as problem:
            raise CommandError(problem.message) from problem
        sent, problems = _sent(signed)
        if problems:
            where = f"was sent to {' and '.join(sent)} alone" if sent else "was sent nowhere"
            raise CommandError(f"The head of entry {signed.entry} {where}. {' '.join(problems)}")
        if not sent:
            raise CommandError(
                "Nothing says where to send it. Set AUDIT_HEAD_FOLDER, AUDIT_HEAD_BUCKET or AUDIT_HEAD_EMAIL."
            )
        self.stdout.write(f"Sent the head of entry {signed.entry} to {' and '.join(sent)}.")


def _sent(signed: SignedHead) -> tuple[list[str], list[str]]:
    """Send it every way that is set; one that fails leaves the others alone. Returns where it went, and what failed."""
    sent: list[str] = []
    problems: list[str] = []
    for name, send in {"Storing it": _stored, "The e-mail": _mailed}.items():
        try:
            sent += send(signed)
        # Buckets raise the errors of their library.
        except Exception as problem:
            problems.append(f"{name} failed: {problem}.")
    return sent, problems


def _stored(signed: SignedHead) -> list[str]:
    if STORAGE not in settings.STORAGES:
        return []
    return [storages[STORAGE].save(signed.file_name, ContentFile(signed.text().encode()))]


def _mailed(signed: SignedHead) -> list[str]:
    address = settings.AUDIT_HEAD_EMAIL
    if not address:
        return []
    mail = EmailMessage(
        subject=f"Head of the audit trail: entry {signed.entry}",
        body=f"{signed.text()}\nSave the attached file: `verify_audit --expect FILE` compares the trail with it.\n",
        to=[address],
        attachments=[(signed.file_name, signed.text(), "application/json")],
    )
    mail.send()
    return [address]
