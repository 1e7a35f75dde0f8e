"""The place where Django looks for a backend's wrapper of connections."""

from __future__ import annotations

from typing import Any

from django.db.backends.postgresql import base

from core.database import silence


class DatabaseWrapper(base.DatabaseWrapper):
    """Django's own, with a watch over each connection from its first statement on."""

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        silence.watch.refuse_while_silent(conn_params)
        opened = super().get_new_connection(conn_params)
        silence.watch.add(opened, conn_params)
        return opened
