"""Remove what is held on people of whom nothing was heard for longer than the retention period."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from core import row_scope
from fittings.services.privacy import retention_apply


class Command(BaseCommand):
    help = (
        "Withdraw for everybody whose last fitting or answer is older than HEALTH_DATA_RETENTION_MONTHS. "
        "Safe to run often and in several places; meant for a daily job."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        with row_scope.everything():
            removed = retention_apply(told=lambda customer: self.stdout.write(f"removed {customer}"))
        months = settings.HEALTH_DATA_RETENTION_MONTHS
        self.stdout.write(f"{removed} removed: nothing heard of them for {months} months.")
