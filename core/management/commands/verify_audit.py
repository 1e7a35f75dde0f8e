"""Verify the audit trail, or print its head hash to store elsewhere."""

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
        "Check the hash chain of the audit trail and compare every record with its last entry. "
        "Prints every fault, the first one first, and exits with 1."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--head", action="store_true", help="print the number and hash of the newest entry")
        parser.add_argument(
            "--expect", metavar="HEAD", help="a head printed earlier; fails if it is no longer in the trail"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["head"]:
            self.stdout.write(str(verification.head()))
            return
        # One snapshot of the database, so that changes made in the meantime do not look like faults.
        with row_scope.everything(), transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            self._verify(options["expect"])

    def _verify(self, expected_head: str | None) -> None:
        faults = list(islice(verification.faults(), SHOWN))
        if expected_head is not None and not self._contains(expected_head):
            problem = "the expected head is not in it: its newest entries were removed"
            faults.append(verification.Fault("audit trail", problem))
        for fault in faults:
            self.stderr.write(str(fault))
        if faults:
            sys.exit(1)
        self.stdout.write(f"The audit trail is intact. Head: {verification.head()}")

    def _contains(self, head_text: str) -> bool:
        try:
            return verification.contains(head_text)
        except ValueError as problem:
            message = "--expect takes what --head printed: a number and 64 hex digits, or the hex digits alone."
            raise CommandError(message) from problem
