"""Remove the data of people who have not been seen or heard from for longer than the retention period."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from catalogue.services import reservation_notes_clear
from core.accounts.security_log import events_expire
from core.gate import row_scope
from fittings.services.fitting.draft import drafts_expire
from fittings.services.people.privacy import retention_apply
from fittings.services.people.requests import fitting_requests_expire


class Command(BaseCommand):
    help = (
        "Remove unfinished fittings that nobody touched for DRAFT_RETENTION_DAYS, empty requests for a fitting "
        "30 days after the day wished for, events of the security log after SECURITY_LOG_RETENTION_DAYS, and "
        "withdraw for everybody whose "
        "last fitting or answer is older than HEALTH_DATA_RETENTION_MONTHS. "
        "Safe to run often and in several places; meant for a daily job."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        with row_scope.everything():
            notes = reservation_notes_clear()
            requests = fitting_requests_expire()
            drafts = drafts_expire(report=lambda key: self.stdout.write(f"removed unfinished fitting {key}"))
            events = events_expire()
            removed = retention_apply(report=lambda customer: self.stdout.write(f"removed {customer}"))
        days = settings.DRAFT_RETENTION_DAYS
        self.stdout.write(f"{drafts} unfinished fittings removed: nobody touched them for {days} days.")
        months = settings.HEALTH_DATA_RETENTION_MONTHS
        self.stdout.write(f"{notes} notes on reservations removed: the reservations are over.")
        self.stdout.write(f"{requests} requests for a fitting emptied: their day is long over.")
        self.stdout.write(
            f"{events} events of the security log deleted: older than {settings.SECURITY_LOG_RETENTION_DAYS} days."
        )
        self.stdout.write(f"{removed} removed: nothing heard of them for {months} months.")
