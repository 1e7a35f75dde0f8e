"""The application that every other stands on."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


def complete_migration(**kwargs: Any) -> None:
    """Give the application's role its rights, put people's rows under security, install the standard data."""
    from core.database.roles import grant_application_role
    from core.gate.row_scope import install_policies
    from core.standard import install

    grant_application_role()
    install_policies()
    install()


class CoreConfig(AppConfig):
    name = "core"

    def ready(self) -> None:
        from core import audit_words, permissions  # noqa: F401  all register on import
        from core.accounts import sessions  # noqa: F401  all register on import
        from core.gate import checks  # noqa: F401  all register on import

        post_migrate.connect(complete_migration, sender=self, dispatch_uid="core.complete")
