"""Check the audit trail, or print its head hash to keep elsewhere."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from itertools import islice
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection, transaction

from core.audit import verification
from core.gate import row_scope

SHOWN = 20


class Command(BaseCommand):
    help = (
        "Walk the hash chain of the audit trail and compare every record with its last entry. "
        "Names what is broken, the first first, and exits 1."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--head", action="store_true", help="print the number and hash of the newest entry")
        parser.add_argument("--kept", metavar="HASH", help="a head printed earlier: fail where it is no longer there")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["head"]:
            self.stdout.write(str(verification.head()))
            return
        # One snapshot of the database: what is written meanwhile does not look like a fault.
        with row_scope.everything(), transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            self._verify(options["kept"])

    def _verify(self, kept: str | None) -> None:
        found = list(islice(verification.faults(), SHOWN))
        if kept is not None and not self._holds(kept):
            found.append(verification.Fault("audit trail", "the kept head is not in it: its newest entries are gone"))
        for fault in found:
            self.stderr.write(str(fault))
        if found:
            sys.exit(1)
        self.stdout.write(f"The audit trail is whole. Head: {verification.head()}")

    def _holds(self, kept: str) -> bool:
        try:
            return verification.holds(kept)
        except ValueError as problem:
            raise CommandError("--kept takes what --head printed: a number and 64 hex digits, or these.") from problem
