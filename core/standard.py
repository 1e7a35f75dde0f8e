"""Data that every installation starts with: the scale, the protocol, the models, the rules.

Installed through the services after migrations (and after a flush) where it is missing, so that it has its audit
entries like anything a person enters.
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


def install() -> None:
    """Run the installers, in the order of the apps; do nothing while migrations are still to come."""
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        return
    with transaction.atomic():
        for installer in _installers:
            installer()
