"""The audit trail. Services write to it with `audit.record`; the rest of its public names are re-exported here."""

from core.audit.people import who, with_people
from core.audit.practice_name import practice_id
from core.audit.records import (
    ColumnConverter,
    Part,
    RecordKind,
    converters_of,
    kind_of,
    links_of_seals,
    record_kinds,
    register_record,
    snapshot,
    snapshots,
    unchanged,
)
from core.audit.trail import (
    GENESIS,
    Change,
    Named,
    actions,
    chain_hash,
    entries_of,
    record,
    record_many,
    register_action,
    sentence,
)

__all__ = [
    "GENESIS",
    "Change",
    "ColumnConverter",
    "Named",
    "Part",
    "RecordKind",
    "actions",
    "chain_hash",
    "converters_of",
    "entries_of",
    "kind_of",
    "links_of_seals",
    "practice_id",
    "record",
    "record_kinds",
    "record_many",
    "register_action",
    "register_record",
    "sentence",
    "snapshot",
    "snapshots",
    "unchanged",
    "who",
    "with_people",
]
