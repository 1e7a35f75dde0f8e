"""Fittings and their follow-up."""

from __future__ import annotations

from django.apps import AppConfig


class FittingsConfig(AppConfig):
    name = "fittings"

    def ready(self) -> None:
        from catalogue.selectors.stock import cards_in_use, demand
        from fittings import audit_words, permissions, standard  # noqa: F401  all register on import
        from fittings.models import row_rules  # noqa: F401  all register on import
        from fittings.selectors import first_steps  # noqa: F401  all register on import
        from fittings.selectors.outcomes.demand import chosen_since, demand_for_store
        from fittings.selectors.people.notices import count_fittings

        demand.register_source(demand_for_store)
        demand.register_chosen(chosen_since)
        cards_in_use.register_fittings(count_fittings)
