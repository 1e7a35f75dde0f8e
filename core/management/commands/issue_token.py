"""Print a new API token for a user."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.accounts.provisioning import token_issue
from core.domain.errors import DomainError


class Command(BaseCommand):
    help = "Create an API token for a user and print it. Only its hash is stored, so it cannot be shown again."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("user", help="user name of a lab or store account")
        parser.add_argument("--label", default="", help="what the token is for, shown in the lists of tokens")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            self.stdout.write(token_issue(actor=None, username=options["user"], label=options["label"]))
        except DomainError as problem:
            raise CommandError(problem.message) from problem
