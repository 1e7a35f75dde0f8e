"""Replace the database with a backup."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from core.database import backup
from core.database.roles import as_owner
from core.domain.errors import DomainError
from core.gate.row_scope import protected

SKIPPED_NUMBERS = 100_000


class Command(BaseCommand):
    help = "Replace the whole database with a backup in one transaction, then migrate it and verify its audit trail."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--no-input", action="store_true", help="do not ask before replacing the database; needed in scripts"
        )
        parser.add_argument("--rows", action="store_true", help="print how many rows each table has, as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["no_input"]:
            self._ask()
        connection.close()
        try:
            backup.restore(options["file"].resolve())
        except DomainError as problem:
            raise CommandError(f"{problem.message}\nNothing was changed.") from problem
        if options["rows"]:
            self.stdout.write(json.dumps(_rows()))
        call_command("migrate", verbosity=0)
        _skip_numbers()
        call_command("verify_audit", stdout=self.stdout, stderr=self.stderr)

    def _ask(self) -> None:
        name = connection.settings_dict["NAME"]
        if not sys.stdin.isatty():
            raise CommandError(
                f"This would replace everything in the database {name!r}. Add --no-input to do so without being asked. "
                "Nothing was changed."
            )
        self.stdout.write(f"This replaces everything in the database {name!r}. Write its name to go on: ", ending="")
        self.stdout.flush()
        if sys.stdin.readline().strip() != name:
            raise CommandError("Nothing was changed.")


def _skip_numbers() -> None:
    """Leave out the next numbers of records about people.

    Links that customers were given after the backup name such numbers, and must not lead to somebody else's records.
    """
    with connection.cursor() as cursor:
        for item in protected():
            meta = item.model._meta
            cursor.execute(
                "SELECT setval(name, nextval(name) + %s) FROM pg_get_serial_sequence(%s, %s) AS name",
                [SKIPPED_NUMBERS, meta.db_table, meta.pk.column],
            )


def _rows() -> dict[str, int]:
    """Count the rows of every table."""
    with as_owner(), connection.cursor() as cursor:
        counts = {}
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")  # noqa: S608
            counts[table] = cursor.fetchone()[0]
        return counts
