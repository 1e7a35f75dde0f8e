"""How a score comes to be: rigs, specimens, bench tests, curves, results, review and publication."""

from __future__ import annotations

from django.apps import AppConfig


class LabtestsConfig(AppConfig):
    name = "labtests"

    def ready(self) -> None:
        from labtests import audit_words, permissions, standard  # noqa: F401  all register on import
        from labtests.presentation.scores import method as method_page  # noqa: F401  all register on import
        from labtests.selectors import first_steps  # noqa: F401  all register on import
        from labtests.selectors.bench import measured  # noqa: F401  all register on import
        from labtests.services import shoe_merges  # noqa: F401  all register on import
