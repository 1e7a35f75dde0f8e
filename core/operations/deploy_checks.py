"""What `check --deploy` says about settings that only a served practice needs."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.checks import CheckMessage, Tags, Warning, register


@register(Tags.security, deploy=True)
def links_lead_here(**kwargs: Any) -> list[CheckMessage]:
    """core.W002: links in e-mails and QR codes would not lead to this practice."""
    address = urlsplit(settings.SITE_URL)
    if address.scheme == "https" and address.hostname not in (None, "localhost", "127.0.0.1"):
        return []
    return [
        Warning(
            f"SITE_URL is {settings.SITE_URL!r}: links in e-mails and QR codes will not lead customers here.",
            hint="Set SITE_URL to the practice’s public address, for example https://shoes.example.org.",
            id="core.W002",
        )
    ]


@register(Tags.security, deploy=True)
def emails_have_a_sender(**kwargs: Any) -> list[CheckMessage]:
    """core.W003: e-mails would come from an address that does not exist."""
    if not settings.DEFAULT_FROM_EMAIL.rstrip(">").endswith(".invalid"):
        return []
    return [
        Warning(
            "DEFAULT_FROM_EMAIL is not set: mail servers will refuse the follow-ups.",
            hint="Set DEFAULT_FROM_EMAIL to an address of the practice that can receive replies.",
            id="core.W003",
        )
    ]
