"""From the links that uncertainty budgets hold to addresses of pages."""

from __future__ import annotations

from django.urls import reverse

# What a link begins with: the page's address by name, the name of its argument, and words for it.
_PAGES = {
    "check": ("labtests:check-detail", "code", "check shoe"),
    "gauge_study": ("labtests:study-detail", "pk", "gauge study"),
    "components": ("labtests:component-list", "", "variance components"),
}


def link_to(link: str) -> tuple[str, str] | None:
    """Words and address of what a budget's row links to ("check:rig-1"); None where it links to nothing known."""
    kind, _, key = link.partition(":")
    if kind not in _PAGES:
        return None
    page, argument, words = _PAGES[kind]
    return words, reverse(page, kwargs={argument: key} if argument else None)
