"""The app that every other app builds on."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


def complete_migration(**kwargs: Any) -> None:
    """Give the application's role its rights; once all tables are there, add what guards them and the standard data."""
    from core.database.roles import grant_application_role
    from core.database.triggers import install_triggers
    from core.gate.row_scope import install_policies
    from core.standard import install, migrations_are_pending

    grant_application_role()
    if migrations_are_pending():
        return
    install_policies()
    install_triggers()
    install()


class CoreConfig(AppConfig):
    name = "core"

    def ready(self) -> None:
        from core import audit_words, permissions  # noqa: F401  all register on import
        from core.accounts import covering, first_steps, sessions  # noqa: F401  all register on import
        from core.gate import checks  # noqa: F401  all register on import
        from core.operations import deploy_checks  # noqa: F401  registers on import

        post_migrate.connect(complete_migration, sender=self, dispatch_uid="core.complete")
