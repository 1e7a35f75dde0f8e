"""Verify the audit trail, or print its head hash to store elsewhere."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from itertools import islice
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection, transaction

from core.audit import verification
from core.audit.coverage import coverage
from core.audit.heads import SignedHead, read_heads
from core.audit.verification import Fault
from core.domain.errors import DomainError
from core.gate import row_scope

SHOWN = 20


class Command(BaseCommand):
    help = (
        "Check the hash chain of the audit trail and compare every record with its last entry. "
        "Prints what was checked and what was not, and every fault; exits with 1 where there is one."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--head", action="store_true", help="print the number and hash of the newest entry")
        parser.add_argument(
            "--expect",
            metavar="HEAD",
            help="a head printed earlier, or a file or folder of heads from send_audit_head; fails if one is no longer "
            "in the trail",
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

    def _verify(self, expected: str | None) -> None:
        faults = list(islice(verification.faults(), SHOWN))
        faults += [] if expected is None else self._missing(expected)
        for fault in faults:
            self.stderr.write(str(fault))
        if not faults:
            self.stdout.write(f"The audit trail is intact. Head: {verification.head()}")
        for line in coverage().lines():
            self.stdout.write(line)
        if faults:
            sys.exit(1)

    def _missing(self, expected: str) -> list[Fault]:
        """Return a fault for each expected head that is no longer in the trail."""
        removed = "is not in it: its newest entries were removed"
        path = Path(expected)
        if path.exists():
            return [
                Fault("audit trail", f"the head of {head.at} (entry {head.entry}) {removed}")
                for head in self._read(path)
                if not verification.contains(f"{head.entry} {head.hash}")
            ]
        try:
            return [] if verification.contains(expected) else [Fault("audit trail", f"the expected head {removed}")]
        except ValueError as problem:
            message = (
                "--expect takes what --head printed (a number and 64 hex digits, or the hex digits alone), "
                "or a file or folder that exists."
            )
            raise CommandError(message) from problem

    def _read(self, path: Path) -> list[SignedHead]:
        try:
            return list(read_heads(path))
        except (DomainError, OSError, UnicodeDecodeError) as problem:
            raise CommandError(str(problem)) from problem
