"""Data that every installation starts with: the scale, the protocol, the models, the rules.

It is installed through the services after migrations where it is missing, so that it has audit entries like everything
a person enters.
"""

from __future__ import annotations

from collections.abc import Callable

from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor

Installer = Callable[[], None]
_installers: list[Installer] = []


def register_installer(installer: Installer) -> None:
    """Add a function that installs an app's standard data where it is missing."""
    if installer not in _installers:
        _installers.append(installer)


def migrations_are_pending() -> bool:
    """Return whether tables are still missing, as after `migrate` up to a named migration."""
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def install() -> None:
    """Run the installers, in the order of the apps."""
    with transaction.atomic():
        for installer in _installers:
            installer()
