"""The SQL functions and triggers of all apps: files in `<app>/triggers/`, installed after every migration.

A file has one concern and opens with a comment on what it guards and why. It holds nothing but
``CREATE OR REPLACE FUNCTION`` and ``CREATE OR REPLACE TRIGGER``, so that it can be run again at any time. Names begin
with the label of an app and an underscore. By that we know our functions, and by its function a trigger of ours: what
is installed and no file declares any more is dropped. Where several steps have to follow each other on one table, one
function takes them all: which of two triggers fires first would depend on their names.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from django.apps import apps
from django.db import connection, transaction

# Two migrations at once would replace the same functions.
LOCK = 7_301_455_010

_FUNCTION = re.compile(r"^CREATE OR REPLACE FUNCTION (\w+\([^)]*\))", re.MULTILINE)
_TRIGGER = re.compile(r"^CREATE OR REPLACE TRIGGER (\w+)\s[^;]*?\sON (\w+)", re.MULTILINE)


@dataclass(frozen=True, slots=True, order=True)
class Trigger:
    """A trigger by its table and name."""

    table: str
    name: str


@dataclass(frozen=True, slots=True)
class Declared:
    """What the files declare: functions by name and arguments, as PostgreSQL prints them, and triggers."""

    functions: frozenset[str]
    triggers: frozenset[Trigger]


def files() -> list[Path]:
    """Return the files in the order of the apps, by name in each."""
    return [file for app in apps.get_app_configs() for file in sorted(Path(app.path, "triggers").glob("*.sql"))]


def declared() -> Declared:
    text = "\n".join(file.read_text(encoding="utf-8") for file in files())
    triggers = (Trigger(table, name) for name, table in _TRIGGER.findall(text))
    return Declared(frozenset(_FUNCTION.findall(text)), frozenset(triggers))


@dataclass(frozen=True, slots=True)
class Installed:
    """Our functions in the database by name and arguments, each with its oid, and our triggers with their function."""

    functions: dict[str, int]
    triggers: dict[Trigger, str]


_FUNCTIONS = """
SELECT format('%%s(%%s)', proname, pg_get_function_arguments(oid)), oid FROM pg_proc
WHERE pronamespace = 'public'::regnamespace
    AND EXISTS (SELECT FROM unnest(%s::text[]) AS label WHERE starts_with(proname, label || '_'))
"""
_TRIGGERS = """
SELECT relname, tgname, tgfoid FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid
WHERE NOT tgisinternal AND tgfoid = ANY(%s::oid[])
"""


def installed() -> Installed:
    with connection.cursor() as cursor:
        cursor.execute(_FUNCTIONS, [[app.label for app in apps.get_app_configs()]])
        functions = dict(cursor.fetchall())
        names = {oid: name for name, oid in functions.items()}
        cursor.execute(_TRIGGERS, [list(names)])
        triggers = {Trigger(table, name): names[function] for table, name, function in cursor.fetchall()}
    return Installed(functions, triggers)


def _drop_undeclared() -> None:
    """Drop what no file declares; a declared trigger whose function goes is made again just after."""
    known, there, quote = declared(), installed(), connection.ops.quote_name
    gone = {name: oid for name, oid in there.functions.items() if name not in known.functions}
    with connection.cursor() as cursor:
        for trigger, function in there.triggers.items():
            if function in gone or trigger not in known.triggers:
                cursor.execute(f"DROP TRIGGER {quote(trigger.name)} ON {quote(trigger.table)}")
        for oid in gone.values():
            cursor.execute("SELECT %s::oid::regprocedure::text", [oid])
            cursor.execute(f"DROP FUNCTION {cursor.fetchone()[0]}")


@transaction.atomic
def install_triggers() -> None:
    """Make the database's functions and triggers those that the files declare, as the owner, all or none."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LOCK])
        cursor.execute("SET LOCAL search_path = public, pg_temp")
        _drop_undeclared()
        for file in files():
            cursor.execute(file.read_text(encoding="utf-8"))
