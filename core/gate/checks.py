"""System check: every address declares who may use it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.core.checks import CheckMessage, Error, register
from django.urls import URLPattern, URLResolver, get_resolver

from core.gate.access import declared_action


def url_patterns(resolver: URLResolver | None = None, prefix: str = "") -> Iterator[tuple[str, URLPattern]]:
    """Yield every address of the project as (name with its namespaces, pattern)."""
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            namespace = f"{prefix}{entry.namespace}:" if entry.namespace else prefix
            yield from url_patterns(entry, namespace)
        else:
            yield f"{prefix}{entry.name}", entry


def methods_of(view: Any) -> list[str]:
    """Return the HTTP methods of a view; for a function GET is enough to look up its action."""
    holder = getattr(view, "cls", None) or getattr(view, "view_class", None)
    actions = getattr(view, "actions", None)
    if actions:
        return [method.upper() for method in actions]
    if holder is None:
        return ["GET"]
    return [name.upper() for name in holder.http_method_names if name != "options" and hasattr(holder, name)]


@register()
def every_address_declares(**kwargs: Any) -> list[CheckMessage]:
    """core.E001: an address does not declare who may use it (it would refuse everybody)."""
    return [
        Error(
            f"The address {name} ({method}) does not declare who may use it.",
            hint='Put @gate("app.noun:verb") on the view, or `permission` on an API view.',
            id="core.E001",
        )
        for name, pattern in url_patterns()
        for method in methods_of(pattern.callback)
        if declared_action(pattern.callback, method) is None
    ]
