"""Digests of what the trail must not hold, such as health data: HMAC-SHA256 with a salt outside the trail.

Each entry has a digest with a new salt, and the salt of the last one is in `DigestSalt`. So the trail says whether the
record is as it was left, and nothing more: without the salt a digest could belong to any content. The salt is replaced
with each change and removed with the record.

Only what is filled in goes into the digest, so that a column which a migration adds changes nothing. A digest says
by its version which other tables' rows it covers, so that one from before a table was added is not compared with that.
"""

from __future__ import annotations

import hmac
import secrets
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from core.audit.records import Part, RecordKind, reached_by, read, stored
from core.database.json_text import canonical
from core.models import DigestSalt

SALT_BYTES = 32


_METHOD = "hmac-sha256"


def digest(salt: bytes, content: str, version: int = 1) -> str:
    method = _METHOD if version == 1 else f"{_METHOD}.{version}"
    return f"{method}:{hmac.digest(salt, content.encode(), 'sha256').hex()}"


def version_of(digest_text: str) -> int:
    """Return the version that a digest names; 0 for a text that is none."""
    method, _, _ = digest_text.partition(":")
    name, _, version = method.partition(".")
    is_known = name == _METHOD and (not version or version.isdecimal())
    return int(version or 1) if is_known else 0


def contents(kind: RecordKind, private: Mapping[Any, dict[str, Any]], version: int) -> dict[Any, str]:
    """Return by pk the canonical JSON of what digests of a version cover of records, given their private columns."""
    covered = [part for part in kind.parts if part.since <= version]
    parts = {part.key: _part_rows(kind, part, [*private]) for part in covered}
    return {
        pk: canonical(_filled(row) | {name: by_pk[pk] for name, by_pk in parts.items() if pk in by_pk})
        for pk, row in private.items()
    }


def _part_rows(kind: RecordKind, part: Part, pks: Sequence[Any]) -> dict[Any, list[dict[str, Any]]]:
    table, link = reached_by(kind.model, part.relation)
    left_out = frozenset(column.attname for column in stored(table, part.columns)) if part.columns else frozenset()
    rows = table._base_manager.filter(**{f"{link}__in": pks}, **part.where).order_by("pk")
    by_pk: dict[Any, list[dict[str, Any]]] = defaultdict(list)
    for pk, row in read(rows, left_out, by=link):
        by_pk[pk].append(_filled(row))
    return by_pk


def _filled(row: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if not _is_empty(value)}


def _is_empty(value: Any) -> bool:
    """Return whether a value is what a column has before anything is filled in; a zero is filled in."""
    return value is None or value is False or value in ("", [], {})


def new_salts(kind: RecordKind, private: Mapping[Any, dict[str, Any]]) -> dict[Any, tuple[DigestSalt, str]]:
    """Return by pk a new salt for each record, not saved yet, and the digest made with it."""
    made, version = {}, kind.digest_version
    for pk, content in contents(kind, private, version).items():
        key = secrets.token_bytes(SALT_BYTES)
        salt = DigestSalt(object_type=kind.model._meta.label_lower, object_id=str(pk), salt=key)
        made[pk] = salt, digest(key, content, version)
    return made


def salts_replace(salts: Sequence[DigestSalt]) -> None:
    """Save salts in the place of those that their records have. The caller holds the lock of the trail."""
    DigestSalt.objects.bulk_create(
        salts, update_conflicts=True, unique_fields=["object_type", "object_id"], update_fields=["salt"]
    )


def salts_of(kind: RecordKind, pks: Collection[Any]) -> dict[str, bytes]:
    """Return the salts of records by their pk as text."""
    rows = DigestSalt.objects.filter(object_type=kind.model._meta.label_lower, object_id__in=[str(pk) for pk in pks])
    return {pk: bytes(salt) for pk, salt in rows.values_list("object_id", "salt")}


def salts_remove(kind: RecordKind, pks: Collection[Any]) -> None:
    """Remove the salts of records that are gone. The caller holds the lock of the trail."""
    DigestSalt.objects.filter(object_type=kind.model._meta.label_lower, object_id__in=[str(pk) for pk in pks]).delete()
