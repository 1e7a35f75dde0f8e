"""`migrate`, run as the owner of the database, by one process at a time."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.core.management.commands.migrate import Command as Migrate

from core.database.migrating import naming_locked_tables, one_at_a_time
from core.database.roles import as_owner, prepare_application_role, require_owner, require_owner_address
from core.domain.errors import DomainError

LOCK_TIMEOUT_S = 10.0


class Command(Migrate):
    def add_arguments(self, parser: CommandParser) -> None:
        super().add_arguments(parser)
        parser.add_argument(
            "--lock-timeout",
            type=float,
            default=LOCK_TIMEOUT_S,
            metavar="SECONDS",
            help="how long a step waits for a table that is in use before it is undone; meanwhile others wait as well",
        )

    def execute(self, *args: Any, **options: Any) -> str | None:
        with as_owner(lock_timeout_s=options["lock_timeout"]):
            return super().execute(*args, **options)

    def handle(self, *args: Any, **options: Any) -> Any:
        try:
            require_owner_address()
            with one_at_a_time(), naming_locked_tables(options["lock_timeout"]):
                # Before the first migration, so that a missing right doesn't end a migration half-way.
                require_owner()
                prepare_application_role()
                return super().handle(*args, **options)
        except DomainError as problem:
            raise CommandError(problem.message) from problem
