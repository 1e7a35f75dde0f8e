"""Heads of the audit trail that are sent off the machine, each signed with a key that is not in the database.

A file has one line of JSON: practice, number and hash of the newest entry, the time, and an HMAC-SHA256 over them. Who
can change the whole database can make another trail that is whole; it does not have the entries of such a file.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.crypto import constant_time_compare, salted_hmac

from core.audit.entry_checks import database_clock
from core.audit.practice_name import practice_id
from core.audit.records import plain
from core.database.json_text import canonical
from core.domain.errors import DomainError

KEY_MIN_LENGTH = 32
_SALT = "core.audit.head"
_NAMES = ("practice", "entry", "hash", "at")


@dataclass(frozen=True, slots=True)
class SignedHead:
    """A head as it is sent: the practice, the number and the hash (hexadecimal) of an entry, and when it was read."""

    practice: str
    entry: int
    hash: str
    at: str

    @property
    def file_name(self) -> str:
        moment = dt.datetime.fromisoformat(self.at)
        return f"audit-head-{self.practice}-{moment:%Y%m%dT%H%M%SZ}.json"

    def text(self) -> str:
        """Return the line to send, with its signature."""
        content: dict[str, Any] = {name: getattr(self, name) for name in _NAMES}
        return canonical(content | {"signature": _signature(content)}) + "\n"


def _key() -> str:
    key: str = settings.AUDIT_HEAD_KEY
    if len(key) < KEY_MIN_LENGTH:
        raise DomainError(
            f"Set AUDIT_HEAD_KEY to a random text of at least {KEY_MIN_LENGTH} characters. Store it where whoever "
            "looks after the database cannot read it: it signs the heads of the audit trail.",
            code="no_head_key",
        )
    return key


def _signature(content: dict[str, Any]) -> str:
    return salted_hmac(_SALT, canonical(content), secret=_key(), algorithm="sha256").hexdigest()


def signed_head(entry: int, hash_hex: str) -> SignedHead:
    """Return the head to send for the newest entry.

    Raises
    ------
    DomainError
        Where the key is missing or too short.
    """
    _key()
    return SignedHead(practice_id(), entry, hash_hex, str(plain(database_clock())))


def read_heads(path: Path) -> Iterator[SignedHead]:
    """Read a file of heads, or every `.json` file in a folder.

    Raises
    ------
    DomainError
        For a line that is no head, whose signature is wrong, or that is of another practice; naming file and line.
    """
    files = sorted(path.glob("*.json")) if path.is_dir() else [path]
    if not files:
        raise DomainError(f"There are no heads in {path}: it has no file that ends in .json.", code="no_heads")
    for file in files:
        for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), start=1):
            if line.strip():
                yield _read_head(line, f"{file}, line {number}")


def _read_head(line: str, where: str) -> SignedHead:
    try:
        content = json.loads(line)
        signature = content.pop("signature")
        head = SignedHead(**content)
        bytes.fromhex(head.hash)
    except (ValueError, KeyError, TypeError, AttributeError) as problem:
        raise DomainError(f"{where}: send_audit_head did not write this.", code="no_head") from problem
    if not constant_time_compare(str(signature), _signature(content)):
        raise DomainError(
            f"{where}: the signature is wrong; it was changed, or signed with another key.", code="bad_head"
        )
    if head.practice != practice_id():
        raise DomainError(f"{where}: this head is of another practice ({head.practice}).", code="other_practice")
    return head
