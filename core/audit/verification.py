"""Checking the audit trail: the chain itself, then every record against its last entry."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

from django.db import connection, models

from core.audit import GENESIS, RecordKind, chain_hash, record_kinds, snapshots
from core.audit.later_columns import as_stored_today
from core.models import AuditEntry

CHUNK = 500


@dataclass(frozen=True, slots=True)
class Fault:
    """A difference between the database and the trail, or a break in the trail itself."""

    where: str
    problem: str

    def __str__(self) -> str:
        return f"{self.where}: {self.problem}"


@dataclass(frozen=True, slots=True)
class Head:
    """The newest entry; its hash covers the whole trail up to it."""

    entry_id: int
    hash_hex: str

    def __str__(self) -> str:
        return f"{self.entry_id} {self.hash_hex}"


def head() -> Head:
    newest = AuditEntry.objects.order_by("-id").values_list("id", "hash").first()
    return Head(newest[0], bytes(newest[1]).hex()) if newest else Head(0, GENESIS.hex())


def chain_faults() -> Iterator[Fault]:
    """Check the entries in order: no gap in the numbers, every hash correct, every column equal to the payload."""
    previous, expected_id = GENESIS, 1
    for entry in AuditEntry.objects.order_by("id").iterator(chunk_size=CHUNK):
        where = f"audit entry {entry.pk}"
        if entry.pk != expected_id:
            yield Fault(where, f"entry {expected_id} is missing before it")
        if bytes(entry.previous_hash) != previous:
            yield Fault(where, "its previous hash is not the hash of the entry before it")
        if bytes(entry.hash) != chain_hash(bytes(entry.previous_hash), entry.payload):
            yield Fault(where, "its hash does not match its content")
        yield from _column_faults(entry, where)
        previous, expected_id = bytes(entry.hash), entry.pk + 1


def _column_faults(entry: AuditEntry, where: str) -> Iterator[Fault]:
    try:
        content = json.loads(entry.payload)
        record = content["object"]
        payload_values = (content["action"], record["type"], record["id"], content["actor"], content["at"])
    except (ValueError, KeyError, TypeError):
        yield Fault(where, "its content is not readable")
        return
    at = entry.at.isoformat(timespec="microseconds")
    columns = (entry.action, entry.object_type, entry.object_id, entry.actor_id, at)
    for name, inside, column in zip(("action", "type", "id", "actor", "time"), payload_values, columns, strict=True):
        if inside != column:
            yield Fault(where, f"its {name} column is {column!r}, but its content has {inside!r}")


def _last_states(kind: RecordKind) -> dict[str, tuple[int, Any]]:
    """Return the newest entry's id and `after` for each record of a kind."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT DISTINCT ON (object_id) object_id, id, payload FROM core_auditentry"
            " WHERE object_type = %s ORDER BY object_id, id DESC",
            [kind.model._meta.label_lower],
        )
        return {pk: (entry, json.loads(payload).get("after")) for pk, entry, payload in cursor.fetchall()}


def record_faults(kind: RecordKind) -> Iterator[Fault]:
    """Compare every record of a kind with its last entry."""
    name = str(kind.model._meta.verbose_name)
    last = _last_states(kind)
    pks: Iterator[Any] = iter(kind.model._base_manager.order_by("pk").values_list("pk", flat=True))
    while chunk := list(islice(pks, CHUNK)):
        earlier = {pk: after for pk in chunk if (after := last.get(str(pk), (0, None))[1])}
        for pk, state in snapshots(kind.model, chunk, earlier=earlier).items():
            entry, after = last.pop(str(pk), (0, None))
            if not entry:
                yield Fault(f"{name} {pk}", "has no audit entry")
            elif differing := _difference(kind, after, state):
                yield Fault(f"{name} {pk}", f"differs from audit entry {entry} in {differing}")
    for pk, (entry, after) in last.items():
        if after is not None:
            yield Fault(f"{name} {pk}", f"is missing, but audit entry {entry} did not delete it")


def _difference(kind: RecordKind, after: Any, state: dict[str, Any]) -> str:
    """Return the names of the columns in which a record differs from its last entry; empty where it does not."""
    if not isinstance(after, dict):
        return ", ".join(sorted(state))
    recorded = as_stored_today(kind, after)
    return ", ".join(sorted(key for key in state if key not in recorded or recorded[key] != state[key]))


def orphan_faults(kind: RecordKind) -> Iterator[Fault]:
    """Find rows of a record's other tables that belong to no record (their foreign key was changed)."""
    for name in (*kind.related, *kind.sealed):
        relation: Any = kind.model._meta.get_field(name)
        rows: models.QuerySet[Any] = relation.related_model._base_manager
        record = kind.model._base_manager.filter(pk=models.OuterRef(relation.field.attname))
        lost = rows.filter(~models.Exists(record))
        if name in kind.sealed:
            lost = lost.filter(**{f"{relation.field.name}__isnull": False})
        for pk in lost.order_by("pk").values_list("pk", flat=True):
            yield Fault(f"{relation.related_model._meta.verbose_name} {pk}", "belongs to no record")


def faults() -> Iterator[Fault]:
    """Yield every fault, those of the chain first."""
    yield from chain_faults()
    for kind in record_kinds():
        yield from record_faults(kind)
        yield from orphan_faults(kind)


def contains(head_text: str) -> bool:
    """Return whether a head stored elsewhere is still in the trail (if not, the newest entries were removed)."""
    entry_id, _, hash_hex = head_text.strip().partition(" ")
    digest = bytes.fromhex(hash_hex or entry_id)
    return digest == GENESIS or AuditEntry.objects.filter(hash=digest).exists()
