"""The shared catalogue."""

from __future__ import annotations

from django.apps import AppConfig


class CatalogueConfig(AppConfig):
    name = "catalogue"

    def ready(self) -> None:
        from catalogue import audit_words, permissions, standard  # noqa: F401  all register on import
        from catalogue.selectors import first_steps  # noqa: F401  all register on import
        from catalogue.services.stock import stock_merging  # noqa: F401  all register on import
