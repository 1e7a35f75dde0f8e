"""A name of this practice for what leaves it on paper or as a code."""

from __future__ import annotations

from core.models import AuditEntry

PRACTICE_DIGITS = 12


def practice_id() -> str:
    """The beginning of the hash of the first entry of the audit trail, as hexadecimal digits.

    The first entry is never changed, is part of every backup and differs between practices; the address of the site
    may change.
    """
    first = AuditEntry.objects.order_by("pk").values_list("hash", flat=True)[:1].get()
    return bytes(first).hex()[:PRACTICE_DIGITS]
