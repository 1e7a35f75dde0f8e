"""Checking the audit trail: the chain itself, then every record against its last entry."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

from django.db import connection, models

from core.audit import GENESIS, RecordKind, chain_hash, record_kinds
from core.audit.digests import contents, digest, salts_of, version_of
from core.audit.entry_checks import EntryChecks
from core.audit.later_columns import State, as_stored_today
from core.audit.records import whole_records
from core.models import AuditEntry, DigestSalt

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
    """Check the entries in order: numbers without a gap, hashes, columns equal to the payload, times and actors."""
    previous, expected_id, checks = GENESIS, 1, EntryChecks()
    for entry in AuditEntry.objects.order_by("id").iterator(chunk_size=CHUNK):
        where = f"audit entry {entry.pk}"
        if entry.pk != expected_id:
            yield Fault(where, f"entry {expected_id} is missing before it")
        if bytes(entry.previous_hash) != previous:
            yield Fault(where, "its previous hash is not the hash of the entry before it")
        if bytes(entry.hash) != chain_hash(bytes(entry.previous_hash), entry.payload):
            yield Fault(where, "its hash does not match its content")
        yield from (Fault(where, problem) for problem in _content_problems(entry, checks))
        previous, expected_id = bytes(entry.hash), entry.pk + 1


def _content_problems(entry: AuditEntry, checks: EntryChecks) -> Iterator[str]:
    try:
        content = json.loads(entry.payload)
        record = content["object"]
        inside = (content["action"], record["type"], record["id"], content["actor"], content["at"])
        at = entry.at.isoformat(timespec="microseconds")
        columns = (entry.action, entry.object_type, entry.object_id, entry.actor_id, at)
        for name, said, column in zip(("action", "type", "id", "actor", "time"), inside, columns, strict=True):
            if said != column:
                yield f"its {name} column is {column!r}, but its content has {said!r}"
        yield from checks.problems(entry, content)
    except (ValueError, KeyError, TypeError, AttributeError):
        yield "its content is not readable"


@dataclass(frozen=True, slots=True)
class _Last:
    """What the newest entry on a record says: its number, the record after it, and the digest of what it leaves out."""

    entry: int = 0
    after: Any = None
    digest: str | None = None


def _last_states(kind: RecordKind) -> dict[str, _Last]:
    """Return what the newest entry says for each record of a kind."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT DISTINCT ON (object_id) object_id, id, payload FROM core_auditentry"
            " WHERE object_type = %s ORDER BY object_id, id DESC",
            [kind.model._meta.label_lower],
        )
        return {pk: _last(entry, json.loads(payload)) for pk, entry, payload in cursor.fetchall()}


def _last(entry: int, content: dict[str, Any]) -> _Last:
    return _Last(entry, content.get("after"), content.get("digest"))


def record_faults(kind: RecordKind) -> Iterator[Fault]:
    """Compare every record of a kind with its last entry."""
    name = str(kind.model._meta.verbose_name)
    last = _last_states(kind)
    pks: Iterator[Any] = iter(kind.model._base_manager.order_by("pk").values_list("pk", flat=True))
    while chunk := list(islice(pks, CHUNK)):
        lasts = {pk: last.pop(str(pk), _Last()) for pk in chunk}
        earlier = {pk: one.after for pk, one in lasts.items() if one.after}
        states, private = whole_records(kind, chunk, earlier=earlier)
        for pk, state in states.items():
            if not lasts[pk].entry:
                yield Fault(f"{name} {pk}", "has no audit entry")
            elif differing := _difference(kind, pk, lasts[pk].after, state):
                yield Fault(f"{name} {pk}", f"differs from audit entry {lasts[pk].entry} in {differing}")
        if kind.has_digest:
            yield from _digest_faults(kind, lasts, private)
    for pk, one in last.items():
        if one.after is not None:
            yield Fault(f"{name} {pk}", f"is missing, but audit entry {one.entry} did not delete it")
    if kind.has_digest:
        yield from _lost_salt_faults(kind)


def _digest_faults(kind: RecordKind, lasts: dict[Any, _Last], private: dict[Any, dict[str, Any]]) -> Iterator[Fault]:
    """Compare what the trail has only a digest of. Entries from before there were digests say nothing of it."""
    sealed = {pk: one for pk, one in lasts.items() if one.digest is not None}
    salts = salts_of(kind, sealed)
    now = {
        version: contents(kind, {pk: row for pk, row in private.items() if pk in sealed}, version)
        for version in {version_of(one.digest or "") for one in sealed.values()}
    }
    for pk, one in sealed.items():
        where, salt = f"{kind.model._meta.verbose_name} {pk}", salts.get(str(pk))
        version = version_of(one.digest or "")
        if salt is None:
            yield Fault(where, f"the salt of its digest in audit entry {one.entry} is missing")
        elif pk not in now[version] or digest(salt, now[version][pk], version) != one.digest:
            covered = ", ".join(sorted([*kind.private, *(part.key for part in kind.parts if part.since <= version)]))
            yield Fault(where, f"differs from the digest in audit entry {one.entry}, which covers {covered}")


def _lost_salt_faults(kind: RecordKind) -> Iterator[Fault]:
    """Find salts of records that are gone: with them the digests of a removed person could be tried."""
    there = {str(pk) for pk in kind.model._base_manager.values_list("pk", flat=True)}
    salts = DigestSalt.objects.filter(object_type=kind.model._meta.label_lower).order_by("pk")
    for pk in salts.values_list("object_id", flat=True).iterator():
        if pk not in there:
            yield Fault(f"{kind.model._meta.verbose_name} {pk}", "is gone, but the salt of its digest is still there")


def outdated(kind: RecordKind) -> list[Any]:
    """Return the pks of records whose last entry has no digest, or one that covers less than digests do today.

    Records that differ from that entry are left out: a new entry would hide what was done to them.
    """
    last = _last_states(kind)
    pks = [
        pk
        for pk in kind.model._base_manager.order_by("pk").values_list("pk", flat=True)
        if (one := last.get(str(pk))) and (not one.digest or version_of(one.digest) < kind.digest_version)
    ]
    if not pks:
        return []
    differing = {fault.where for fault in record_faults(kind)}
    return [pk for pk in pks if f"{kind.model._meta.verbose_name} {pk}" not in differing]


def _difference(kind: RecordKind, pk: Any, after: Any, state: State) -> str:
    """Return the names of the columns in which a record differs from its last entry; empty where it does not."""
    if not isinstance(after, dict):
        return ", ".join(sorted(state))
    names = _differing(kind, after, state)
    if names - after.keys():
        names = _differing(kind, _with_earlier(kind, pk, after), state)
    return ", ".join(sorted(names))


def _differing(kind: RecordKind, after: State, state: State) -> set[str]:
    recorded = as_stored_today(kind, after)
    return {key for key in state if key not in recorded or recorded[key] != state[key]}


def _with_earlier(kind: RecordKind, pk: Any, after: State) -> State:
    """Return what the last entry says, and of columns that it does not have what the newest says that has them.

    While servers are replaced one after the other, the program of the release before may write the last entry, without
    the columns that it does not know. It leaves these as they are.
    """
    entries = AuditEntry.objects.filter(object_type=kind.model._meta.label_lower, object_id=str(pk)).order_by("-id")
    rows_of_others = {*kind.related, *kind.sealed}
    for payload in entries.values_list("payload", flat=True):
        earlier = json.loads(payload).get("after")
        if not isinstance(earlier, dict):
            break
        after = {name: value for name, value in earlier.items() if name not in rows_of_others} | after
    return after


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
