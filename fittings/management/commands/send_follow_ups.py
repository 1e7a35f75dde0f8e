"""Remind customers of follow-ups that are due."""

from __future__ import annotations

import smtplib
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.gate import row_scope
from fittings.models import FollowUp
from fittings.services import follow_up_reminders_send


class Command(BaseCommand):
    help = "E-mail customers whose follow-up is due, at most twice each. Safe to run often and in several places."

    def handle(self, *args: Any, **options: Any) -> None:
        put_off: list[FollowUp] = []
        try:
            with row_scope.everything():
                sent = follow_up_reminders_send(
                    report=lambda item: self.stdout.write(f"reminded of {item}"),
                    refused=lambda item: self.stdout.write(f"address refused, noted with {item}"),
                    put_off=put_off.append,
                )
        except (OSError, smtplib.SMTPException) as problem:
            # The one that failed stays unsent; what went before is marked as sent.
            raise CommandError(f"The mail server refused: {problem}. Run this again when it is back.") from problem
        for item in put_off:
            self.stdout.write(f"refused for the moment, stays due: {item}")
        if put_off and not sent:
            raise CommandError("The mail server refused every e-mail for the moment. Run this again later.")
        self.stdout.write(f"{sent} sent.")
