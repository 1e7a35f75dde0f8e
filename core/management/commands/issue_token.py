"""Print a new API token for a user."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.accounts.provisioning import token_issue
from core.domain.errors import DomainError
from core.gate.token_scopes import TokenScope


class Command(BaseCommand):
    help = "Create an API token for a user and print it. Only its hash is stored, so it cannot be shown again."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("user", help="user name of a lab or store account")
        parser.add_argument("--label", default="", help="what the token is for, shown in the lists of tokens")

        parser.add_argument(
            "--scope",
            choices=TokenScope.values,
            default=TokenScope.FULL,
            help="; ".join(f"{scope}: {scope.label}" for scope in TokenScope),
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            scope = TokenScope(options["scope"])
            self.stdout.write(token_issue(actor=None, username=options["user"], label=options["label"], scope=scope))
        except DomainError as problem:
            raise CommandError(problem.message) from problem
